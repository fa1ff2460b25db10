/** Large keys for a length or a number. What is typed is text and stays as it was typed. */
import { useState } from "preact/hooks";
import { cell, parseLength, type Units } from "../words/lengths";
import { Stepper } from "./Stepper";

interface LengthKeysProps {
  units: Units;
  /** The text given before: steppers and "Next" are shown instead of going on by itself. */
  text: string;
  /** `done` once nothing is left to tap: the inches, or the centimetres. */
  onText: (text: string, done: boolean) => void;
  label: string;
}

interface Piece {
  name: string;
  keys: readonly number[];
  metres: number;
}

const upTo = (n: number) => Array.from({ length: n }, (_, k) => k);
const PIECES: Readonly<Record<Units, readonly Piece[]>> = {
  "ft-in": [
    { name: "feet", keys: upTo(10), metres: 0.3048 },
    { name: "inches", keys: upTo(12), metres: 0.0254 },
  ],
  m: [
    { name: "metres", keys: upTo(5), metres: 1 },
    { name: "tens of centimetres", keys: upTo(10), metres: 0.1 },
    { name: "centimetres", keys: upTo(10), metres: 0.01 },
  ],
};

/** What the keys tapped so far say: feet and inches, or metres with two decimals. */
export function typed(parts: readonly (number | undefined)[], units: Units): string {
  const [a = 0, b = 0, c = 0] = parts;
  if (units === "m") return `${a}.${b}${c} m`;
  if (a === 0) return `${b} in`;
  return parts[1] ? `${a} ft ${b} in` : `${a} ft`;
}

/** Pieces of a length from the largest to the last digit; the tap on the last one goes on. */
export function LengthKeys({ units, text, onText, label }: LengthKeysProps) {
  const [parts, setParts] = useState<(number | undefined)[]>([]);
  const [opened] = useState(text !== "");
  const [own, setOwn] = useState(false);
  const pieces = PIECES[units];
  const tap = (k: number, value: number) => {
    const next = pieces.map((_, i) => (i === k ? value : parts[i]));
    setParts(next);
    onText(typed(next, units), !opened && k === pieces.length - 1);
  };
  const step = (by: 1 | -1) => {
    const q = parseLength(text);
    const size = units === "m" ? 0.01 : 0.0254;
    if (q) onText(cell(Math.max(0, (q.low + q.high) / 2 + by * size), units), false);
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
