/**
 * Lengths as people write and say them; the rules of src/plumbmark/base/units.py and handover/words.py.
 *
 * tests/browser/length_vectors.json, made from the Python, holds both sides together.
 */

export type Units = "ft-in" | "m";

/** What a cell says, in metres: `low` and `high` are equal for a number, the ends of a range otherwise. */
export interface Quantity {
  readonly low: number;
  readonly high: number;
}

/** A band with the value inside it, in metres. */
export interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

export const INCH_M = 0.0254;
export const FOOT_M = 0.3048;
const UNIT_M: Readonly<Record<string, number>> = {
  m: 1,
  cm: 0.01,
  mm: 0.001,
  ft: FOOT_M,
  in: INCH_M,
  "'": FOOT_M,
  '"': INCH_M,
};
const NUMBER = "(?:[0-9]+(?:\\.[0-9]*)?|\\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?";
const NUMBER_ONLY = new RegExp(`^[+-]?${NUMBER}$`);
const WITH_UNIT = new RegExp(`^([+-]?${NUMBER})\\s*(cm|mm|m|ft|in|'|")$`, "i");
const FEET_INCHES = /^([+-]?)([0-9]+)\s*(?:ft|')\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(?:in|")$/i;

function plainQuotes(text: string): string {
  return text.trim().replace(/[\u2032\u2019\u2018]/g, "'").replace(/[\u2033\u201d]/g, '"');
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}

function single(text: string, lent: number | null): { value: number; unit: number } | null {
  const body = plainQuotes(text);
  const feet = FEET_INCHES.exec(body);
  if (feet) {
    const inches = Number(feet[3]);
    if (inches >= 12) return null;
    const value = finite((12 * Number(feet[2]) + inches) * INCH_M);
    return value === null ? null : { value: feet[1] === "-" ? -value : value, unit: INCH_M };
  }
  const stated = WITH_UNIT.exec(body);
  const unit = stated ? UNIT_M[stated[2]!.toLowerCase()]! : lent;
  const number = stated ? stated[1]! : NUMBER_ONLY.test(body) ? body : null;
  if (unit === null || number === null) return null;
  const value = finite(Number(number) * unit);
  return value === null ? null : { value, unit };
}

/** A length or a range that states its unit, in metres; null where it is neither: the text is kept all the same. */
export function parseLength(text: string): Quantity | null {
  const cut = text.indexOf("..");
  if (cut < 0) {
    const one = single(text, null);
    return one === null ? null : { low: one.value, high: one.value };
  }
  const upper = text.slice(cut + 2);
  if (upper.includes("..")) return null;
  const high = single(upper, null);
  if (high === null) return null;
  const lends = FEET_INCHES.test(plainQuotes(upper)) ? null : high.unit;
  const low = single(text.slice(0, cut), lends);
  if (low === null || low.value > high.value) return null;
  return { low: low.value, high: high.value };
}

/** A plain number, or a range of them; null where it is neither. */
export function parseNumber(text: string): Quantity | null {
  const parts = text.split("..").map((part) => part.trim());
  if (parts.length > 2 || !parts.every((part) => NUMBER_ONLY.test(part))) return null;
  const [low, high] = [Number(parts[0]), Number(parts[parts.length - 1])];
  return Number.isFinite(low) && Number.isFinite(high) && low <= high ? { low, high } : null;
}

const WIDE_FT_IN = 24;
const WIDE_M = 0.6;
const SLACK = 1e-9;

/** Smallest step that a band of this width deserves: 1 in, 6 in, 1 ft; 0.01, 0.1, 0.5 m. */
export function stepM(widthM: number, units: Units): number {
  if (units === "ft-in") {
    const inches = widthM / INCH_M;
    return INCH_M * (inches <= WIDE_FT_IN ? 1 : inches <= 2 * WIDE_FT_IN ? 6 : 12);
  }
  return widthM <= WIDE_M ? 0.01 : widthM <= 2 * WIDE_M ? 0.1 : 0.5;
}

function steps(valueM: number, step: number, how: "near" | "down" | "up" = "near"): number {
  const count = valueM / step;
  if (how === "down") return Math.floor(count + SLACK);
  if (how === "up") return Math.ceil(count - SLACK);
  return Math.floor(Math.abs(count) + 0.5) * (count >= 0 ? 1 : -1);
}

function say(count: number, step: number, units: Units, unit = true): string {
  if (count === 0 && !unit) return "0";
  if (units === "ft-in") {
    const all = Math.abs(count) * Math.round(step / INCH_M);
    const [feet, inches] = [Math.floor(all / 12), all % 12];
    if (feet === 0) return `${inches} in`;
    return inches ? `${feet} ft ${inches} in` : `${feet} ft`;
  }
  return (Math.abs(count) * step).toFixed(step < 0.05 ? 2 : 1) + (unit ? " m" : "");
}

/** A length without its sign, told no finer than a band of `widthM` deserves. */
export function length(valueM: number, units: Units, widthM = 0): string {
  const step = stepM(widthM, units);
  const count = steps(valueM, step);
  if (step === stepM(0, units)) return say(count, step, units);
  return (count ? "about " : "under ") + say(count || 1, step, units);
}

/** The ends of a band, rounded outward: "2 ft 5 in to 3 ft 8 in". */
export function band(interval: Interval, units: Units): string {
  const step = stepM(interval.high - interval.low, units);
  const low = Math.max(steps(interval.low, step, "down"), 0);
  return `${say(low, step, units, false)} to ${say(steps(interval.high, step, "up"), step, units)}`;
}

function side(count: number, step: number, units: Units, middle: string): string {
  return count === 0 ? middle : `${say(count, step, units)} ${count > 0 ? "right" : "left"}`;
}

/** Where to paint, seen from the mark; right is positive: "4 in left", "at the mark". */
export function paint(shift: Interval, units: Units): string {
  const step = stepM(shift.high - shift.low, units);
  const count = steps(shift.value, step);
  return (count && step > stepM(0, units) ? "about " : "") + side(count, step, units, "at the mark");
}

/** The ends of a band that counts to the left and right of the mark: "8 in left to 1 in right". */
export function sideways(shift: Interval, units: Units, middle = "at the mark"): string {
  const step = stepM(shift.high - shift.low, units);
  const low = steps(shift.low, step, "down");
  const high = steps(shift.high, step, "up");
  if (low > 0 || high < 0) {
    const [near, far] = [Math.abs(low), Math.abs(high)].sort((a, b) => a - b) as [number, number];
    return `${say(near, step, units, false)} to ${side(low > 0 ? far : -far, step, units, "")}`;
  }
  if (low === 0 || high === 0) return low || high ? `up to ${side(low || high, step, units, "")}` : middle;
  return `${side(low, step, units, middle)} to ${side(high, step, units, middle)}`;
}

/** A probability as people count chances. */
export function chance(probability: number): string {
  if (probability > 0.99) return "more than 99 in 100";
  if (probability >= 0.97) return "about 49 in 50";
  if (probability >= 0.925) return "about 19 in 20";
  if (probability < 0.01) return "less than 1 in 100";
  if (probability < 0.05) return "less than 1 in 20";
  return `about ${Math.min(9, Math.max(1, Math.floor(10 * probability + 0.5)))} in 10`;
}

/** A measured length as the text of a cell, to the inch or the centimetre: "3 ft 1 in", "0.92 m". */
export function cell(valueM: number, units: Units): string {
  const sign = valueM < 0 && steps(valueM, stepM(0, units)) !== 0 ? "-" : "";
  return sign + length(valueM, units);
}

/** A range as the text of a cell: "2 in..5 in". */
export function rangeCell(lowM: number, highM: number, units: Units): string {
  return `${cell(lowM, units)}..${cell(highM, units)}`;
}
