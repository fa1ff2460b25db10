/** Marks as painted: the computed ones are a tap each, and what was painted is kept whatever is computed later. */
import { useState } from "preact/hooks";
import type { MarkToPaint } from "../api/screens";
import type { Entry, Folded, Row } from "../fold/fold";
import { record, recordAll, useSetting, type Draft, type Fact } from "../journal";
import { isoLocal } from "../journal/fact";
import { Photos } from "../map/Photos";
import { Page } from "../parts/Page";
import { to } from "../router";
import { Now } from "./Now";
import { counted, when, type PartProps } from "./part";

export function Marks({ folded, seen, screen }: PartProps) {
  const { job, tables } = folded;
  const [name] = useSetting("name", "");
  const painted = [...(tables.marks?.values() ?? [])];
  const left = screen?.to_paint.filter(({ key }) => !tables.marks?.has(key)) ?? [];
  const lines = [...new Set(left.map(({ line }) => line))];
  const draft = ({ key, cells }: MarkToPaint): Draft => {
    const row = { ...cells, painted_at: isoLocal(new Date()), ...(name ? { by: name } : {}) };
    return { job, kind: "entry", payload: { table: "marks", key, rows: [row] } };
  };
  const said = new Map(screen?.painted.map((row) => [row.mark, row]));
  return (
    <Page title="Marks as painted" back={to("job", job, "handover")}>
      <p class="answer">
        {counted(painted.length, "mark")} painted{left.length > 0 && `, ${left.length} to paint or to write down`}.
      </p>
      <Now seen={seen} never="What is to be painted is told once the server is reached." />
      {lines.map((line) => {
        const mine = left.filter((mark) => mark.line === line);
        return (
          <section aria-label={`To paint on ${line}`}>
            <h2>
              {line}, in {mine[0]!.cells.colour}
            </h2>
            <ol class="plain rows">
              {mine.map((mark) => (
                <li class="split">
                  <p>
                    <strong>{mark.key}</strong> {mark.words}
                  </p>
                  <button type="button" aria-label={`${mark.key} is painted`} onClick={() => void record(draft(mark))}>
                    Painted
                  </button>
                </li>
              ))}
            </ol>
            {mine.length > 1 && (
              <button type="button" class="wide" onClick={() => void recordAll(mine.map(draft))}>
                All {mine.length} of {line} are painted
              </button>
            )}
          </section>
        );
      })}
      <h2>As painted</h2>
      {painted.length === 0 && <p>None is written down yet. Paint on the ground that nobody wrote down is no record.</p>}
      <ul class="plain rows">
        {painted.map((entry) => (
          <Painted folded={folded} entry={entry} words={said.get(entry.key)?.words ?? ""} />
        ))}
      </ul>
      <p class="quiet">Paint tells where a line is in plan, to within its band, and never how deep. Unmarked does not mean empty.</p>
    </Page>
  );
}

const STATES = ["stands", "faded", "repainted", "moved", "gone"];

function Painted({ folded, entry, words }: { folded: Folded; entry: Entry; words: string }) {
  const { job, tables } = folded;
  const [open, setOpen] = useState(false);
  const named = [...(tables.photos?.values() ?? [])].filter(({ rows }) => rows.some(({ mark }) => mark === entry.key));
  const row = entry.rows[0] ?? {};
  const state = row.state || "stands";
  const facts = [row.line, row.kind || "centre", state, row.painted_at && `painted ${when(row.painted_at)}`, row.by && `by ${row.by}`];
  const change = (next: string) => {
    const cells: Row = { ...row, state: next, state_at: isoLocal(new Date()) };
    const payload = { table: "marks", key: entry.key, rows: [cells, ...entry.rows.slice(1)] };
    void record({ job, kind: "entry", payload, supersedes: entry.fact?.id ?? null });
    setOpen(false);
  };
  const pictures = named.length + (row.photo ? 1 : 0);
  const { fact } = entry;
  const undo = ({ id }: Fact) => {
    void record({ job, kind: "remove", payload: {}, supersedes: id });
    setOpen(false);
  };
  return (
    <li>
      <div class="split">
        <p>
          <strong>{entry.key}</strong> {facts.filter(Boolean).join(", ")}.{pictures > 0 && ` ${counted(pictures, "photograph")}.`}
        </p>
        <button type="button" aria-expanded={open} aria-label={`Photograph or change ${entry.key}`} onClick={() => setOpen(!open)}>
          {open ? "Leave it" : "More"}
        </button>
      </div>
      {words && <p>{words}</p>}
      {open && <Photos site={{ job, folded }} of="mark" name={entry.key} />}
      {open && (
        <div class="choices" role="group" aria-label={`What became of ${entry.key}`}>
          {STATES.map((each) => (
            <button type="button" aria-pressed={state === each} onClick={() => change(each)}>
              {each[0]!.toUpperCase() + each.slice(1)}
            </button>
          ))}
          {fact && (
            <button type="button" onClick={() => undo(fact)}>
              {fact.supersedes ? "Undo the last change" : "Take it back: not painted"}
            </button>
          )}
        </div>
      )}
    </li>
  );
}
