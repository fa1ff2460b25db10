/** A test hole: was it there, how deep to its top, how thick, what did it prove? `hole/1` opens one that was saved. */
import { useState } from "preact/hooks";
import type { Draft } from "../journal";
import { lengthText, type Cells } from "../phone/cells";
import { go, type ScreenProps } from "../router";
import { Frame, Lengths, TakeBack } from "../sheets/Common";
import { entriesOf, lineDrafts, newKey, saveEntry, usualLine, useSheet, type Sheet } from "../sheets/job";
import { withLength, without } from "../sheets/reading";

export default function HoleScreen({ job, rest }: ScreenProps) {
  const sheet = useSheet(job);
  if (!sheet) return <p class="loading">…</p>;
  return <Hole key={rest[0] ?? ""} job={job} sheet={sheet} asked={rest[0] ?? ""} />;
}

const PROVED = ["it is the line", "another line", "root or rubble", "nothing seen"] as const;

function Hole({ job, sheet, asked }: { job: string; sheet: Sheet; asked: string }) {
  const old = sheet.folded.tables.test_holes?.get(asked);
  const [key] = useState(asked || newKey(sheet, "test_holes"));
  const [cells, setCells] = useState<Cells>(old?.rows[0] ?? {});
  const [before, setBefore] = useState<Draft[]>([]);
  const found = cells.found ?? (old ? "yes" : undefined); // a blank of a file is a yes
  const [open, setOpen] = useState("depth_to_top");
  const line = cells.line ?? usualLine(sheet, "readings");
  const save = async () => {
    await saveEntry(sheet, "test_holes", key, [{ line, ...cells }], [...lineDrafts(sheet, line), ...before]);
    go("job", job);
  };
  const answer = (yes: boolean) => {
    const kept = yes ? without(cells, "dug_to") : without(without(cells, "depth_to_top"), "outside_diameter");
    setCells({ ...kept, found: yes ? "yes" : "no" });
    setOpen(yes ? "depth_to_top" : "dug_to");
  };
  const field = (name: string, words: string) => ({ name, words, text: lengthText(cells, name), onText: (text: string) => setCells((now) => withLength(now, name, text)) });
  const fields =
    found === "yes"
      ? [field("depth_to_top", "From the ground to the top of it"), field("outside_diameter", "How thick it is")]
      : [field("dug_to", "How deep the hole went")];
  return (
    <Frame
      job={job}
      sheet={sheet}
      title={`Test hole ${key}`}
      line={line}
      cells={cells}
      own={`H${key}`}
      before={before}
      canSave={found !== undefined}
      onLine={(next) => setCells({ ...cells, line: next })}
      onPlace={(next, drafts) => (setCells(next), setBefore(drafts))}
      onSave={save}
    >
      <h2 class="question">Did you see it in the hole?</h2>
      <div class="side-by-side">
        {[true, false].map((yes) => (
          <button type="button" aria-pressed={found === (yes ? "yes" : "no")} onClick={() => answer(yes)}>
            {yes ? "Yes, seen" : "No, not there"}
          </button>
        ))}
      </div>
      {found === "no" && <p>Not there as deep as the hole went says nothing of beside or below it.</p>}
      {found && <Lengths units={sheet.units} open={open} onOpen={setOpen} fields={fields} />}
      {found && (
        <>
          <h2>What did it prove to be?</h2>
          <div class="choices">
            {PROVED.map((words) => (
              <button type="button" aria-pressed={cells.proved === words} onClick={() => setCells({ ...cells, proved: words })}>
                {words}
              </button>
            ))}
          </div>
          <label class="field">
            <span>In your words</span>
            <input type="text" value={cells.proved ?? ""} onInput={(e) => setCells({ ...cells, proved: e.currentTarget.value })} />
          </label>
        </>
      )}
      <TakeBack job={job} entry={entriesOf(sheet, "test_holes").find((each) => each.key === key)} after={() => go("job", job)} />
    </Frame>
  );
}
