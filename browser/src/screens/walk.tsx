/** A walk square across the line: one line or two? `walk/7` is at reading 7; half-signal points, or point by point. */
import { useState } from "preact/hooks";
import type { Draft } from "../journal";
import { LengthKeys, NumberKeys } from "../parts/Keypad";
import { lengthOf, lengthText, middle, numberOf, type Cells } from "../phone/cells";
import { go, type ScreenProps } from "../router";
import { Frame, Lengths, TakeBack } from "../sheets/Common";
import { Curve } from "../sheets/CurveDrawn";
import { enough, fitCurve, FEWEST, type Enough, type Point } from "../sheets/curve";
import { entriesOf, lineDrafts, newKey, saveEntry, usualLine, useSheet, type Sheet } from "../sheets/job";
import { placeOfWalk, walkPlaced } from "../sheets/place";
import { toTheLeft, withLength } from "../sheets/reading";
import { cell, length, paint, parseLength, type Units } from "../words/lengths";

export default function WalkScreen({ job, rest }: ScreenProps) {
  const sheet = useSheet(job);
  if (!sheet) return <p class="loading">…</p>;
  return <Walk key={rest[0] ?? ""} job={job} sheet={sheet} asked={rest[0] ?? ""} />;
}

function Walk({ job, sheet, asked }: { job: string; sheet: Sheet; asked: string }) {
  const reading = asked ? sheet.folded.tables.readings?.get(asked) : undefined;
  const old = asked ? sheet.folded.tables.profiles?.get(asked) : undefined;
  const [key] = useState(asked || `W${newKey(sheet, "profiles")}`); // one with the key of a reading is at that reading
  const [line, setLine] = useState(reading?.rows[0]?.line ?? old?.rows[0]?.line ?? usualLine(sheet, "readings"));
  const [place, setPlace] = useState<Cells>(() => placeOfWalk(old?.rows[0] ?? {}));
  const [before, setBefore] = useState<Draft[]>([]);
  const [points, setPoints] = useState<readonly Cells[]>(old?.rows ?? []);
  const [halves, setHalves] = useState<Cells>(reading?.rows[0] ?? {});
  const [byPoints, setByPoints] = useState(points.length > 0 || !reading);
  const save = async () => {
    const lines = lineDrafts(sheet, line);
    if (!byPoints && reading) await saveEntry(sheet, "readings", key, [halves], lines);
    else await saveEntry(sheet, "profiles", key, points.map((row) => walkPlaced({ line, ...row }, place)), [...lines, ...before]);
    if (reading) go("job", job, "read", key);
    else go("job", job);
  };
  return (
    <Frame
      job={job}
      sheet={sheet}
      title={`Walk across ${key}`}
      line={line}
      cells={place}
      own={`W${key}`}
      before={before}
      placed={reading ? `at reading ${key}` : ""}
      canSave={byPoints ? points.length > 0 : Boolean(halves.half_left || halves.half_right)}
      onLine={setLine}
      onPlace={(cells, drafts) => (setPlace(cells), setBefore(drafts))}
      onSave={save}
    >
      <h2 class="question">{byPoints ? "How strong is it, and where?" : "Where is it half as strong?"}</h2>
      {reading && (
        <div class="side-by-side">
          <button type="button" aria-pressed={!byPoints} onClick={() => setByPoints(false)}>
            Two half points
          </button>
          <button type="button" aria-pressed={byPoints} onClick={() => setByPoints(true)}>
            Point by point
          </button>
        </div>
      )}
      {byPoints ? <Points points={points} units={sheet.units} onPoints={setPoints} /> : <Halves cells={halves} units={sheet.units} onCells={setHalves} />}
      <TakeBack job={job} entry={entriesOf(sheet, "profiles").find((each) => each.key === key)} after={() => go("job", job)} />
    </Frame>
  );
}

/** A further row of the walk: what its rows repeat, such as a place, and the new point. */
function further(last: Cells | undefined, offset: string, horizontal: string): Cells {
  const own = /^(offset|height)(_(m|ft|in|cm|mm))?$|^(horizontal|vertical)$/;
  const repeated = Object.entries(last ?? {}).filter(([name]) => !own.test(name));
  return { ...Object.fromEntries(repeated), offset, horizontal };
}

function Halves({ cells, units, onCells }: { cells: Cells; units: Units; onCells: (cells: Cells) => void }) {
  const [open, setOpen] = useState("half_left");
  const field = (name: string, words: string) => ({ name, words, text: cells[name] ?? "", onText: (text: string) => onCells(withLength(cells, name, text)) });
  const [left, right] = ["half_left", "half_right"].map((name) => lengthOf(cells, name));
  const uneven = left && right && Math.abs(middle(left) - middle(right)) > 0.1 * (middle(left) + middle(right));
  return (
    <>
      <Lengths units={units} open={open} onOpen={setOpen} fields={[field("half_left", "To the left of your mark"), field("half_right", "To the right of it")]} />
      {left && right && <p role="status">{uneven ? "One side reaches farther: a second line is likely. Point by point tells more." : "About the same on both sides."}</p>}
    </>
  );
}

const SAID: Readonly<Record<Enough, string>> = {
  more: `Go on: ${FEWEST} points at least, from one side over the peak to the other.`,
  "both sides": "Go on until it has fallen to half on both sides.",
  enough: "Enough: one line alone fits these points.",
  "two lines": "One line alone does not fit. Go on to fifteen points; the full answer weighs two lines against one.",
};

const peakWords = (peak: number, units: Units): string => {
  const where = paint({ value: peak, low: peak, high: peak }, units);
  return where === "at the mark" ? "at your zero point" : `${where} of your zero point`;
};

interface PointsProps {
  points: readonly Cells[];
  units: Units;
  onPoints: (points: readonly Cells[]) => void;
}

function Points({ points, units, onPoints }: PointsProps) {
  const [left, setLeft] = useState(true);
  const [far, setFar] = useState("");
  const [signal, setSignal] = useState("");
  const [turn, setTurn] = useState(0);
  const seen = points.flatMap((row): Point[] => {
    const [x, h] = [lengthOf(row, "offset"), numberOf(row, "horizontal")];
    return x && h && (row.scale || "linear") === "linear" ? [{ x: middle(x), h: middle(h) }] : [];
  });
  const fit = fitCurve(seen);
  const verdict = enough(seen, fit);
  const add = () => {
    const offset = left && parseLength(far)!.low > 0 ? toTheLeft(far) : far;
    onPoints([...points, further(points.at(-1), offset, signal)]);
    const [was, is] = [seen.at(-1)?.x, (offset === far ? 1 : -1) * middle(parseLength(far)!)];
    const next = was === undefined ? null : 2 * is - was; // as far on again
    setFar(next === null ? "" : cell(Math.abs(next), units));
    setLeft(next === null ? left : next < 0);
    setSignal("");
    setTurn(turn + 1);
  };
  return (
    <>
      {seen.length > 0 && <Curve points={seen} fit={verdict === "two lines" ? null : fit} units={units} />}
      <p role="status">
        {seen.length > 0 ? `${seen.length} ${seen.length === 1 ? "point" : "points"}. ` : ""}
        {SAID[verdict]}
        {verdict === "enough" && fit ? ` The peak is ${peakWords(fit.peak, units)}, as if ${length(fit.depth, units, 4 * fit.sigma)} deep.` : ""}
      </p>
      <p>From your zero point, square to the line</p>
      <div class="side-by-side">
        {[true, false].map((side) => (
          <button type="button" aria-pressed={left === side} onClick={() => setLeft(side)}>
            {side ? "Left" : "Right"}
          </button>
        ))}
      </div>
      <LengthKeys key={`far${turn}`} units={units} text={far} label="How far" onText={setFar} />
      <NumberKeys key={`signal${turn}`} label="Signal" unit="shown" text={signal} onText={setSignal} />
      <button type="button" class="main wide" disabled={!parseLength(far) || signal === ""} onClick={add}>
        Write it down
      </button>
      {points.length > 0 && (
        <button type="button" class="wide quiet-button" onClick={() => onPoints(points.slice(0, -1))}>
          Take the last point back: {lengthText(points.at(-1)!, "offset")}, {points.at(-1)!.horizontal}
        </button>
      )}
    </>
  );
}
