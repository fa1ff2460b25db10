/** A reading from the side: where is it, from over here? `side/3` opens one that was saved. */
import { useState } from "preact/hooks";
import type { Draft } from "../journal";
import { NumberKeys } from "../parts/Keypad";
import { lengthOf, lengthText, middle, type Cells } from "../phone/cells";
import { go, to, type ScreenProps } from "../router";
import { Frame, Lengths, TakeBack } from "../sheets/Common";
import { ellipseOf } from "../sheets/ellipse";
import { EllipseDrawn } from "../sheets/EllipseDrawn";
import { entriesOf, lineDrafts, newKey, saveEntry, usualLine, useSheet, type Sheet } from "../sheets/job";
import { withLength, withNumber } from "../sheets/reading";
import { useSaved } from "../sheets/useSaved";
import { useServed } from "../sheets/served";
import { length, type Units } from "../words/lengths";

export default function SideScreen({ job, rest }: ScreenProps) {
  const sheet = useSheet(job);
  if (!sheet) return <p class="loading">…</p>;
  return <Side key={rest[0] ?? ""} job={job} sheet={sheet} asked={rest[0] ?? ""} />;
}

const COMPASS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"] as const;

function Side({ job, sheet, asked }: { job: string; sheet: Sheet; asked: string }) {
  const old = sheet.folded.tables.side_readings?.get(asked);
  const [key] = useState(asked || newKey(sheet, "side_readings"));
  const [cells, setCells] = useState<Cells>(old?.rows[0] ?? {});
  const [before, setBefore] = useState<Draft[]>([]);
  const [open, setOpen] = useState("distance");
  const line = cells.line ?? usualLine(sheet, "side_readings");
  const served = useServed(job, "side_readings", old ? key : "");
  const saved = useSaved(sheet, "side_readings", key, () => (asked ? scrollTo(0, 0) : location.replace(to("job", job, "side", key))));
  const save = async () => {
    const fact = await saveEntry(sheet, "side_readings", key, [{ line, ...cells }], [...lineDrafts(sheet, line), ...before]);
    saved(fact);
  };
  const field = (name: string, words: string) => ({ name, words, text: lengthText(cells, name), onText: (text: string) => setCells((now) => withLength(now, name, text)) });
  return (
    <Frame
      job={job}
      sheet={sheet}
      title={`From the side ${key}`}
      line={line}
      cells={cells}
      own={`F${key}`}
      before={before}
      canSave={Boolean(lengthText(cells, "distance") || lengthText(cells, "depth"))}
      onLine={(next) => setCells({ ...cells, line: next })}
      onPlace={(next, drafts) => (setCells(next), setBefore(drafts))}
      onSave={save}
    >
      {served.place && <p class="answer">{served.place.sentence}</p>}
      <Seen cells={cells} units={sheet.units} />
      <h2 class="question">Facing the line: how far off, how deep?</h2>
      <Lengths units={sheet.units} open={open} onOpen={setOpen} fields={[field("distance", "Distance shown, level"), field("depth", "Depth shown")]} />
      <h2>Which way did you face?</h2>
      <div class="choices">
        {COMPASS.map((words, k) => (
          <button type="button" aria-pressed={cells.toward_deg === String(45 * k)} onClick={() => setCells({ ...cells, toward_deg: String(45 * k) })}>
            {words}
          </button>
        ))}
      </div>
      <details>
        <summary>In degrees from grid north</summary>
        <NumberKeys label="Facing" unit="degrees" text={cells.toward_deg ?? ""} onText={(text) => setCells(withNumber(cells, "toward_deg", text))} />
      </details>
      <p class="quiet">Where you stand is the place of this reading. Hold the receiver plumb.</p>
      <TakeBack job={job} entry={entriesOf(sheet, "side_readings").find((each) => each.key === key)} after={() => go("job", job)} />
    </Frame>
  );
}

function Seen({ cells, units }: { cells: Cells; units: Units }) {
  const [distance, depth] = [lengthOf(cells, "distance"), lengthOf(cells, "depth")];
  if (!distance || !depth) return null;
  const at = ellipseOf(middle(distance), middle(depth));
  return (
    <section aria-live="polite">
      <EllipseDrawn at={at} units={units} />
      <p>
        A degree off plumb moves it {length(at.degreeDown, units)} up or down and {length(at.degreeAcross, units)} nearer or farther. The direction is much the better of the two; wet ground and other
        lines spoil both.
      </p>
    </section>
  );
}
