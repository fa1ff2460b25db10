/** A section laid out in pixels: one scale across and down, dimension lines outside of what they measure. */
import { chance, length, sideways, type Units } from "../words/lengths";
import { apart, away, boxAround, ROW_PX, roomiest, roundStep, tick, unbroken, wide, wrapped, type Box, type Point } from "./geometry";
import type { Cited, Section } from "./types";

export type Kind = "line" | "second" | "null" | "mark" | "hole" | "displayed" | "oval" | "dimension";

/** Something drawn that can be tapped: where it is, and its numbers with where they came from. */
export interface Element {
  readonly key: string;
  readonly kind: Kind;
  readonly outline: readonly Point[];
  readonly told: readonly Cited[];
}

/** A dimension line with its arrows; `inward` where they point at it from outside, for want of room. */
export interface Measure {
  readonly key: string;
  readonly told: Cited;
  readonly from: Point;
  readonly to: Point;
  readonly inward: boolean;
  /** Thin lines from what is measured to the dimension line. */
  readonly extensions: readonly (readonly [Point, Point])[];
  readonly text: Words;
}

export interface Words {
  readonly at: Point;
  readonly rows: readonly string[];
  readonly anchor: "start" | "middle" | "end";
}

export interface Label extends Words {
  readonly key: string;
  /** From the words to what they name, where they stand off it. */
  readonly leader: readonly Point[] | null;
}

export interface SectionLayout {
  readonly width: number;
  readonly height: number;
  readonly pxPerM: number;
  readonly ground: number;
  readonly bottom: number;
  readonly elements: readonly Element[];
  readonly measures: readonly Measure[];
  readonly labels: readonly Label[];
  readonly bar: { readonly from: Point; readonly px: number; readonly words: string };
  readonly x: (m: number) => number;
  readonly y: (m: number) => number;
}

const [LEFT_PX, RIGHT_PX] = [22, 118];
const LEVEL_PX = 26;
const NAMES_PX = 34;
const MARK_PX = 18;
const ARROWS_PX = 26; // what two arrows need to stand inside a dimension line
const GAP_PX = 6;
const SCALE_PX = 34;

/** Lay a section out in a width. `tall`: the most that the ground below may take. */
export function sectionLayout(section: Section, units: Units, width: number, tall: number): SectionLayout {
  const seen = acrossOf(section);
  const pxPerM = Math.min((width - LEFT_PX - RIGHT_PX) / (seen.right - seen.left), tall / section.deepest_m);
  const middle = (LEFT_PX + width - RIGHT_PX) / 2;
  const x = (m: number) => middle + (m - (seen.left + seen.right) / 2) * pxPerM;
  const levels = groundLevels(section);
  const ground = NAMES_PX + levels.count * LEVEL_PX + MARK_PX + 10;
  const y = (m: number) => ground + m * pxPerM;
  const bottom = y(section.deepest_m);
  const beside = section.dimensions.filter((d) => !d.upright && d.at_m > 0);
  const height = bottom + 6 + beside.length * LEVEL_PX + SCALE_PX;
  const drawing = { section, units, width, x, y, ground, bottom, levels };
  const elements = elementsOf(drawing);
  const measures = measuresOf(drawing);
  return {
    width,
    height,
    pxPerM,
    ground,
    bottom,
    elements: [...elements, ...measures.map((m) => ({ key: m.key, kind: "dimension" as const, outline: [m.from, m.to], told: [m.told] }))],
    measures,
    labels: [...namesAbove(drawing), ...labelsBelow(drawing, elements, measures)],
    bar: barOf(units, pxPerM, height),
    x,
    y,
  };
}

/** Widest ends of what is drawn, without the margin that the server leaves about it. */
function acrossOf(section: Section): { left: number; right: number } {
  const margin = Math.min(0.2, 0.2 * (section.right_m - section.left_m));
  return { left: section.left_m + margin, right: section.right_m - margin };
}

interface Drawing {
  readonly section: Section;
  readonly units: Units;
  readonly width: number;
  readonly ground: number;
  readonly bottom: number;
  readonly levels: { readonly of: ReadonlyMap<number, number>; readonly count: number };
  readonly x: (m: number) => number;
  readonly y: (m: number) => number;
}

/** A level above the ground for each dimension line that lies along it; two of one side do not share one. */
function groundLevels({ dimensions }: Section): { of: Map<number, number>; count: number } {
  const of = new Map<number, number>();
  const along = [...dimensions.entries()].filter(([, d]) => !d.upright && d.at_m <= 0);
  along.sort(([, a], [, b]) => Math.abs(a.to_m) - Math.abs(b.to_m)).forEach(([i], level) => of.set(i, level));
  return { of, count: along.length };
}

function named(section: Section, ...names: string[]): Cited[] {
  return section.told.filter(({ name }) => names.includes(name));
}

function elementsOf({ section, units, x, y, ground }: Drawing): Element[] {
  const found: Element[] = [];
  const add = (key: string, kind: Kind, outline: Point[], told: Cited[]) => found.push({ key, kind, outline, told });
  const line = { x: x(section.aside_m.value), y: y(section.depth_m.value) };
  add("line", "line", [line], named(section, "depth to the middle", "the line, 19 times in 20", "current"));
  for (const [i, q] of section.seconds.entries()) {
    const [low, high] = [q.aside_m.low, q.aside_m.high].map((m) => ({ x: x(m), y: y(q.depth_m) }));
    const source = toldFor(section, i);
    const told = [
      { name: "second line", words: chance(q.probability), source },
      { name: "beside your mark, 19 times in 20", words: sideways(q.aside_m, units), source },
      { name: "its depth, roughly", words: length(q.depth_m, units), source },
    ];
    add(`second-${i}`, "second", [low!, high!], told);
  }
  add("mark", "mark", [{ x: x(0), y: ground - MARK_PX / 2 }], [markTold(section)]);
  if (section.null_m) {
    const ends = [section.null_m.low, section.null_m.high].map((m) => ({ x: x(m), y: ground - MARK_PX / 2 }));
    add("null", "null", ends, named(section, "null, from the peak"));
  }
  for (const hole of section.holes) {
    const end = hole.found ? hole.top_m : hole.dug_to_m;
    const outline = [0, end ?? 0].map((m) => ({ x: x(hole.aside_m), y: y(m) }));
    add(`hole-${hole.hole}`, "hole", outline, [hole.told]);
  }
  if (section.shown_depth_m) {
    const ends = [section.shown_depth_m.low, section.shown_depth_m.high].map((m) => ({ x: x(0), y: y(m) }));
    add("displayed", "displayed", ends, named(section, "depth displayed"));
  }
  const raised = raisedDepth(section);
  if (raised !== null) add("raised", "displayed", [{ x: x(0), y: y(raised) }], named(section, "receiver raised", "depth displayed then"));
  const outline = section.oval.map(([m, down]) => ({ x: x(m), y: y(down) }));
  add("oval", "oval", [...outline, outline[0]!], named(section, "the line, 19 times in 20", "depth to the middle", "numbers hold"));
  return found;
}

/** Depth from the ground that a raised reading showed; over one line alone it is that of the reading on the ground. */
export function raisedDepth({ raised_m, raised_depth_m }: Section): number | null {
  return raised_m === null || raised_depth_m === null ? null : raised_depth_m - raised_m;
}

/** The row that the reading stands in, as the source of what was written down with it. */
function markTold(section: Section): Cited {
  const row = section.told.map(({ source }) => /^(\S+\.csv row \d+)/.exec(source)?.[1]).find(Boolean);
  return { name: "your mark", words: "everything here counts from it", source: row ?? section.name };
}

/** Where a second line came from, as its dimension line tells it. */
function toldFor(section: Section, i: number): string {
  const beside = section.dimensions.filter((d) => !d.upright && d.at_m > 0);
  return (beside[i]?.told.source ?? section.told[0]?.source ?? section.name).split(";")[0]!;
}

function measuresOf(drawing: Drawing): Measure[] {
  const uprights = drawing.section.dimensions.filter((d) => d.upright);
  let below = 0;
  return drawing.section.dimensions.map((d, i) => {
    const key = `dimension-${i}`;
    if (d.upright) return upright(drawing, key, d, uprights.indexOf(d));
    if (d.at_m <= 0) return level(drawing, key, d, drawing.ground - MARK_PX - 6 - (drawing.levels.of.get(i)! + 0.5) * LEVEL_PX, true);
    below += 1;
    return level(drawing, key, d, drawing.bottom + 6 + (below - 0.5) * LEVEL_PX, false);
  });
}

type Dim = Section["dimensions"][number];

/** A dimension line along the ground, above or below what is drawn. */
function level({ x, y, ground, width, section }: Drawing, key: string, d: Dim, at: number, above: boolean): Measure {
  const [from, to] = [
    { x: x(d.from_m), y: at },
    { x: x(d.to_m), y: at },
  ];
  const long = Math.abs(to.x - from.x);
  const inward = long < ARROWS_PX;
  const inside = long >= wide(d.told.words) + ARROWS_PX + 2 * GAP_PX;
  const off = (to.x >= from.x ? 1 : -1) * (GAP_PX + (inward ? ARROWS_PX / 2 : 0));
  // below it goes from the line to a second one
  const [foot, tip] = above ? [ground, ground] : [y(section.depth_m.value), y(d.at_m)];
  const past = above ? -5 : 5;
  return {
    key,
    told: d.told,
    from,
    to,
    inward,
    extensions: [
      [{ x: from.x, y: foot }, { x: from.x, y: at + past }],
      [{ x: to.x, y: tip }, { x: to.x, y: at + past }],
    ],
    text: inside
      ? { at: { x: (from.x + to.x) / 2, y: at - 4 }, rows: [d.told.words], anchor: "middle" }
      : beyond(d.told.words, from.x - off, to.x + off, at + 5, width),
  };
}

/** Words beyond the far end of a dimension line, or beyond its near end where the picture ends first. */
function beyond(words: string, near: number, far: number, y: number, width: number): Words {
  const room = wide(words);
  const way = far >= near ? 1 : -1;
  const fits = way > 0 ? far + room <= width : far - room >= 0;
  const [x, runs] = fits ? [far, way] : [near, -way];
  return { at: { x: runs > 0 ? Math.min(x, width - room) : Math.max(x, room), y }, rows: [words], anchor: runs > 0 ? "start" : "end" };
}

/** A dimension line downward: the first at the left, its words over the line; the others at the right. */
function upright({ x, y, width, bottom, section }: Drawing, key: string, d: Dim, order: number): Measure {
  const left = order === 0;
  const at = left ? 10 : width - RIGHT_PX + 14 + (order - 1) * 14;
  const [from, to] = [
    { x: at, y: y(d.from_m) },
    { x: at, y: Math.min(y(d.to_m), bottom) },
  ];
  const rows = wrapped(unbroken(d.told.words), RIGHT_PX - 14 - GAP_PX);
  const middle = left ? Math.max(y(section.depth_m.low / 2), y(0) + 20) : (from.y + to.y) / 2;
  const past = left ? at - 5 : at + 5;
  return {
    key,
    told: d.told,
    from,
    to,
    inward: to.y - from.y < ARROWS_PX,
    extensions: (d.from_m > 0 ? [from, to] : [to]).map((end) => [{ x: x(d.at_m), y: end.y }, { x: past, y: end.y }] as const),
    text: { at: { x: at + GAP_PX, y: middle + 5 - ((rows.length - 1) * ROW_PX) / 2 }, rows, anchor: "start" },
  };
}

/** The names of what stands on the ground, side by side above its dimension lines. */
function namesAbove({ section, width, x, ground }: Drawing): Label[] {
  const words = [{ key: "mark", name: "your mark", m: 0 }];
  if (section.null_m) words.push({ key: "null", name: "null", m: section.null_m.value });
  const middles = apart(
    words.map(({ name, m }) => ({ at: x(m), width: wide(name) })),
    2,
    width - 2,
  );
  return words.map(({ key, name, m }, i) => ({
    key,
    rows: [name],
    at: { x: middles[i]!, y: 15 },
    anchor: "middle",
    leader: [
      { x: middles[i]!, y: 20 },
      { x: x(m), y: NAMES_PX - 2 }, // bent at once, so that it goes upright past the dimension lines
      { x: x(m), y: ground - MARK_PX },
    ],
  }));
}

/** Names of what lies below, each where it covers least of the rest. */
function labelsBelow({ section, units, x, y, bottom, width }: Drawing, elements: readonly Element[], measures: readonly Measure[]): Label[] {
  const lines = elements.filter(({ kind }) => kind !== "mark" && kind !== "null").map(({ outline }) => boxAround(outline, 4));
  // room round the words of dimensions: a name just above one would be read with its number
  const taken = measures.map(({ text }) => grown(boxOf(text), 10));
  const labels: Label[] = [];
  const put = (key: string, rows: string[], at: Point, off: number) => {
    const room = Math.max(...rows.map(wide));
    const tall = rows.length * ROW_PX;
    const boxes = [off, 2.5 * off, 4 * off, 6 * off].flatMap((d) => around(at, room, tall, d)).map((box) => inside(box, width, y(0), bottom));
    const box = roomiest(boxes, taken, lines);
    taken.push(box);
    const middle = { x: (box.left + box.right) / 2, y: box.top + 14 };
    const far = away(at, corners(box)) > 1.5 * off;
    labels.push({ key, rows, at: middle, anchor: "middle", leader: far ? [nearestOf(corners(box), at), at] : null });
  };
  for (const [i, q] of section.seconds.entries()) {
    const name = q.is_line ? `second line (${q.is_line})` : "second line";
    put(`second-${i}`, [name, chance(q.probability)], { x: x(q.aside_m.value), y: y(q.depth_m) }, 14);
  }
  for (const hole of section.holes)
    put(`hole-${hole.hole}`, [`hole ${hole.hole}`], { x: x(hole.aside_m), y: y((hole.found ? hole.top_m : hole.dug_to_m) ?? 0) }, 10);
  const shown = section.shown_depth_m;
  const read = shown && shown.low === shown.high ? [length(shown.value, units)] : [];
  if (shown) put("displayed", ["displayed", ...read], { x: x(0), y: y(shown.value) }, 12);
  const raised = raisedDepth(section);
  if (raised !== null) put("raised", [`raised ${length(section.raised_m!, units)}`], { x: x(0), y: y(raised) }, 12);
  return labels;
}

/** Boxes about a point, at a distance from it: beside it first, then below and above, then at its corners. */
function around({ x, y }: Point, room: number, tall: number, off: number): Box[] {
  const [right, left, middle] = [x + off, x - off - room, x - room / 2];
  const [below, above, level] = [y + off, y - off - tall, y - tall / 2];
  return (
    [
      [right, level],
      [left, level],
      [middle, below],
      [middle, above],
      [right, below],
      [left, below],
      [right, above],
      [left, above],
    ] as const
  ).map(([start, top]) => ({ left: start, right: start + room, top, bottom: top + tall }));
}

function corners({ left, right, top, bottom }: Box): Point[] {
  const middle = (left + right) / 2;
  return [
    { x: left, y: top },
    { x: middle, y: top },
    { x: right, y: top },
    { x: right, y: bottom },
    { x: middle, y: bottom },
    { x: left, y: bottom },
    { x: left, y: top },
  ];
}

function nearestOf(points: readonly Point[], to: Point): Point {
  return points.reduce((best, each) => (away(to, [each]) < away(to, [best]) ? each : best));
}

/** A box moved into the picture. */
function inside(box: Box, width: number, top: number, bottom: number): Box {
  const dx = Math.max(0, 2 - box.left) - Math.max(0, box.right - width + 2);
  const dy = Math.max(0, top + 4 - box.top) - Math.max(0, box.bottom - bottom);
  return { left: box.left + dx, right: box.right + dx, top: box.top + dy, bottom: box.bottom + dy };
}

const grown = ({ left, right, top, bottom }: Box, by: number): Box => ({ left: left - by, right: right + by, top: top - by, bottom: bottom + by });

export function boxOf({ at, rows, anchor }: Words): Box {
  const room = Math.max(...rows.map(wide));
  const left = anchor === "start" ? at.x : anchor === "end" ? at.x - room : at.x - room / 2;
  return { left, right: left + room, top: at.y - 14, bottom: at.y - 14 + rows.length * ROW_PX };
}

/** A round length, to be laid against what is drawn. */
function barOf(units: Units, pxPerM: number, height: number): SectionLayout["bar"] {
  const step = roundStep(60 / pxPerM, units, 1);
  return { from: { x: 8, y: height - 10 }, px: step * pxPerM, words: tick(step, units) };
}
