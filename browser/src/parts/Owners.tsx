/** Who has something in the ground here, and what became of each: an answer is one tap. */
import { useState } from "preact/hooks";
import type { Entry, Folded, Row } from "../fold/fold";
import { record } from "../journal";
import { isoLocal } from "../journal/fact";
import { asWritten } from "../words/times";
import { Field } from "./Field";

const ANSWERS = ["marked", "no conflict", "could not locate", "no access", "more time agreed", "standby", "not ours"];
const WITH_REASON = new Set(["could not locate", "no access", "more time agreed", "standby"]);
export const UTILITIES = [
  "electric", "lighting", "gas", "petroleum", "steam", "water", "fire", "irrigation", "reclaimed",
  "communications", "sewer", "storm", "unknown",
];

export function Owners({ folded }: { folded: Folded }) {
  const owners = [...(folded.tables.owners?.values() ?? [])];
  const [added, setAdded] = useState("");
  return (
    <section aria-labelledby="owners">
      <h2 id="owners">Owners</h2>
      {owners.length === 0 && <p>Nobody is written down yet. Every owner on the ticket needs an answer.</p>}
      <ul class="plain rows">
        {owners.flatMap((entry) =>
          entry.rows.map((row, at) => (
            <Owner key={`${entry.key}/${at}`} job={folded.job} entry={entry} row={row} at={at} asked={entry.key === added && !row.answer} />
          )),
        )}
      </ul>
      <AddOwner folded={folded} onAdded={setAdded} />
      <p class="quiet">
        Lines beyond the meter belong to the property. No owner marks them, so they are not covered unless somebody
        looks for them.
      </p>
    </section>
  );
}

interface OwnerProps {
  job: string;
  entry: Entry;
  row: Row;
  at: number;
  /** Whether its answer is asked for at once. */
  asked: boolean;
}

function Owner({ job, entry, row, at, asked }: OwnerProps) {
  const [open, setOpen] = useState<"" | "answer" | "why">(asked ? "answer" : "");
  const [why, setWhy] = useState(row.why ?? "");
  const name = [entry.key, row.utility && `(${row.utility})`].filter(Boolean).join(" ");
  const write = (cells: Row) => {
    const rows = entry.rows.map((held, i) => (i === at ? { ...held, ...cells } : held));
    return record({ job, kind: "entry", payload: { table: "owners", key: entry.key, rows }, supersedes: entry.fact?.id ?? null });
  };
  const answer = (given: string) => {
    setOpen(WITH_REASON.has(given) ? "why" : "");
    void write({ answer: given, answered_at: isoLocal(new Date()) });
  };
  const keepWhy = () => {
    setOpen("");
    if (why !== (row.why ?? "")) void write({ why });
  };
  return (
    <li>
      <div class="owner">
        <p>
          <strong>{name}</strong>: {[row.answer || "no answer yet", row.answer && row.why].filter(Boolean).join(": ")}
          {row.answer && row.answered_at && <span class="quiet">, {asWritten(row.answered_at, new Date())}</span>}
        </p>
        {open === "" && (
          <button type="button" onClick={() => setOpen("answer")} aria-label={`${row.answer ? "Change the answer" : "Answer"} of ${name}`}>
            {row.answer ? "Change" : "Answer"}
          </button>
        )}
      </div>
      {open === "answer" && (
        <div class="choices" role="group" aria-label={`Answer of ${name}`}>
          {ANSWERS.map((words) => (
            <button type="button" aria-pressed={row.answer === words} onClick={() => answer(words)}>
              {words[0]!.toUpperCase() + words.slice(1)}
            </button>
          ))}
        </div>
      )}
      {open === "why" && (
        <>
          <Field label="Why, or until when" value={why} change={setWhy} />
          <button type="button" onClick={keepWhy}>
            Keep the reason
          </button>
        </>
      )}
    </li>
  );
}

function AddOwner({ folded, onAdded }: { folded: Folded; onAdded: (owner: string) => void }) {
  const [name, setName] = useState<string | null>(null);
  if (name === null)
    return (
      <button type="button" onClick={() => setName("")}>
        Add an owner
      </button>
    );
  const add = (utility: string) => {
    const owner = name.trim() || `${utility} owner, name not known`;
    const before = folded.tables.owners?.get(owner);
    const rows = [...(before?.rows ?? []), { utility, answer: "" }];
    void record({
      job: folded.job,
      kind: "entry",
      payload: { table: "owners", key: owner, rows },
      supersedes: before?.fact?.id ?? null,
    });
    setName(null);
    onAdded(owner);
  };
  return (
    <div>
      <Field label="Name of the owner" value={name} change={setName} />
      <p>What do they have here?</p>
      <div class="choices">
        {UTILITIES.map((utility) => (
          <button type="button" onClick={() => add(utility)}>
            {utility}
          </button>
        ))}
      </div>
      <button type="button" onClick={() => setName(null)}>
        Do not add
      </button>
    </div>
  );
}
