/** Each question of the reading sheet: what it says, and what its answers write. */
import { useState } from "preact/hooks";
import { lengthText, type Cells } from "../phone/cells";
import { classOf } from "../phone/sentence";
import { GAP_CLASSES, type GapClass } from "../phone/table";
import { Choice } from "../parts/Choice";
import { LengthKeys, NumberKeys } from "../parts/Keypad";
import { parseLength, type Units } from "../words/lengths";
import { BLOCK, nullCell, raiseCells, toTheLeft, withLength, withNumber, without, type Question, type RaiseAnswer } from "./reading";

export interface AskedProps {
  question: Question;
  cells: Cells;
  units: Units;
  /** New cells; `done` where the question is answered in full, so that the next one comes. */
  onAnswer: (cells: Cells, done: boolean) => void;
}

const CLASS_WORDS: Readonly<Record<GapClass, Readonly<Record<Units, string>>>> = {
  "same place": { "ft-in": "to 2 in", m: "to 5 cm" },
  "within a hand": { "ft-in": "2 to 5 in", m: "5 to 12 cm" },
  "within a boot": { "ft-in": "5 to 12 in", m: "12 to 30 cm" },
  farther: { "ft-in": "over 12 in", m: "over 30 cm" },
};

export function Asked(props: AskedProps) {
  const Shown = SHOWN[props.question];
  return Shown ? <Shown {...props} /> : null;
}

function NullQuestion({ cells, units, onAnswer }: AskedProps) {
  const text = lengthText(cells, "null_offset");
  const gap = text ? parseLength(text) : null;
  const [measured, setMeasured] = useState(gap !== null && classOf(gap) === null);
  if (measured) {
    const left = text.startsWith("-");
    return (
      <>
        <h2 class="question" tabIndex={-1}>From your mark to the null?</h2>
        <LengthKeys units={units} text={left ? toTheLeft(text) : text} label="Mark to null" onText={(t, done) => onAnswer(withLength(cells, "null_offset", t), done)} />
      </>
    );
  }
  const answers = GAP_CLASSES.map((value) => ({
    value,
    words: value[0]!.toUpperCase() + value.slice(1),
    quiet: CLASS_WORDS[value][units],
  }));
  const give = (value: GapClass) => onAnswer({ ...without(cells, "null_offset"), null_offset: nullCell(value, units) }, true);
  return (
    <>
      <h2 class="question" tabIndex={-1}>Find the null. Where is it from the peak?</h2>
      <Choice label="Null from the peak" answers={answers} chosen={gap ? (classOf(gap) ?? undefined) : undefined} onChoose={give} />
      <button type="button" class="wide quiet-button" onClick={() => setMeasured(true)}>
        I measured it
      </button>
    </>
  );
}

function SideQuestion({ cells, onAnswer }: AskedProps) {
  const text = lengthText(cells, "null_offset");
  const left = text.startsWith("-");
  const give = (side: "left" | "right") =>
    onAnswer({ ...without(cells, "null_offset"), null_offset: left === (side === "left") ? text : toTheLeft(text) }, true);
  return (
    <>
      <h2 class="question" tabIndex={-1}>On which side of your mark is the null?</h2>
      <p>As you face along the line, the way you walk it.</p>
      <div class="side-by-side">
        {(["left", "right"] as const).map((side) => (
          <button type="button" onClick={() => give(side)}>
            {side === "left" ? "Left" : "Right"}
          </button>
        ))}
      </div>
    </>
  );
}

function DepthQuestion({ cells, units, onAnswer }: AskedProps) {
  return (
    <>
      <h2 class="question" tabIndex={-1}>Depth shown, foot on the ground?</h2>
      <LengthKeys units={units} text={lengthText(cells, "depth")} label="Depth" onText={(t, done) => onAnswer(withLength(without(cells, "depth_refused"), "depth", t), done)} />
      <button type="button" class="wide quiet-button" onClick={() => onAnswer({ ...without(cells, "depth"), depth_refused: "yes" }, true)}>
        It shows no depth
      </button>
    </>
  );
}

function RaiseQuestion({ cells, units, onAnswer }: AskedProps) {
  const depth = lengthText(cells, "depth");
  const block = BLOCK[units];
  const coarse = (answer: RaiseAnswer) => {
    const given = raiseCells(answer, depth, units);
    if (given) onAnswer({ ...without(without(cells, "raised_by"), "raised_depth"), ...given }, true);
  };
  const number = (text: string, done: boolean) =>
    onAnswer(withLength({ ...without(cells, "raised_by"), raised_by: block }, "raised_depth", text), done);
  return (
    <>
      <h2 class="question" tabIndex={-1}>Set it on a {block} block. Depth now?</h2>
      <p>On the ground it showed {depth || "nothing"}.</p>
      {depth && (
        <div class="choices" role="group" aria-label="Roughly">
          {RAISED.map(([value, words]) => (
            <button type="button" onClick={() => coarse(value)}>
              {words.replace("BLOCK", block)}
            </button>
          ))}
        </div>
      )}
      <LengthKeys units={units} text={lengthText(cells, "raised_depth")} label="Depth on the block" onText={number} />
    </>
  );
}

const RAISED: readonly (readonly [RaiseAnswer, string])[] = [
  ["as much", "BLOCK more, about"],
  ["less", "Less than that"],
  ["more", "More than that"],
];

function CurrentQuestion({ cells, onAnswer }: AskedProps) {
  return (
    <>
      <h2 class="question" tabIndex={-1}>Current shown?</h2>
      <NumberKeys label="Current" unit="mA" text={cells.current_ma ?? ""} onText={(t) => onAnswer(withNumber(cells, "current_ma", t), false)} />
    </>
  );
}

function HalvesQuestion({ cells, units, onAnswer }: AskedProps) {
  const [side, setSide] = useState<"left" | "right">(lengthText(cells, "half_left") && !lengthText(cells, "half_right") ? "right" : "left");
  const column = `half_${side}`;
  const give = (text: string, done: boolean) => {
    onAnswer(withLength(cells, column, text), done && side === "right");
    if (done && side === "left") setSide("right");
  };
  return (
    <>
      <h2 class="question" tabIndex={-1}>From your mark to where the signal is half, {side}?</h2>
      <div class="side-by-side">
        {(["left", "right"] as const).map((each) => (
          <button type="button" aria-pressed={each === side} onClick={() => setSide(each)}>
            {each} {lengthText(cells, `half_${each}`)}
          </button>
        ))}
      </div>
      <LengthKeys key={side} units={units} text={lengthText(cells, column)} label={`Half point, ${side}`} onText={give} />
    </>
  );
}

const BEARINGS = ["north", "north-east", "east", "south-east"] as const;

function BearingQuestion({ cells, onAnswer }: AskedProps) {
  return (
    <>
      <h2 class="question" tabIndex={-1}>Which way does the line run here?</h2>
      <p>Either way along it, from grid north.</p>
      <Choice
        label="Bearing, roughly"
        chosen={cells.bearing_deg}
        onChoose={(value) => onAnswer({ ...cells, bearing_deg: value }, true)}
        answers={BEARINGS.map((words, k) => ({ value: String(45 * k), words: words[0]!.toUpperCase() + words.slice(1), quiet: `${45 * k} degrees` }))}
      />
      <NumberKeys label="Bearing" unit="degrees" text={cells.bearing_deg ?? ""} onText={(t) => onAnswer(withNumber(cells, "bearing_deg", t), false)} />
    </>
  );
}

function TimeQuestion({ cells, onAnswer }: AskedProps) {
  return (
    <label class="field">
      <span>When it was read, if not now: for what is typed in from paper</span>
      <input type="datetime-local" value={(cells.taken_at ?? "").slice(0, 16)} onInput={(e) => onAnswer({ ...cells, taken_at: withOffset(e.currentTarget.value) }, false)} />
    </label>
  );
}

function NoteQuestion({ cells, onAnswer }: AskedProps) {
  return (
    <label class="field">
      <span>Note</span>
      <textarea value={cells.note ?? ""} onInput={(e) => onAnswer({ ...cells, note: e.currentTarget.value }, false)} />
    </label>
  );
}

/** A wall-clock time as ISO 8601 with the offset this device had then. */
export function withOffset(local: string): string {
  if (!local) return "";
  const minutes = -new Date(local).getTimezoneOffset();
  const two = (n: number) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  return `${local.slice(0, 16)}:00${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

const SHOWN: Partial<Record<Question, (props: AskedProps) => preact.JSX.Element>> = {
  null: NullQuestion,
  side: SideQuestion,
  depth: DepthQuestion,
  raise: RaiseQuestion,
  current: CurrentQuestion,
  halves: HalvesQuestion,
  bearing: BearingQuestion,
  time: TimeQuestion,
  note: NoteQuestion,
};
