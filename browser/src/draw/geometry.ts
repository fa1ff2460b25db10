/** What both drawings are laid out with: paths, taps, room for words, steps of an axis. All in pixels but the steps. */
import { FOOT_M, INCH_M, type Units } from "../words/lengths";

export interface Point {
  readonly x: number;
  readonly y: number;
}

export interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

export const TEXT_PX = 15;
export const ROW_PX = 18;
/** How far from what is drawn a tap still means it: half a target. */
export const REACH_PX = 32;
const LETTER_PX = 0.54 * TEXT_PX; // about the widest that letters of a system's type are, taken together

export const path = (points: readonly Point[], closed = false): string =>
  points.map(({ x, y }, i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("") + (closed ? "Z" : "");

export const wide = (text: string): number => text.length * LETTER_PX;

/** Words in rows of at most `room` pixels; a longer word has a row of its own. */
export function wrapped(text: string, room: number): string[] {
  const rows: string[] = [];
  for (const word of text.split(" ")) {
    const last = rows.at(-1);
    if (last !== undefined && wide(`${last} ${word}`) <= room) rows[rows.length - 1] = `${last} ${word}`;
    else rows.push(word);
  }
  return rows;
}

/** Words whose lengths stay together when they are wrapped: "2 ft 1 in", "0.92 m". */
export const unbroken = (text: string): string => text.replace(/(\d) (?=ft|in|m)/g, "$1\u00a0").replace(/ft (?=\d)/g, "ft\u00a0");

/** Distance from a point to a path. */
export function away(from: Point, along: readonly Point[]): number {
  let least = Infinity;
  for (const [i, b] of along.entries()) {
    const a = along[Math.max(i - 1, 0)]!;
    const [dx, dy] = [b.x - a.x, b.y - a.y];
    const square = dx * dx + dy * dy;
    const t = square === 0 ? 0 : Math.min(Math.max(((from.x - a.x) * dx + (from.y - a.y) * dy) / square, 0), 1);
    least = Math.min(least, Math.hypot(from.x - a.x - t * dx, from.y - a.y - t * dy));
  }
  return least;
}

/** What a tap means: the nearest of what is drawn, null where nothing is near; of two as near the earlier. */
export function nearest<T extends { readonly outline: readonly Point[] }>(drawn: readonly T[], tap: Point, reach = REACH_PX): T | null {
  let [best, least] = [null as T | null, reach];
  for (const each of drawn) {
    const distance = away(tap, each.outline);
    if (distance < least) [best, least] = [each, distance];
  }
  return best;
}

/** Middles of words side by side in one row, moved as little as keeps them apart and between the ends. */
export function apart(words: readonly { readonly at: number; readonly width: number }[], low: number, high: number, gap = 8): number[] {
  const order = words.map((_, i) => i).sort((a, b) => words[a]!.at - words[b]!.at);
  const put = words.map(({ at }) => at);
  let edge = low;
  for (const i of order) {
    const half = words[i]!.width / 2;
    put[i] = Math.max(put[i]!, edge + half);
    edge = put[i]! + half + gap;
  }
  edge = high;
  for (const i of order.reverse()) {
    const half = words[i]!.width / 2;
    put[i] = Math.min(put[i]!, edge - half);
    edge = put[i]! - half - gap;
  }
  return put;
}

export const overlap = (a: Box, b: Box): number =>
  Math.max(0, Math.min(a.right, b.right) - Math.max(a.left, b.left)) * Math.max(0, Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top));

/** The first of some boxes that covers nothing, else the one that covers least; words count ten times over lines. */
export function roomiest(boxes: readonly Box[], words: readonly Box[], lines: readonly Box[] = []): Box {
  const sum = (box: Box, taken: readonly Box[]) => taken.reduce((total, other) => total + overlap(box, other), 0);
  const covered = boxes.map((box) => 10 * sum(box, words) + sum(box, lines));
  return boxes[covered.indexOf(Math.min(...covered))]!;
}

export function boxAround(points: readonly Point[], margin = 0): Box {
  const [xs, ys] = [points.map(({ x }) => x), points.map(({ y }) => y)];
  return { left: Math.min(...xs) - margin, right: Math.max(...xs) + margin, top: Math.min(...ys) - margin, bottom: Math.max(...ys) + margin };
}

const ROUND: Record<Units, readonly number[]> = {
  m: [0.1, 0.2, 0.5],
  "ft-in": [FOOT_M / 4, FOOT_M / 2],
};

/** The smallest round step of the units that divides a length into `most` parts or fewer. */
export function roundStep(spanM: number, units: Units, most: number): number {
  const unit = units === "m" ? 1 : FOOT_M;
  for (const step of ROUND[units]) if (spanM / step <= most) return step;
  for (let ten = 1; ; ten *= 10) for (const step of [1, 2, 5]) if (spanM / (step * ten * unit) <= most) return step * ten * unit;
}

/** Multiples of a step between two ends, both with it. */
export function multiples(low: number, high: number, step: number): number[] {
  const found = [];
  for (let n = Math.ceil(low / step - 1e-9); n <= high / step + 1e-9; n += 1) found.push(n * step);
  return found;
}

/** Lines of a log axis: 1, 2 and 5 of each decade, or its tens where those are enough. */
export function logSteps(low: number, high: number): number[] {
  const found = [];
  const many = high / low > 200;
  for (let decade = Math.floor(Math.log10(low)); 10 ** decade <= high; decade += 1)
    for (const step of many ? [1] : [1, 2, 5]) {
      const value = Number(`${step}e${decade}`);
      if (value >= low * (1 - 1e-9) && value <= high * (1 + 1e-9)) found.push(value);
    }
  return found;
}

/** A round length on an axis: "6 in", "3 ft", "0.5 m", "0" at its start. */
export function tick(valueM: number, units: Units): string {
  if (Math.abs(valueM) < 1e-9) return "0";
  if (units === "m") return `${Number(valueM.toFixed(1))} m`;
  const inches = Math.round(valueM / INCH_M);
  const [feet, rest] = [Math.floor(inches / 12), inches % 12];
  return [feet && `${feet} ft`, rest && `${rest} in`].filter(Boolean).join(" ");
}
