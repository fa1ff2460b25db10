/**
 * The reading sheet without its looks: which question comes next, and what an answer writes into the row.
 *
 * Cells are what `readings.csv` takes. A coarse answer is a range; "checked here" is the range of the answer "same
 * place" and a note that says what was checked, nothing more.
 */

import { lengthText, type Cells } from "../phone/cells";
import { CLASS_ENDS_M, type Action } from "../phone/sentence";
import type { GapClass } from "../phone/table";
import { cell, INCH_M, parseLength, parseNumber, rangeCell, type Units } from "../words/lengths";

export type Question = "null" | "side" | "depth" | "raise" | "current" | "halves" | "bearing" | "place" | "line" | "time" | "note" | "end";

/** Asked one after the other of a new reading; the others are opened by who wants them. */
const ORDER: readonly Question[] = ["null", "side", "depth", "raise", "current"];
/** What a question is called in the fact `cannot`. */
export const ACTION_OF: Partial<Record<Question, Action>> = {
  null: "null",
  side: "null",
  depth: "depth",
  raise: "raise",
  current: "current",
  halves: "half points",
  bearing: "bearing",
};
const CHECKED = "checked here: peak and null in the same place";
/** What a block is high: 12 in, which the metric crew cuts to 0.30 m. */
export const BLOCK: Readonly<Record<Units, string>> = { "ft-in": "12 in", m: "0.30 m" };

/** The question after this one; `end` where nothing is left to ask. Nothing that cannot be done is asked. */
export function after(question: Question, cells: Cells, cannot: ReadonlySet<string>): Question {
  const at = ORDER.indexOf(question);
  if (at < 0) return "end";
  const left = ORDER.slice(at + 1).filter((q) => {
    if (q === "side") return sideMatters(cells);
    if (q === "raise" && !lengthText(cells, "depth")) return false;
    return !cannot.has(ACTION_OF[q] ?? "");
  });
  return left[0] ?? "end";
}

/** The first question of a new reading. */
export function first(cannot: ReadonlySet<string>): Question {
  return cannot.has("null") ? after("side", {}, cannot) : "null";
}

/** The question to go on with, where a sheet was begun and left: the one after the last that was answered. */
export function goingOn(cells: Cells, cannot: ReadonlySet<string>): Question {
  const answered: Partial<Record<Question, string>> = {
    null: lengthText(cells, "null_offset"),
    depth: lengthText(cells, "depth") || cells.depth_refused || "",
    raise: lengthText(cells, "raised_depth"),
    current: cells.current_ma ?? "",
  };
  const last = ORDER.filter((question) => answered[question]).at(-1);
  return last ? after(last, cells, cannot) : first(cannot);
}

function sideMatters(cells: Cells): boolean {
  const text = lengthText(cells, "null_offset");
  const gap = text ? parseLength(text) : null;
  return gap !== null && gap.low > 0;
}

/** "Checked here" as cells: that peak and null were seen in the same place, and no number. */
export function checkedHere(units: Units): Cells {
  return { null_offset: nullCell("same place", units), mark_by: "peak", note: CHECKED };
}

/** The range that a coarse answer stands for; to the right until the side is told. */
export function nullCell(gap: GapClass, units: Units): string {
  const [low, high] = CLASS_ENDS_M[gap];
  return low === 0 ? rangeCell(-high, high, units) : rangeCell(low, high, units);
}

/** The same distance on the other side, the text of its numbers kept: "2 in..5 in" is "-5 in..-2 in". */
export function toTheLeft(text: string): string {
  const turned = (part: string) => (part.trim().startsWith("-") ? part.trim().slice(1) : `-${part.trim().replace(/^\+/, "")}`);
  return text.split("..").map(turned).reverse().join("..");
}

export type RaiseAnswer = "as much" | "less" | "more";

/** What the raised display showed, told coarsely: as much more as it was raised, less, or more. */
export function raiseCells(answer: RaiseAnswer, depthText: string, units: Units): Cells | null {
  const depth = parseLength(depthText);
  const block = parseLength(BLOCK[units])!.low;
  if (depth === null) return null;
  const [low, high] = {
    "as much": [depth.low + block - INCH_M, depth.high + block + INCH_M],
    less: [Math.max(depth.low, INCH_M), depth.high + block - INCH_M],
    more: [depth.low + block + INCH_M, depth.high + 2 * block],
  }[answer] as [number, number];
  return { raised_by: BLOCK[units], raised_depth: rangeCell(low, high, units) };
}

/** A length as typed, or a note of it where nobody can read it as one: what was typed is kept either way. */
export function withLength(cells: Cells, column: string, text: string): Cells {
  const body = text.trim();
  if (!body) return without(cells, column);
  if (parseLength(body)) return { ...without(cells, column), [column]: body };
  return withNote(cells, `${column.replaceAll("_", " ")}: ${body}`);
}

export function withNumber(cells: Cells, column: string, text: string): Cells {
  const body = text.trim();
  if (!body) return without(cells, column);
  const number = parseNumber(body);
  return number && number.low >= 0 ? { ...cells, [column]: body } : withNote(cells, `${column}: ${body}`);
}

export function withNote(cells: Cells, note: string): Cells {
  return { ...cells, note: cells.note ? `${cells.note}; ${note}` : note };
}

/** The cells without a column, whatever unit it is in. */
export function without(cells: Cells, column: string): Cells {
  const drop = new RegExp(`^${column}(_(m|ft|in|cm|mm))?$`);
  return Object.fromEntries(Object.entries(cells).filter(([name]) => !drop.test(name)));
}

/** The number that a new reading is called by: one more than the largest; `mine` tells two phones of a job apart. */
export function nextKey(keys: Iterable<string>, mine = ""): string {
  let largest = 0;
  for (const key of keys) {
    const number = /^(?:\D*)(\d{1,6})(?:-[0-9a-f]{2})?$/.exec(key);
    if (number) largest = Math.max(largest, Number(number[1]));
  }
  return mine ? `${largest + 1}-${mine}` : String(largest + 1);
}

/** Everything taken, as short texts in the order of the sheet. */
export function summary(cells: Cells, units: Units): { question: Question; words: string }[] {
  const rows: { question: Question; words: string }[] = [];
  const say = (question: Question, words: string) => words && rows.push({ question, words });
  const length = (column: string) => spoken(lengthText(cells, column), units);
  say("null", lengthText(cells, "null_offset") && `null ${nullWords(lengthText(cells, "null_offset"), units)}`);
  say("depth", cells.depth_refused === "yes" ? "depth withheld" : length("depth") && `depth ${length("depth")}`);
  say("raise", length("raised_depth") && `raised ${length("raised_depth")}`);
  say("current", cells.current_ma ? `${cells.current_ma} mA` : "");
  const [left, right] = [length("half_left"), length("half_right")];
  say("halves", left || right ? `half ${left || "not taken"} left, ${right || "not taken"} right` : "");
  say("bearing", cells.bearing_deg ? `bearing ${cells.bearing_deg} degrees` : "");
  return rows;
}

function spoken(text: string, units: Units): string {
  const q = text ? parseLength(text) : null;
  if (q === null) return text;
  return q.low === q.high ? cell(q.low, units) : `${cell(q.low, units)} to ${cell(q.high, units)}`;
}

function nullWords(text: string, units: Units): string {
  const gap = parseLength(text);
  if (gap === null) return text;
  if (gap.low < 0 && gap.high > 0) return `within ${cell(Math.max(-gap.low, gap.high), units)}`;
  if (gap.low === 0 && gap.high === 0) return "at the mark";
  const [near, far] = [Math.abs(gap.low), Math.abs(gap.high)].sort((a, b) => a - b) as [number, number];
  const size = near === far ? cell(near, units) : `${cell(near, units)} to ${cell(far, units)}`;
  return `${size} ${gap.low + gap.high > 0 ? "right" : "left"}`;
}
