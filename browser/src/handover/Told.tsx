/** Who was told what, how and when: the words others will ask for. */
import { useState } from "preact/hooks";
import { record } from "../journal";
import { Field } from "../parts/Field";
import { Page } from "../parts/Page";
import { to } from "../router";
import { counted, when, type PartProps } from "./part";

const HOW = ["in person", "by phone", "by message", "on paper"];
const WHAT = ["where the marks are", "which owners did not answer", "what is unproven", "that depths are estimates", "the report"];

export function Told({ folded, screen }: PartProps) {
  const { job, told, tables, keys } = folded;
  const [who, setWho] = useState("");
  const [how, setHow] = useState("");
  const [what, setWhat] = useState<string[]>([]);
  const [more, setMore] = useState("");
  const caller = typeof keys.ticket.caller === "string" ? keys.ticket.caller : "";
  const people = [...new Set(["the excavator", "the next crew", "the owner of the ground", caller, ...(tables.owners?.keys() ?? [])])];
  const all = [...what, more.trim()].filter(Boolean).join("; ");
  const save = async () => {
    await record({ job, kind: "told", payload: { who: who.trim(), how, what: all } });
    setWho("");
    setHow("");
    setWhat([]);
    setMore("");
    scrollTo(0, 0);
  };
  const toggle = (words: string) => setWhat(what.includes(words) ? what.filter((each) => each !== words) : [...what, words]);
  const lacks = [!who.trim() && "who", !how && "how", !all && "what"].filter(Boolean).join(", ");
  return (
    <Page
      title="Who was told"
      back={to("job", job, "handover")}
      foot={
        <button type="button" class="main wide" disabled={lacks !== ""} onClick={() => void save()}>
          {lacks ? `Still to say: ${lacks}` : "Write it down"}
        </button>
      }
    >
      <p class="answer">{told.length === 0 ? "Nobody is written down as told." : `Told ${counted(told.length, "time")}.`}</p>
      <ul class="plain rows">
        {[...told].reverse().map((fact) => (
          <li class="split">
            <p>
              <strong>{String(fact.payload.who)}</strong>, {String(fact.payload.how)}, {when(fact.at)}
              {fact.by && ` by ${fact.by}`}: {String(fact.payload.what)}.
            </p>
            {!folded.frozen && (
              <button
                type="button"
                aria-label={`Take back that ${String(fact.payload.who)} was told`}
                onClick={() => void record({ job, kind: "remove", payload: {}, supersedes: fact.id })}
              >
                Take back
              </button>
            )}
          </li>
        ))}
      </ul>
      {screen && screen.open.length > 0 && (
        <details>
          <summary>What they have to know stays open ({screen.open.length})</summary>
          <ul>
            {screen.open.map((words) => (
              <li>{words}</li>
            ))}
          </ul>
        </details>
      )}
      <Picks label="Who?" answers={people.filter(Boolean)} chosen={[who]} pick={setWho} />
      <Field label="Somebody else, by name" value={who} change={setWho} />
      <Picks label="How?" answers={HOW} chosen={[how]} pick={setHow} />
      <Picks label="What?" answers={WHAT} chosen={what} pick={toggle} />
      <Field label="And in your words" value={more} change={setMore} />
    </Page>
  );
}

function Picks(props: { label: string; answers: string[]; chosen: string[]; pick: (words: string) => void }) {
  return (
    <fieldset>
      <legend>
        <h2>{props.label}</h2>
      </legend>
      <div class="choices">
        {props.answers.map((words) => (
          <button type="button" aria-pressed={props.chosen.includes(words)} onClick={() => props.pick(words)}>
            {words[0]!.toUpperCase() + words.slice(1)}
          </button>
        ))}
      </div>
    </fieldset>
  );
}
