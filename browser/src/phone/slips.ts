/** Values that do not fit what lies around them, put as a question; what was typed is kept whatever the answer. */

import { length, type Units } from "../words/lengths";
import { lengthOf, middle, numberOf, type Cells } from "./cells";

export interface Slip {
  /** Names the question in the fact `settled`: "slip:7:current_ma". */
  readonly question: string;
  readonly column: string;
  readonly words: string;
}

/** What a crew's slip makes of a depth: wrong over right; src/plumbmark/inference/slips.py. */
const DEPTH_SLIPS: readonly (readonly [number, string])[] = [
  [10, "a decimal point"],
  [0.1, "a decimal point"],
  [3.2808, "feet written for metres"],
  [0.3048, "metres written for feet"],
  [12, "inches in a box for feet"],
  [1 / 12, "feet in a box for inches"],
  [3.4, "the receiver in sonde mode"],
];
/** Fewer readings on either side say nothing of what is usual here. */
const FEWEST = 2;
/** Currents leak and branch: only a change by over two thirds is asked about. */
const CURRENT_LN = 0.5;
const DEPTH_LN = 0.2;

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** How far the logarithm of a value is from its neighbours' median, 0 where they scatter as much themselves. */
function odd(here: number, near: readonly number[]): number {
  if (near.length < FEWEST || here <= 0) return 0;
  const logs = near.map(Math.log);
  const usual = median(logs);
  const scatter = median(logs.map((v) => Math.abs(v - usual)));
  const away = Math.log(here) - usual;
  return Math.abs(away) > 5 * scatter + 0.12 ? away : 0;
}

const positive = (q: ReturnType<typeof lengthOf>): number | null => (q && q.low > 0 ? middle(q) : null);
const depthOf = (cells: Cells): number | null => positive(lengthOf(cells, "depth"));
const currentOf = (cells: Cells): number | null => positive(numberOf(cells, "current_ma"));
const present = (values: readonly (number | null)[]): number[] => values.filter((v) => v !== null);
const short = (value: number): string => String(Number(value.toPrecision(2)));

/**
 * A question about a cell of reading `key`, or null; `near` are up to three readings of its line before it and after.
 */
export function slipOf(key: string, cells: Cells, near: readonly Cells[], settled: ReadonlySet<string>, units: Units): Slip | null {
  const depth = depthOf(cells);
  const out = depth === null ? 0 : odd(depth, present(near.map(depthOf)));
  if (depth !== null && Math.abs(out) > DEPTH_LN && !settled.has(`slip:${key}:depth`)) {
    const name = DEPTH_SLIPS.find(([factor]) => Math.abs(out - Math.log(factor)) < 0.15)?.[1];
    const beside = length(depth / Math.exp(out), units);
    const what = `Depth ${length(depth, units)} here, about ${beside} on either side. A slip${name ? ` (${name})` : ""}?`;
    return { question: `slip:${key}:depth`, column: "depth", words: what };
  }
  const current = currentOf(cells);
  const off = current === null ? 0 : odd(current, present(near.map(currentOf)));
  if (current !== null && Math.abs(off) > CURRENT_LN && !settled.has(`slip:${key}:current_ma`)) {
    const around = short(current / Math.exp(off));
    const what = `${cells.current_ma} mA here, about ${around} mA on either side. A slip, or another line?`;
    return { question: `slip:${key}:current_ma`, column: "current_ma", words: what };
  }
  return null;
}

/** Up to three rows on each side of `key`, in the order given. */
export function neighbours(rows: readonly { readonly key: string; readonly cells: Cells }[], key: string): Cells[] {
  const at = rows.findIndex((row) => row.key === key);
  const [before, after] = at < 0 ? [rows, []] : [rows.slice(0, at), rows.slice(at + 1)];
  return [...before.slice(-3), ...after.slice(0, 3)].map((row) => row.cells);
}
