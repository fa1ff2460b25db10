/**
 * What is said of one place from what was taken there alone, with no server: the sentence, the band, what to do next.
 *
 * The words are those of src/plumbmark/handover/answer.py and inference/{nextstep,reasons}.py;
 * tests/browser/phone_vectors.json holds both sides together.
 */

import * as words from "../words/lengths";
import type { Interval, Quantity, Units } from "../words/lengths";
import { lengthOf, lengthText, middle, type Cells } from "./cells";
import { GAP_CLASSES, RAISE_M, lookup, type GapClass, type PhoneAnswer, type SoilClass, type Table } from "./table";

export type Trust = "holds" | "loose" | "unproven";
/** The names are those of the fact `cannot` and of inference/nextstep.py; the first three are asked for here only. */
export type Action = "depth" | "current" | "bearing" | "null" | "raise" | "half points" | "walk across" | "test hole" | "none";

export interface Situation {
  readonly units: Units;
  readonly soil: SoilClass;
  readonly passive: boolean;
  readonly cannot: ReadonlySet<string>;
}

export interface Estimate {
  /** From the mark to the line, right positive [m]. */
  readonly shift: Interval;
  readonly depth: Interval;
  readonly single: number;
  readonly within: number;
  readonly trust: Trust;
}

export interface Said {
  /** Null where there is nothing to compute from, or the numbers hardly ever go together. */
  readonly estimate: Estimate | null;
  readonly unlikely: boolean;
  /** The answer, to be shown largest: where to paint, then how deep. */
  readonly answer: string;
  readonly deep: string;
  readonly because: readonly string[];
  readonly next: { readonly action: Action; readonly words: string };
}

export const CAUTION = "A depth from the surface is an estimate, never a licence to dig by machine.";
const STROKE_M = 0.03;
/** From this width on the answer itself tells the band of the place (2 ft; no source). */
const WIDE_M = 0.6;
const HOLDS = 0.97;
const LOOSE = 0.6;
/** A gap told by a coarse answer may be written to the inch, so a class is met to within one. */
const CLASS_SLACK_M = 0.02;
/** A block within this of 12 in counts as one; the table knows no other. */
const RAISE_SLACK_M = 0.025;
export const CLASS_ENDS_M: Readonly<Record<GapClass, readonly [number, number]>> = {
  "same place": [0, 0.05],
  "within a hand": [0.05, 0.12],
  "within a boot": [0.12, 0.3],
  farther: [0.3, 1.5],
};

const spread = (q: Quantity): number[] => (q.low === q.high ? [q.low] : [middle(q), q.low, q.high]);

/** The coarse answer that a range stands for, or null where it is a measured one. */
export function classOf(gap: Quantity): GapClass | null {
  if (gap.low === gap.high) return null;
  const across = gap.low < 0 && gap.high > 0;
  const [near, far] = across ? [0, Math.max(-gap.low, gap.high)] : [gap.low, gap.high].map(Math.abs).sort((a, b) => a - b);
  const met = ([low, high]: readonly [number, number]) =>
    Math.abs(low - near!) < CLASS_SLACK_M && Math.abs(high - far!) < CLASS_SLACK_M + (high > 1 ? 0.05 : 0);
  return GAP_CLASSES.find((name) => met(CLASS_ENDS_M[name])) ?? null;
}

interface Asked {
  readonly depths: readonly number[];
  readonly gaps: readonly (number | GapClass | null)[];
  readonly raised: readonly (number | null)[];
  readonly halves: readonly (readonly number[])[];
  /** 1 right, -1 left, 0 not known. */
  readonly side: number;
}

function asked(cells: Cells): Asked | null {
  const depth = lengthOf(cells, "depth");
  if (depth === null || depth.low <= 0 || cells.depth_refused === "yes") return null;
  const gap = lengthOf(cells, "null_offset");
  const raised = lengthOf(cells, "raised_depth");
  const block = lengthOf(cells, "raised_by");
  const usable = raised !== null && raised.low > 0 && block !== null && Math.abs(middle(block) - RAISE_M) < RAISE_SLACK_M;
  const sides = ["half_left", "half_right"].map((c) => lengthOf(cells, c)).filter((q) => q !== null && q.low > 0);
  const known = gap === null ? null : classOf(gap);
  return {
    depths: spread(depth),
    gaps: gap === null ? [null] : known !== null ? [known] : spread(gap),
    raised: usable ? spread(raised) : [null],
    halves: sides.length ? [0, 1, 2].map((k) => sides.map((q) => spread(q!)[k] ?? q!.low)) : [[]],
    side: gap === null || (gap.low < 0 && gap.high > 0) ? 0 : Math.sign(middle(gap)),
  };
}

/**
 * The estimate of one place, with the hull of all that a range allows; `unlikely` where the table has no answer.
 */
export function estimateOf(table: Table, cells: Cells, at: Situation): Estimate | "unlikely" | null {
  const a = asked(cells);
  if (a === null) return null;
  const found: (PhoneAnswer | null)[] = [];
  for (const depth of a.depths)
    for (const gap of a.gaps)
      for (const raisedDepth of a.raised)
        for (const halves of a.halves) found.push(lookup(table, { depth, gap, raisedDepth, halves, soil: at.soil }));
  const first = found.find((f) => f !== null);
  if (!first) return "unlikely";
  const all = found.filter((f) => f !== null);
  const depth = {
    value: first.depth[1],
    low: Math.min(...all.map((f) => f.depth[0])),
    high: Math.max(...all.map((f) => f.depth[2])),
  };
  const [low, high] = [Math.min(...all.map((f) => f.shift[0])), Math.max(...all.map((f) => f.shift[2]))];
  const reach = Math.max(Math.abs(low), Math.abs(high));
  const shift =
    a.side === 0
      ? { value: 0, low: -reach, high: reach }
      : a.side > 0
        ? { value: first.shift[1], low, high }
        : { value: -first.shift[1], low: -high, high: -low };
  const within = Math.min(...all.map((f) => f.within));
  return { shift, depth, single: Math.min(...all.map((f) => f.single)), within, trust: trustOf(within, at.passive) };
}

export function trustOf(within: number, passive: boolean): Trust {
  if (within < LOOSE) return "unproven";
  return within < HOLDS || passive ? "loose" : "holds";
}

/** "Paint 4 in left of your mark." */
export function whatToPaint(shift: Interval, units: Units): string {
  const where = words.paint(shift, units);
  const stays = Math.abs(shift.value) <= STROKE_M || where === "at the mark";
  return stays ? "The paint belongs on your mark." : `Paint ${where} of your mark.`;
}

/** "2 ft 11 in to the middle of it, could be 2 ft 5 in to 3 ft 8 in." */
export function howDeep(depth: Interval, units: Units): string {
  const value = words.length(depth.value, units, depth.high - depth.low);
  return `${value[0]!.toUpperCase()}${value.slice(1)} to the middle of it, could be ${words.band(depth, units)}.`;
}

const STEPS: readonly (readonly [Action, string])[] = [
  ["null", "Find the null and measure from the mark to it."],
  ["raise", "Set the receiver on a 12 in (0.30 m) block and read the depth again."],
  ["half points", "Find where the signal falls to half, left and right of the mark."],
  ["walk across", "Walk square across here and write the signal down point by point."],
  ["test hole", "Only a test hole says more here."],
];

/** What to do next where these were taken: never what cannot be done, and nothing where the numbers hold. */
export function nextStep(taken: ReadonlySet<Action>, trust: Trust, cannot: ReadonlySet<string>): Said["next"] {
  if (trust === "holds") return { action: "none", words: "Enough here, go on." };
  const step = STEPS.find(([action]) => !taken.has(action) && !cannot.has(action));
  if (!step) return { action: "none", words: "Nothing that can be done narrows this much. Its band stands; go on." };
  return { action: step[0], words: step[1] };
}

/** What has been taken, by the names of the steps. */
export function takenOf(cells: Cells): Set<Action> {
  const has = (...columns: string[]) => columns.some((c) => cells[c] || lengthText(cells, c));
  const taken = new Set<Action>();
  if (has("null_offset")) taken.add("null");
  if (has("raised_depth")) taken.add("raise");
  if (has("half_left", "half_right")) taken.add("half points");
  if (has("depth") || cells.depth_refused === "yes") taken.add("depth");
  if (has("current_ma")) taken.add("current");
  if (has("bearing_deg")) taken.add("bearing");
  return taken;
}

/** All that is said of one place; `extra` are steps taken elsewhere, such as a walk across here. */
export function said(table: Table, cells: Cells, at: Situation, extra: readonly Action[] = []): Said {
  const estimate = estimateOf(table, cells, at);
  const taken = takenOf(cells);
  for (const action of extra) taken.add(action);
  if (estimate === "unlikely") {
    const text = "These numbers hardly ever go together. One of them is probably a slip: read it again.";
    return { estimate: null, unlikely: true, answer: text, deep: "", because: [], next: nextStep(taken, "unproven", at.cannot) };
  }
  if (estimate === null) return withoutDepth(cells, at, taken);
  const { shift, depth, single } = estimate;
  const band = words.sideways(shift, at.units);
  const reach = band === "at the mark" ? "at your mark" : `${band} of your mark`;
  const wide = shift.high - shift.low > WIDE_M;
  const told = whatToPaint(shift, at.units);
  const first =
    wide && estimate.trust === "unproven"
      ? `Do not paint on this alone: the line could be ${reach}.`
      : wide
        ? `${told.slice(0, -1)}, could be ${band}.`
        : told;
  return {
    estimate,
    unlikely: false,
    answer: first,
    deep: howDeep(depth, at.units),
    because: [
      ...(wide ? [] : [`The line could be ${reach}.`]),
      trustWords(estimate),
      ...reasons(single, taken, at),
    ],
    next: nextStep(taken, estimate.trust, at.cannot),
  };
}

function withoutDepth(cells: Cells, at: Situation, taken: ReadonlySet<Action>): Said {
  const gap = lengthOf(cells, "null_offset");
  const same = gap !== null && classOf(gap) === "same place";
  const off = gap !== null && !same ? words.length(Math.max(Math.abs(gap.low), Math.abs(gap.high)), at.units) : "";
  const why = cells.depth_refused === "yes" ? "the display withheld it" : "no depth was read";
  const deep = `How deep: not known, ${why}.`;
  const answer = same
    ? "Checked: peak and null in the same place."
    : off
      ? `The null stands ${gap!.low === gap!.high ? "" : "up to "}${off} from the peak: another current bends the field.`
      : "Marked on the signal.";
  const next = nextStep(taken, "unproven", at.cannot);
  const ask = !taken.has("depth") && !at.cannot.has("depth");
  return {
    estimate: null,
    unlikely: false,
    answer,
    deep,
    because: same ? ["One null in the right place does not rule a second line out; a depth, and one raised, say more."] : [],
    next: ask ? { action: "depth", words: "Read the depth here." } : next,
  };
}

function trustWords(e: Estimate): string {
  const chance = words.chance(e.within);
  const name = { holds: "Holds", loose: "Loose", unproven: "Unproven" }[e.trust];
  return `${name}: mark within 4 in (10 cm) and depth within a tenth ${chance}.`;
}

function reasons(single: number, taken: ReadonlySet<Action>, at: Situation): string[] {
  const told: string[] = [];
  const checked = (["null", "raise", "half points", "walk across"] as const).some((a) => taken.has(a));
  if (single < 0.5) told.push("A second line bends the field here.");
  else if (single < 0.9) told.push("A second line nearby cannot be ruled out from what was read.");
  else if (checked) told.push("What was taken here fits one line alone.");
  if (!checked) told.push("Only peak and depth were read: nothing here would show a second line.");
  if (at.passive) told.push("Passive signal comes from several cores: a hint of where, not better than loose.");
  return told;
}
