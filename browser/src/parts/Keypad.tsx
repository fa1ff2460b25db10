/** Large keys for a length or a number. What is typed is text and stays as it was typed. */
import { useState } from "preact/hooks";
import { cell, INCH_M, parseLength, type Units } from "../words/lengths";
import { Stepper } from "./Stepper";

interface LengthKeysProps {
  units: Units;
  /** The text given before: steppers and "Next" are shown instead of going on by itself. */
  text: string;
  /** `done` once nothing is left to tap: the inches, or the centimetres. */
  onText: (text: string, done: boolean) => void;
  label: string;
  /** Along the ground, where a tape reaches ten times as far as anything is deep. */
  far?: boolean;
}

interface Piece {
  name: string;
  keys: readonly number[];
  /** How many of the smallest, inches or centimetres. */
  size: number;
}

const upTo = (n: number) => Array.from({ length: n }, (_, k) => k);
const CENTIMETRES: readonly Piece[] = [
  { name: "tens of centimetres", keys: upTo(10), size: 10 },
  { name: "centimetres", keys: upTo(10), size: 1 },
];
const FEET_INCHES: readonly Piece[] = [
  { name: "feet", keys: upTo(10), size: 12 },
  { name: "inches", keys: upTo(12), size: 1 },
];
const DEEP: Readonly<Record<Units, readonly Piece[]>> = {
  "ft-in": FEET_INCHES,
  m: [{ name: "metres", keys: upTo(5), size: 100 }, ...CENTIMETRES],
};
const FAR: Readonly<Record<Units, readonly Piece[]>> = {
  "ft-in": [{ name: "tens of feet", keys: upTo(10), size: 120 }, ...FEET_INCHES],
  m: [{ name: "tens of metres", keys: upTo(10), size: 1000 }, { name: "metres", keys: upTo(10), size: 100 }, ...CENTIMETRES],
};
const SMALLEST_M: Readonly<Record<Units, number>> = { "ft-in": INCH_M, m: 0.01 };

const piecesOf = (units: Units, far: boolean): readonly Piece[] => (far ? FAR : DEEP)[units];

type Parts = readonly (number | undefined)[];

/** What the keys tapped so far say: feet and inches, or metres with two decimals. */
export function typed(parts: Parts, units: Units, far = false): string {
  const count = piecesOf(units, far).reduce((sum, { size }, k) => sum + size * (parts[k] ?? 0), 0);
  if (units === "m") return `${(count / 100).toFixed(2)} m`;
  const [feet, inches] = [Math.floor(count / 12), count % 12];
  if (feet === 0) return `${inches} in`;
  return inches ? `${feet} ft ${inches} in` : `${feet} ft`;
}

/** The keys that say a length; none where no keys say it to the last digit. */
export function keysOf(text: string, units: Units, far = false): Parts {
  const q = parseLength(text);
  if (!q || q.low !== q.high || q.low < 0) return [];
  const count = Math.round(q.low / SMALLEST_M[units]);
  const pieces = piecesOf(units, far);
  const most = pieces[0]!.size * pieces[0]!.keys.length;
  if (Math.abs(count * SMALLEST_M[units] - q.low) > 1e-6 || count >= most) return [];
  return pieces.map(({ size }, k) => Math.floor((k ? count % pieces[k - 1]!.size : count) / size));
}

/** Pieces of a length from the largest to the last digit; the tap on the last one goes on. */
export function LengthKeys({ units, text, onText, label, far = false }: LengthKeysProps) {
  const [parts, setParts] = useState<Parts>(() => keysOf(text, units, far)); // one digit is corrected, the others stay
  const [opened] = useState(text !== "");
  const [own, setOwn] = useState(false);
  const pieces = piecesOf(units, far);
  const tap = (k: number, value: number) => {
    const next = pieces.map((_, i) => (i === k ? value : parts[i]));
    setParts(next);
    onText(typed(next, units, far), !opened && k === pieces.length - 1);
  };
  const step = (by: 1 | -1) => {
    const q = parseLength(text);
    if (!q) return;
    const stepped = cell(Math.max(0, (q.low + q.high) / 2 + by * SMALLEST_M[units]), units);
    setParts(keysOf(stepped, units, far));
    onText(stepped, false);
  };
  return (
    <div class="keys" role="group" aria-label={label}>
      {text && <Stepper shown={text} label={label} onStep={step} />}
      {!own &&
        pieces.map((piece, k) => (
          <div class="keys-piece" role="group" aria-label={piece.name}>
            <p class="keys-name">{piece.name}</p>
            <div class="keys-grid">
              {piece.keys.map((value) => (
                <button type="button" aria-pressed={parts[k] === value} aria-label={`${value} ${piece.name}`} onClick={() => tap(k, value)}>
                  {value}
                </button>
              ))}
            </div>
          </div>
        ))}
      {own ? (
        <OwnText text={text} onText={onText} label={label} />
      ) : (
        <button type="button" class="wide quiet-button" onClick={() => setOwn(true)}>
          Type it
        </button>
      )}
    </div>
  );
}

function OwnText({ text, onText, label }: Omit<LengthKeysProps, "units">) {
  const [own, setOwn] = useState(text);
  const bad = own.trim() !== "" && parseLength(own) === null;
  return (
    <>
      <label class="field">
        <span>{label}, as you would write it: 3 ft 6 in, 1.07 m, 2 in..4 in</span>
        <input type="text" value={own} autocomplete="off" onInput={(e) => setOwn(e.currentTarget.value)} />
        {bad && <span role="status">This cannot be read as a length. It will be kept as a note.</span>}
      </label>
      <button type="button" class="main wide" onClick={() => onText(own, true)}>
        Use it
      </button>
    </>
  );
}

interface NumberKeysProps {
  text: string;
  onText: (text: string) => void;
  unit: string;
  label: string;
}

/** Digits and a point; a point alone is no number yet and is not handed on. */
export function NumberKeys({ text, onText, unit, label }: NumberKeysProps) {
  const [shown, setShown] = useState(text);
  const show = (next: string) => {
    setShown(next);
    if (next !== ".") onText(next);
  };
  const tap = (key: string) => {
    if (key !== "." || !shown.includes(".")) show(shown + key);
  };
  return (
    <div class="keys" role="group" aria-label={label}>
      <output class="keys-shown">
        {shown || "–"} {unit}
      </output>
      <div class="keys-grid three">
        {["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0"].map((key) => (
          <button type="button" aria-label={key === "." ? "point" : key} onClick={() => tap(key)}>
            {key}
          </button>
        ))}
        <button type="button" aria-label="take the last digit back" onClick={() => show(shown.slice(0, -1))}>
          ⌫
        </button>
      </div>
    </div>
  );
}
