/** A pass of a sweep as its rows: what it listened for and met on the first, a place on each. */
import type { Row } from "../fold/fold";
import type { Cells } from "../phone/cells";
import { placeShort, withoutPlace } from "../sheets/place";
import type { Answer } from "../parts/Choice";

export const METHODS: readonly Answer<string>[] = [
  { value: "passive-power", words: "The hum of the mains", quiet: "power, 50 or 60 Hz, no transmitter" },
  { value: "passive-radio", words: "Radio", quiet: "distant stations, no transmitter" },
  { value: "active", words: "A transmitter of ours", quiet: "set down on the ground, or on a line" },
];

export const MET: readonly Answer<string>[] = [
  { value: "none", words: "Looked, no signal" },
  { value: "marked", words: "Only lines that have their mark" },
  { value: "unexplained", words: "A signal with no mark", quiet: "trace it and mark it before anything else" },
];

export const ANTENNAS: readonly [string, string][] = [
  ["one-axis", "One coil"],
  ["three-axis", "Sum of three coils"],
  ["", "Not known"],
];

/** A pass while it is written down; `own` are the cells of its first row that are of the whole pass. */
export interface Pass {
  readonly own: Cells;
  readonly from: Cells;
  readonly to: Cells;
  /** Rows between its ends, as a GNSS log has them. */
  readonly between: readonly Row[];
}

const OF_PASS = ["method", "frequency_hz", "antenna", "signal", "taken_at", "by", "note"];

export function passOf(rows: readonly Row[]): Pass {
  const [first = {}, ...others] = rows;
  const own = Object.fromEntries(Object.entries(first).filter(([name]) => OF_PASS.includes(name)));
  const rest = (row: Row) => Object.fromEntries(Object.entries(row).filter(([name]) => !(name in own)));
  return { own, from: rest(first), to: others.at(-1) ?? {}, between: others.slice(0, -1) };
}

export function rowsOf({ own, from, to, between }: Pass): Cells[] {
  return [{ ...own, ...from }, ...between, to];
}

/** The words of a pass in a list of them. */
export function passWords(rows: readonly Row[]): string {
  const { own, from, to } = passOf(rows);
  const of = (answers: readonly Answer<string>[], value: string | undefined) => answers.find((each) => each.value === value)?.words;
  const met = of(MET, own.signal)?.toLowerCase() ?? "what it met is not said";
  const ends = [placeShort(from), placeShort(to)];
  const where = ends.every(Boolean) ? ` From ${ends[0]} to ${ends[1]}.` : " Where is not said.";
  return `${of(METHODS, own.method) ?? "Listened for what is not said"}: ${met}.${where}`;
}

export const isPlaced = (cells: Cells): boolean => Object.keys(cells).length > Object.keys(withoutPlace(cells)).length;
