/** The facts of a ticket as fields. What is left blank is not known, which is neither no nor never. */
import type { Json } from "../journal";
import { isoLocal, type Payload } from "../journal/fact";
import { fieldOf } from "../words/times";
import { Field } from "./Field";

export interface TicketForm {
  place: string;
  work: string;
  number: string;
  caller: string;
  white_lined: boolean | null;
  emergency: boolean | null;
  may_dig_from: string;
  due_at: string;
  expires_at: string;
}

const TEXTS = ["place", "work", "number", "caller"] as const;
const TIMES = ["may_dig_from", "due_at", "expires_at"] as const;
const FLAGS = ["white_lined", "emergency"] as const;

export const emptyTicket: TicketForm = formOf({});

/** A form with what is known already. */
export function formOf(keys: Record<string, Json>): TicketForm {
  const text = (name: string) => (typeof keys[name] === "string" ? keys[name] : "");
  const flag = (name: string) => (typeof keys[name] === "boolean" ? keys[name] : null);
  return {
    ...(Object.fromEntries(TEXTS.map((name) => [name, text(name)])) as Record<(typeof TEXTS)[number], string>),
    ...(Object.fromEntries(TIMES.map((name) => [name, fieldOf(text(name))])) as Record<(typeof TIMES)[number], string>),
    ...(Object.fromEntries(FLAGS.map((name) => [name, flag(name)])) as Record<(typeof FLAGS)[number], boolean | null>),
  };
}

/** The keys that a form changes; what was known and is blank now is set to null, not known. */
export function payloadOf(form: TicketForm, known: Record<string, Json>): Payload {
  const before = formOf(known);
  const keys: Payload = {};
  for (const name of TEXTS) if (form[name] !== before[name]) keys[name] = form[name].trim() || null;
  for (const name of FLAGS) if (form[name] !== before[name]) keys[name] = form[name];
  for (const name of TIMES) if (form[name] !== before[name]) keys[name] = form[name] ? isoLocal(new Date(form[name])) : null;
  return keys;
}

interface Props {
  value: TicketForm;
  change: (value: TicketForm) => void;
}

export function TicketFields({ value, change }: Props) {
  const set = (name: keyof TicketForm) => (held: string | boolean | null) => change({ ...value, [name]: held });
  return (
    <>
      <Field label="Where" value={value.place} change={set("place")} hint="Street and number, or how to find it" />
      <Field label="What will be dug" value={value.work} change={set("work")} />
      <Flag label="White lining seen" value={value.white_lined} change={set("white_lined")} />
      <Field label="May dig from" kind="datetime-local" value={value.may_dig_from} change={set("may_dig_from")} />
      <Field label="Owners answer by" kind="datetime-local" value={value.due_at} change={set("due_at")} />
      <Field label="Ticket runs out" kind="datetime-local" value={value.expires_at} change={set("expires_at")} />
      <Field label="Ticket number" value={value.number} change={set("number")} />
      <Field label="Who called it in" value={value.caller} change={set("caller")} />
      <Flag label="Emergency" value={value.emergency} change={set("emergency")} />
    </>
  );
}

function Flag({ label, value, change }: { label: string; value: boolean | null; change: (value: boolean | null) => void }) {
  const answers: [string, boolean | null][] = [["Yes", true], ["No", false], ["Not known", null]];
  return (
    <fieldset>
      <legend>{label}</legend>
      <div class="choices">
        {answers.map(([words, held]) => (
          <button type="button" aria-pressed={value === held} onClick={() => change(held)}>
            {words}
          </button>
        ))}
      </div>
    </fieldset>
  );
}
