/** Moving the cross without touching the plan: step by step, or by tape from something that is there. */
import { useState } from "preact/hooks";
import { INCH_M, parseLength } from "../words/lengths";
import { EIGHT, moved, type Point } from "./plane";
import type { Site } from "./useSite";

export const STEPS: Readonly<Record<"ft-in" | "m", readonly (readonly [string, number])[]>> = {
  "ft-in": [["1 in", INCH_M], ["1 ft", 12 * INCH_M], ["10 ft", 120 * INCH_M]],
  m: [["1 cm", 0.01], ["10 cm", 0.1], ["1 m", 1], ["10 m", 10]],
};

interface Props {
  site: Site;
  cross: Point;
  step: number;
  onStep: (step: number) => void;
  onCross: (at: Point) => void;
}

const ARROWS: readonly (readonly [string, string, number])[] = [["←", "west", 270], ["↑", "north", 0], ["↓", "south", 180], ["→", "east", 90]];

export function CrossPanel({ site, cross, step, onStep, onCross }: Props) {
  const [from, setFrom] = useState("");
  const [far, setFar] = useState("");
  const [way, setWay] = useState("0");
  const points = site.items.filter(({ path }) => path.length === 1);
  const read = parseLength(far);
  const start = points.find(({ id }) => id === from)?.path[0] ?? cross;
  const go = () => read && onCross(moved(start, Number(way), (read.low + read.high) / 2));
  return (
    <details class="more">
      <summary>Move the cross by steps or by tape</summary>
      <div class="choices" role="group" aria-label="Length of a step">
        {STEPS[site.units].map(([words, metres]) => (
          <button type="button" aria-pressed={step === metres} onClick={() => onStep(metres)}>
            {words}
          </button>
        ))}
      </div>
      <div class="arrows">
        {ARROWS.map(([sign, word, bearing]) => (
          <button type="button" aria-label={`One step ${word}`} onClick={() => onCross(moved(cross, bearing, step))}>
            {sign}
          </button>
        ))}
      </div>
      <label class="field">
        <span>By tape from</span>
        <select value={from} onChange={(e) => setFrom(e.currentTarget.value)}>
          <option value="">the cross</option>
          {points.map(({ id, words }) => (
            <option value={id}>{words.slice(0, 60)}</option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>How far: {site.units === "m" ? "3.5 m" : "12 ft 3 in"}</span>
        <input type="text" value={far} autocomplete="off" onInput={(e) => setFar(e.currentTarget.value)} />
        {far.trim() !== "" && !read && <span role="status">This cannot be read as a length: write the unit too.</span>}
      </label>
      <label class="field">
        <span>Which way, on this plan</span>
        <select value={way} onChange={(e) => setWay(e.currentTarget.value)}>
          {EIGHT.map((word, i) => (
            <option value={String(45 * i)}>{word}</option>
          ))}
        </select>
      </label>
      <button type="button" class="wide" disabled={!read} onClick={go}>
        Put the cross there
      </button>
    </details>
  );
}
