/** A reading that was saved: the sentence, what is asked about it, the next step, and what can be corrected. */
import { useEffect, useState } from "preact/hooks";
import { Page } from "../parts/Page";
import { Sentence } from "../parts/Sentence";
import { record } from "../journal";
import type { Entry } from "../fold/fold";
import type { Cells } from "../phone/cells";
import { said, type Action, type Said } from "../phone/sentence";
import { neighbours, slipOf } from "../phone/slips";
import { phoneTable, type Table } from "../phone/table";
import { go, to } from "../router";
import { asWritten } from "../words/times";
import { entriesOf, situationOf, type Sheet } from "./job";
import { placeShort } from "./place";
import { summary, type Question } from "./reading";
import { saidOf, useServed } from "./served";

const OPENS: Partial<Record<Action, string>> = { depth: "depth", null: "null", raise: "raise", "half points": "halves" };
const BUTTON: Partial<Record<Action, string>> = {
  depth: "Read the depth",
  null: "Find the null",
  raise: "Set it on a block",
  "half points": "Find the half points",
  "walk across": "Walk across here",
  "test hole": "Write down a test hole",
};

interface ResultProps {
  job: string;
  sheet: Sheet;
  entry: Entry;
}

export function Result({ job, sheet, entry }: ResultProps) {
  const cells: Cells = entry.rows[0] ?? {};
  const here = useOwn(sheet, entry.key, cells);
  const served = useServed(job, "readings", entry.key);
  const shown = served.place ? saidOf(served.place) : here;
  if (!shown) return <p class="loading">…</p>;
  const back = to("job", job);
  const next = served.place?.next_step ?? nextOf(entry.key, shown);
  const told = served.place ? `${served.expiry}` : `This reading alone, worked out on this phone. ${served.state}`;
  return (
    <Page title={`Reading ${entry.key}`} back={back} foot={<Foot job={job} next={next} />}>
      <div class="sheet">
        <SlipBox job={job} sheet={sheet} entry={entry} served={served.questions} unlikely={shown.unlikely} />
        <Sentence said={shown} units={sheet.units} from={told.trim()} />
        <Taken job={job} sheet={sheet} entry={entry} cells={cells} />
      </div>
    </Page>
  );
}

/** What this phone says by itself, at once. */
function useOwn(sheet: Sheet, key: string, cells: Cells): Said | null {
  const [table, setTable] = useState<Table | null>(null);
  useEffect(() => void phoneTable().then(setTable), []);
  const line = cells.line ?? "";
  const walked = entriesOf(sheet, "profiles").some((each) => each.key === key && each.rows[0]?.line === line);
  return table && said(table, cells, situationOf(sheet, line), walked ? ["walk across"] : []);
}

function nextOf(key: string, shown: Said): { words: string; route: string } | null {
  const { action } = shown.next;
  const words = BUTTON[action];
  if (!words) return null;
  if (action === "walk across") return { words, route: `walk/${key}` };
  return { words, route: action === "test hole" ? "hole" : `read/${key}/${OPENS[action]}` };
}

function Foot({ job, next }: { job: string; next: { words: string; route: string } | null }) {
  const another = (
    <a class={next ? "button wide" : "button main wide"} href={to("job", job, "read")}>
      Next reading
    </a>
  );
  return (
    <div class="sheet side-by-side">
      {next && (
        <a class="button main wide" href={`${to("job", job)}/${next.route}`}>
          {next.words.replace(/ at reading [^ ]+$/, "")}
        </a>
      )}
      {another}
    </div>
  );
}

interface SlipProps extends ResultProps {
  served: readonly { id: string; words: string; choices: readonly { answer: string; words: string; route: string }[] }[];
  unlikely: boolean;
}

/** A value that does not fit is asked about, both answers one tap away; nothing waits for it. */
function SlipBox({ job, sheet, entry, served, unlikely }: SlipProps) {
  const cells: Cells = entry.rows[0] ?? {};
  const same = entriesOf(sheet, "readings")
    .filter((each) => each.rows[0]?.line === cells.line)
    .map((each) => ({ key: each.key, cells: each.rows[0] ?? {} }));
  // what was to be corrected and still does not fit is asked again
  const settled = new Set([...sheet.folded.settled].filter(([, answer]) => answer === "kept").map(([question]) => question));
  const slip = slipOf(entry.key, cells, neighbours(same, entry.key), settled, sheet.units);
  const settle = (question: string, answer: string, route: string) => {
    void record({ job, kind: "settled", payload: { question, answer } });
    if (route) location.hash = `${to("job", job)}/${route}`;
  };
  const asked = served.filter((each) => !settled.has(each.id)).map((each) => ({ ...each, question: each.id }));
  if (slip && !asked.some((each) => each.question === slip.question)) {
    const opens = slip.column === "current_ma" ? "current" : "depth";
    asked.push({ id: slip.question, question: slip.question, words: slip.words, choices: ownChoices(entry.key, opens) });
  }
  const together = `slip:${entry.key}:together`;
  if (unlikely && !settled.has(together)) {
    const retake = summary(cells, sheet.units).map((row) => ({ answer: "corrected", words: `Read again: ${row.words}`, route: `read/${entry.key}/${row.question}` }));
    const words = "These numbers hardly ever go together. A slip in one of them?";
    asked.push({ id: together, question: together, words, choices: [{ answer: "kept", words: "All as I read them", route: "" }, ...retake] });
  }
  return (
    <>
      {asked.map((each) => (
        <div class="asked" role="group" aria-label="Asked">
          <p>{each.words}</p>
          <div class="choice-list">
            {each.choices.map((choice) => (
              <button type="button" onClick={() => settle(each.question, choice.answer, choice.route)}>
                {choice.words}
              </button>
            ))}
          </div>
        </div>
      ))}
    </>
  );
}

const ownChoices = (key: string, opens: string) => [
  { answer: "kept", words: "It is as I read it", route: "" },
  { answer: "corrected", words: "Correct it", route: `read/${key}/${opens}` },
];

/** Everything that was typed, each a button that opens its question again; and taking the last change back. */
function Taken({ job, sheet, entry, cells }: ResultProps & { cells: Cells }) {
  const open = (question: Question | string) => go("job", job, "read", entry.key, question);
  const line = sheet.lines.find((each) => each.key === cells.line)?.words ?? cells.line ?? "line not said";
  const others: [string, string][] = [
    ["line", `line ${line}`],
    ["place", placeShort(cells) || "place not said"],
    ["depth", "depth"],
    ["raise", "raise"],
    ["current", "current"],
    ["halves", "half points"],
    ["bearing", "bearing"],
    ["time", cells.taken_at ? `read ${asWritten(cells.taken_at, new Date())}` : "time"],
    ["note", cells.note ? `note: ${cells.note}` : "note"],
  ];
  const taken = summary(cells, sheet.units);
  const missing = others.filter(([question]) => !taken.some((row) => row.question === question));
  const undo = async () => {
    const fact = entry.fact;
    if (!fact) return;
    await record({ job, kind: "remove", payload: {}, supersedes: fact.id });
    if (!fact.supersedes) go("job", job);
  };
  return (
    <section aria-label="What was taken">
      <h2>Taken here; tap to correct or add</h2>
      <div class="taken">
        {taken.map((row) => (
          <button type="button" onClick={() => open(row.question)}>
            {row.words}
          </button>
        ))}
        {missing.map(([question, words]) => (
          <button type="button" class="quiet" onClick={() => open(question)}>
            {words}
          </button>
        ))}
      </div>
      {entry.fact && (
        <button type="button" class="wide quiet-button" onClick={() => void undo()}>
          {entry.fact.supersedes ? "Undo the last change" : "Take this reading back"}
        </button>
      )}
    </section>
  );
}
