/** The chance map of a sweep: its cells, the levels that they are shaded by, and the ground that counts as not swept. */
import type { Grid, SweepMap } from "./types";

const OUTSIDE = 255;
/** From here on ground counts as swept: heard at least half as strong as from straight above, in hundredths. */
const SWEPT = 50;

export interface Level {
  readonly number: number;
  /** From so many hundredths up. */
  readonly from: number;
  /** Written on the ground: so often at least. */
  readonly mark: string;
  readonly words: string;
  /** How much of the text's shade is laid over the ground. */
  readonly shade: number;
}

/** How often a line there is noticed, the best first. */
export const LEVELS: readonly Level[] = [
  { number: 1, from: 90, mark: "9 in 10", words: "9 times in 10 or more", shade: 0 },
  { number: 2, from: 75, mark: "3 in 4", words: "3 in 4 to 9 in 10", shade: 0.12 },
  { number: 3, from: 50, mark: "1 in 2", words: "1 in 2 to 3 in 4", shade: 0.25 },
  { number: 4, from: 25, mark: "1 in 4", words: "1 in 4 to 1 in 2", shade: 0.4 },
  { number: 5, from: 0, mark: "less", words: "less than 1 in 4", shade: 0.55 },
];

export const levelOf = (hundredths: number): Level => LEVELS.find(({ from }) => hundredths >= from)!;

export interface Cells {
  readonly map: SweepMap;
  readonly chance: Uint8Array;
  readonly signal: Uint8Array;
}

export function cellsOf(map: SweepMap): Cells {
  const bytes = (text: string) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return { map, chance: bytes(map.chance), signal: bytes(map.signal) };
}

/** Place of a point of the map, in cells along its columns and its rows. */
export function placeIn(map: SweepMap, column: number, row: number): [number, number] {
  const turn = (map.bearing_deg * Math.PI) / 180;
  const [along, right] = [column * map.cell_m, row * map.cell_m];
  return [
    map.easting_m + along * Math.sin(turn) + right * Math.cos(turn),
    map.northing_m + along * Math.cos(turn) - right * Math.sin(turn),
  ];
}

/** The cell at a place; null outside of the ground. */
export function cellAt({ map, chance, signal }: Cells, [east = 0, north = 0]: Grid): { chance: number; swept: boolean } | null {
  const turn = (map.bearing_deg * Math.PI) / 180;
  const [e, n] = [east - map.easting_m, north - map.northing_m];
  const column = Math.floor((e * Math.sin(turn) + n * Math.cos(turn)) / map.cell_m);
  const row = Math.floor((e * Math.cos(turn) - n * Math.sin(turn)) / map.cell_m);
  if (row < 0 || column < 0 || row >= map.rows || column >= map.columns) return null;
  const at = row * map.columns + column;
  return chance[at] === OUTSIDE ? null : { chance: chance[at]!, swept: signal[at]! >= SWEPT };
}

/** A run of cells of one row that are alike, as its four corners. */
type Run = [Grid, Grid, Grid, Grid];

export interface Shaded {
  readonly level: Level;
  readonly runs: readonly Run[];
  /** Where its mark stands; null where there is no room for it. */
  readonly at: Grid | null;
}

/** The ground by level, and what of it was not swept. */
export function shaded(cells: Cells): { levels: Shaded[]; unswept: Run[] } {
  const { map, chance, signal } = cells;
  const number = Array.from(chance, (c) => (c === OUTSIDE ? 0 : levelOf(c).number));
  const levels = LEVELS.map((level) => ({
    level,
    runs: runsOf(map, (at) => number[at] === level.number),
    at: roomFor(map, number, level.number),
  }));
  const unswept = runsOf(map, (at) => chance[at] !== OUTSIDE && signal[at]! < SWEPT);
  return { levels: levels.filter(({ runs }) => runs.length > 0), unswept };
}

function runsOf(map: SweepMap, has: (at: number) => boolean): Run[] {
  const runs: Run[] = [];
  const corner = (column: number, row: number): Grid => placeIn(map, column, row);
  for (let row = 0; row < map.rows; row += 1)
    for (let from = 0; from < map.columns; from += 1) {
      if (!has(row * map.columns + from)) continue;
      let to = from + 1;
      while (to < map.columns && has(row * map.columns + to)) to += 1;
      runs.push([corner(from, row), corner(to, row), corner(to, row + 1), corner(from, row + 1)]);
      from = to;
    }
  return runs;
}

const ROUND = 3; // cells to each side that have to be mostly alike for a mark to stand there

function roomFor(map: SweepMap, number: readonly number[], wanted: number): Grid | null {
  let [best, most] = [[] as Grid[], ROUND * (2 * ROUND + 1)];
  for (let row = 0; row < map.rows; row += 1)
    for (let column = 0; column < map.columns; column += 1) {
      if (number[row * map.columns + column] !== wanted) continue;
      let alike = 0;
      for (let r = Math.max(row - ROUND, 0); r <= Math.min(row + ROUND, map.rows - 1); r += 1)
        for (let c = Math.max(column - ROUND, 0); c <= Math.min(column + ROUND, map.columns - 1); c += 1)
          if (number[r * map.columns + c] === wanted) alike += 1;
      if (alike < most) continue;
      if (alike > most) [best, most] = [[], alike];
      best.push(placeIn(map, column + 0.5, row + 0.5));
    }
  return best[Math.floor(0.75 * best.length)] ?? null; // of places as good one off the middle, where gaps have their letters
}
