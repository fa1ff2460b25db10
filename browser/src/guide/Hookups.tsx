/** How each line was hooked up, and at what frequency: two taps a line. */
import { useState } from "preact/hooks";
import type { Folded, Item } from "../fold/fold";
import { record } from "../journal";
import { Field } from "../parts/Field";
import { UTILITIES } from "../parts/Owners";
import { FIRST_LINE } from "../sheets/job";
import { hertzOf, hertzWords } from "../words/hertz";

const HOOKUPS = ["direct", "clamp", "induction", "passive"] as const;
const WORDS: Record<string, string> = { direct: "Connected to it", clamp: "Clamp", induction: "Induction", passive: "Passive, nothing sent" };
const SENT = ["500", "1000", "3000", "10000", "33000", "80000"];
const MAINS = ["50", "60"];

export function Hookups({ folded }: { folded: Folded }) {
  const lines = [...(folded.items.lines?.values() ?? [])].filter(({ keys }) => keys.signal !== "sonde");
  const setups = [...(folded.items.setups?.values() ?? [])];
  return (
    <section aria-labelledby="hookups">
      <h2 id="hookups">How each line was hooked up</h2>
      {lines.length === 0 && (
        <>
          <p>No line is written down yet. What do you trace?</p>
          <div class="choices" role="group" aria-label="What do you trace?">
            {UTILITIES.map((utility) => (
              <button type="button" onClick={() => void record({ job: folded.job, kind: "item", payload: { table: "lines", key: FIRST_LINE, keys: { utility } } })}>
                {utility === "unknown" ? "not known" : utility}
              </button>
            ))}
          </div>
        </>
      )}
      {lines.map((line) => {
        const own = setups.filter(({ keys }) => keys.line === line.key);
        return own.length > 0 ? (
          <p>
            <strong>{line.key}</strong>: {[...new Set(own.map(({ keys }) => said(keys.hookup, keys.frequency_hz)))].join("; ")}
          </p>
        ) : (
          <Line job={folded.job} line={line} />
        );
      })}
    </section>
  );
}

function Line({ job, line: { key, keys } }: { job: string; line: Item }) {
  const [open, setOpen] = useState(false);
  const [other, setOther] = useState("");
  const { hookup, frequency_hz: frequency } = keys;
  const set = (keys: Record<string, string>) => record({ job, kind: "item", payload: { table: "lines", key, keys } });
  const listed = hookup === "passive" ? MAINS : SENT;
  const typed = hertzOf(other);
  if (hookup && frequency && !open)
    return (
      <p>
        <strong>{key}</strong>: {said(hookup, frequency)}{" "}
        <button type="button" onClick={() => setOpen(true)} aria-label={`Change how ${key} was hooked up`}>
          Change
        </button>
      </p>
    );
  const frequencyIs = (hertz: string) => void set({ frequency_hz: hertz }).then(() => setOpen(false));
  return (
    <div class="notice">
      <p>
        <strong>{key}</strong>: {said(hookup, frequency)}
      </p>
      <div class="choices" role="group" aria-label={`How ${key} was hooked up`}>
        {HOOKUPS.map((each) => (
          <button type="button" aria-pressed={hookup === each} onClick={() => void set({ hookup: each })}>
            {WORDS[each]}
          </button>
        ))}
      </div>
      <div class="choices" role="group" aria-label={`Frequency on ${key}`}>
        {listed.map((hertz) => (
          <button type="button" aria-pressed={frequency === hertz} onClick={() => frequencyIs(hertz)}>
            {hertzWords(hertz)}
          </button>
        ))}
      </div>
      <Field label="Another frequency" value={other} change={setOther} hint="With its unit: 8 kHz, 640 Hz" />
      {typed && (
        <button type="button" onClick={() => frequencyIs(typed)}>
          It was {hertzWords(typed)}
        </button>
      )}
    </div>
  );
}

function said(hookup: unknown, frequency: unknown): string {
  const how = typeof hookup === "string" && hookup ? (WORDS[hookup] ?? hookup).toLowerCase() : "how is not written down";
  const at = typeof frequency === "string" && frequency ? hertzWords(frequency) : "frequency not written down";
  return `${how}, ${at}`;
}
