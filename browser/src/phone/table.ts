/**
 * The posterior of one place, read off a table: docs/phone-table.md, `lookup` in src/plumbmark/inference/phone_table.py.
 *
 * tests/browser/phone_vectors.json, made from the Python, holds both sides together.
 */

export const GAP_CLASSES = ["same place", "within a hand", "within a boot", "farther"] as const;
export type GapClass = (typeof GAP_CLASSES)[number];
export const SOIL_CLASSES = ["dry sand or gravel", "not known", "wet clay"] as const;
export type SoilClass = (typeof SOIL_CLASSES)[number];

/** The file as it is. */
export interface TableFile {
  readonly depth_m: readonly number[];
  readonly gap: readonly number[];
  readonly gap_class_m: Readonly<Record<GapClass, readonly number[]>>;
  readonly excess: readonly number[];
  readonly half: readonly number[];
  readonly cells: string;
}

export interface Table extends Omit<TableFile, "cells"> {
  readonly cells: Uint8Array;
}

/** What was taken at one place, in metres; null where it was not. The gap is without sign. */
export interface PhoneReading {
  readonly depth: number;
  readonly gap: number | GapClass | null;
  readonly raisedDepth: number | null;
  readonly halves: readonly number[];
  readonly soil: SoilClass;
}

/** Low, middle, high [m], the shift towards the null; bands hold 19 times in 20. */
export interface PhoneAnswer {
  readonly shift: readonly [number, number, number];
  readonly depth: readonly [number, number, number];
  readonly single: number;
  readonly within: number;
}

export const RAISE_M = 0.3;
const COIL_M = 0.07;
const VALUES = 8;
const NOTHING = 255;
const SHIFT_STEP = 0.02;
const LN_STEP = 0.01;
const CHANCE_STEP = 0.004;
const ZERO = 128;

/** The table with its bytes decoded. Throws where the file is cut short. */
export function decoded(file: TableFile): Table {
  const text = atob(file.cells);
  const cells = Uint8Array.from(text, (c) => c.charCodeAt(0));
  const table = { ...file, cells };
  const expected = SOIL_CLASSES.length * file.depth_m.length * widths(table).reduce((a, b) => a * b, VALUES);
  if (cells.length !== expected) throw new Error(`the table for the phone holds ${cells.length} bytes, not ${expected}`);
  return table;
}

function widths(t: Table): [number, number, number] {
  return [1 + GAP_CLASSES.length + t.gap.length, 1 + t.excess.length, 1 + t.half.length];
}

type Weighted = readonly (readonly [number, number])[];

function between(value: number, nodes: readonly number[], first: number): Weighted {
  const v = Math.min(Math.max(value, nodes[0]!), nodes[nodes.length - 1]!);
  let k = 0;
  while (k < nodes.length - 2 && v > nodes[k + 1]!) k += 1;
  const share = (v - nodes[k]!) / (nodes[k + 1]! - nodes[k]!);
  return [
    [first + k, 1 - share],
    [first + k + 1, share],
  ];
}

/** The answer for one place; null where the numbers hardly ever go together: one of them is probably a slip. */
export function lookup(t: Table, r: PhoneReading): PhoneAnswer | null {
  for (const value of [r.depth, r.raisedDepth, ...r.halves]) {
    if (value !== null && !(Number.isFinite(value) && value > 0)) throw new RangeError(`${value} m: above 0 is needed`);
  }
  const soil = SOIL_CLASSES.indexOf(r.soil);
  const none: Weighted = [[0, 1]];
  const depths = between(Math.log(r.depth), t.depth_m.map(Math.log), 0);
  let gaps = none;
  if (typeof r.gap === "string") gaps = [[1 + GAP_CLASSES.indexOf(r.gap), 1]];
  else if (r.gap !== null) gaps = between(Math.abs(r.gap) / r.depth, t.gap, 1 + GAP_CLASSES.length);
  const excesses =
    r.raisedDepth === null ? none : between((r.raisedDepth - r.depth - RAISE_M) / r.depth, t.excess, 1);
  const mean = r.halves.reduce((a, b) => a + b, 0) / r.halves.length;
  const halves = r.halves.length ? between((mean - COIL_M) / r.depth, t.half, 1) : none;
  const [g, e, h] = widths(t);
  const total = new Float64Array(VALUES);
  for (const [id, wd] of depths)
    for (const [ig, wg] of gaps)
      for (const [ie, we] of excesses)
        for (const [ih, wh] of halves) {
          const weight = wd * wg * we * wh;
          if (weight <= 0) continue;
          const at = ((((soil * t.depth_m.length + id) * g + ig) * e + ie) * h + ih) * VALUES;
          if (t.cells[at + 6] === NOTHING) return null;
          for (let v = 0; v < VALUES; v += 1) total[v]! += weight * t.cells[at + v]!;
        }
  const shift = [0, 1, 2].map((v) => r.depth * SHIFT_STEP * (total[v]! - ZERO));
  const depth = [3, 4, 5].map((v) => r.depth * Math.exp(LN_STEP * (total[v]! - ZERO)));
  // nothing says on which side: as far to the one as to the other
  const reach = Math.max(Math.abs(shift[0]!), Math.abs(shift[2]!));
  return {
    shift: r.gap === null ? [-reach, 0, reach] : [shift[0]!, shift[1]!, shift[2]!],
    depth: [depth[0]!, depth[1]!, depth[2]!],
    single: CHANCE_STEP * total[6]!,
    within: CHANCE_STEP * total[7]!,
  };
}

let kept: Promise<Table> | undefined;

/** The table of this page, loaded once; it is part of the page, so it is there with no signal. */
export function phoneTable(): Promise<Table> {
  kept ??= import("../../../src/plumbmark/inference/_tables/phone_table.json").then((m) => decoded(m.default));
  return kept;
}
