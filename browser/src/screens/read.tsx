/** The reading sheet: can I mark here? `read` begins a reading, `read/7` shows one, `read/7/raise` asks one thing of it. */
import "../sheets/sheets.css";
import { useEffect, useState } from "preact/hooks";
import { record, type Draft } from "../journal";
import { Page } from "../parts/Page";
import type { Cells } from "../phone/cells";
import { phoneTable } from "../phone/table";
import { go, to, type ScreenProps } from "../router";
import { begun, keepBegun } from "../sheets/draft";
import { lineDrafts, newKey, saveEntry, usualLine, useSheet, type Sheet } from "../sheets/job";
import { LineQuestion } from "../sheets/LineQuestion";
import { PlaceQuestion } from "../sheets/PlaceQuestion";
import { placeShort } from "../sheets/place";
import { Asked } from "../sheets/Questions";
import { ACTION_OF, after, checkedHere, first, goingOn, summary, type Question } from "../sheets/reading";
import { useSaved } from "../sheets/useSaved";
import { Result } from "../sheets/Result";
import { isoLocal } from "../journal/fact";
import { asWritten } from "../words/times";

const QUESTIONS: readonly string[] = ["null", "side", "depth", "raise", "current", "halves", "bearing", "place", "line", "time", "note"];

const IN_TURN: readonly Question[] = ["null", "side", "depth", "raise", "current", "end"];

export default function Read({ job, rest }: ScreenProps) {
  const sheet = useSheet(job);
  useEffect(() => void phoneTable(), []); // there before the first answer is wanted
  const [key = "", question = ""] = rest;
  if (!sheet) return <p class="loading">…</p>;
  const entry = key ? sheet.folded.tables.readings?.get(key) : undefined;
  if (key && !entry)
    return (
      <Page title={`Reading ${key}`} back={to("job", job)}>
        <p class="answer">There is no reading {key} on this phone.</p>
      </Page>
    );
  if (entry && !QUESTIONS.includes(question)) return <Result key={key} job={job} sheet={sheet} entry={entry} />;
  const one = entry ? (question as Question) : null;
  return <Sheets key={rest.join("/")} job={job} sheet={sheet} known={entry ? { key, cells: entry.rows[0] ?? {} } : null} one={one} />;
}

interface SheetsProps {
  job: string;
  sheet: Sheet;
  /** The reading to be corrected; null for a new one. */
  known: { key: string; cells: Cells } | null;
  /** The one question that was opened; null to ask them in turn. */
  one: Question | null;
}

function Sheets({ job, sheet, known, one }: SheetsProps) {
  const [kept, setKept] = useState(() => (known ? null : begun(job, "read")));
  const [cells, setCells] = useState<Cells>(known?.cells ?? kept?.cells ?? {});
  const [asked, setAsked] = useState<Question>(one ?? goingOn(cells, sheet.folded.cannot));
  // the question that was left to open another one, to go back to
  const [left, setLeft] = useState<Question | null>(null);
  const [before, setBefore] = useState<Draft[]>(kept?.before ?? []);
  const [busy, setBusy] = useState(false);
  const [key] = useState(known?.key ?? newKey(sheet, "readings"));
  const line = cells.line ?? usualLine(sheet, "readings");
  const saved = useSaved(sheet, "readings", key, () => location.replace(sheet.folded.frozen ? to("job", job) : to("job", job, "read", key)));
  useEffect(() => {
    scrollTo(0, 0);
    document.querySelector<HTMLElement>(".question")?.focus({ preventScroll: true }); // read out, one at a time
  }, [asked]);
  const save = async (row: Cells) => {
    if (busy) return;
    setBusy(true);
    const full = { line, ...row, taken_at: row.taken_at || isoLocal(new Date()) };
    const fact = await saveEntry(sheet, "readings", key, [full], [...lineDrafts(sheet, full.line), ...before]);
    keepBegun(job, "read", {}, "");
    saved(fact);
  };
  const answer = (next: Cells, done: boolean, drafts = before) => {
    setCells(next);
    setBefore(drafts);
    if (!known) keepBegun(job, "read", next, isoLocal(new Date()), drafts);
    if (!done) return;
    if (known && asked === "null" && after("null", next, new Set()) === "side") setAsked("side");
    else if (known) void save(next);
    else goOn(next);
  };
  const goOn = (now: Cells) => {
    setAsked(left ?? after(asked, now, sheet.folded.cannot));
    setLeft(null);
  };
  const open = (question: Question) => {
    if (IN_TURN.includes(asked)) setLeft(asked);
    setAsked(question);
  };
  const skip = () => (known ? go("job", job, "read", key) : goOn(cells));
  const cannot = async (action: string) => {
    skip(); // at once: a second tap in gloves belongs to the next question
    await record({ job, kind: "cannot", payload: { actions: [action] } });
  };
  const afresh = () => {
    keepBegun(job, "read", {}, "");
    setKept(null);
    setCells({});
    setBefore([]);
    setAsked(first(sheet.folded.cannot));
  };
  const fresh = !known && asked === "null" && !cells.null_offset;
  const anything = Object.keys(cells).length > 0;
  const action = ACTION_OF[asked];
  return (
    <Page title={`Reading ${key}, line ${line}`} back={known ? to("job", job, "read", key) : to("job", job)} foot={<Foot {...{ fresh, anything, busy }} onSave={() => void save(cells)} onChecked={() => void save({ ...cells, ...checkedHere(sheet.units) })} onNext={skip} moreToAsk={!known && asked !== "end"} />}>
      <div class="sheet">
        {kept && !known && (
          <div class="asked">
            <p>Begun at {kept.at.slice(11, 16)} and not saved.</p>
            <button type="button" class="wide" onClick={afresh}>
              Start afresh
            </button>
          </div>
        )}
        {asked === "line" ? (
          <LineQuestion sheet={sheet} line={line} onLine={(next) => answer({ ...cells, line: next }, true)} />
        ) : asked === "place" ? (
          <PlaceQuestion sheet={sheet} cells={cells} own={`R${key}`} before={before} onPlace={(next, drafts, done) => answer(next, done, drafts)} />
        ) : (
          <Asked key={asked} question={asked} cells={cells} units={sheet.units} onAnswer={answer} />
        )}
        {asked === "end" && <h2 class="question" tabIndex={-1}>Save this reading?</h2>}
        {action && asked !== "end" && (
          <div class={fresh ? "side-by-side after" : "after"}>
            {fresh && (
              <button type="button" class="quiet-button" onClick={skip}>
                Skip
              </button>
            )}
            <button type="button" class="wide quiet-button" onClick={() => void cannot(action)}>
              Can't do, don't ask again
            </button>
          </div>
        )}
        {!known && <TakenSoFar cells={cells} sheet={sheet} line={line} open={open} />}
      </div>
    </Page>
  );
}

interface FootProps {
  fresh: boolean;
  anything: boolean;
  busy: boolean;
  moreToAsk: boolean;
  onSave: () => void;
  onChecked: () => void;
  onNext: () => void;
}

function Foot({ fresh, anything, busy, moreToAsk, onSave, onChecked, onNext }: FootProps) {
  return (
    <div class={!fresh && moreToAsk && anything ? "sheet side-by-side" : "sheet stack"}>
      {fresh && (
        <button type="button" class="main wide" disabled={busy} onClick={onChecked}>
          Checked here: peak and null in the same place
        </button>
      )}
      {!fresh && moreToAsk && (
        <button type="button" class="wide" onClick={onNext}>
          Next question
        </button>
      )}
      {anything && (
        <button type="button" class={fresh ? "wide" : "main wide"} disabled={busy} onClick={onSave}>
          Save
        </button>
      )}
    </div>
  );
}

/** What was answered so far, each a button back to its question; line and place can be said at any time. */
function TakenSoFar({ cells, sheet, line, open }: { cells: Cells; sheet: Sheet; line: string; open: (question: Question) => void }) {
  const words = sheet.lines.find((each) => each.key === line)?.words ?? `${line}, utility not said`;
  return (
    <div class="taken">
      <button type="button" onClick={() => open("line")}>
        {words}
      </button>
      <button type="button" onClick={() => open("place")}>
        {placeShort(cells) || "place not said"}
      </button>
      {summary(cells, sheet.units).map((row) => (
        <button type="button" onClick={() => open(row.question)}>
          {row.words}
        </button>
      ))}
      {Object.keys(cells).length > 0 && (
        <button type="button" onClick={() => open("time")}>
          {cells.taken_at ? `read ${asWritten(cells.taken_at, new Date())}` : "read now"}
        </button>
      )}
    </div>
  );
}
