/** Distances, directions and round numbers on the plan: metres east and north, bearings clockwise from grid north. */
import { INCH_M, length, type Units } from "../words/lengths";

export type Point = readonly [number, number];
export type Path = readonly Point[];

export const distance = (a: Point, b: Point): number => Math.hypot(b[0] - a[0], b[1] - a[1]);

export const bearingDeg = (a: Point, b: Point): number => (Math.atan2(b[0] - a[0], b[1] - a[1]) * (180 / Math.PI) + 360) % 360;

export function moved(from: Point, bearing: number, far: number): Point {
  const turn = (bearing * Math.PI) / 180;
  return [from[0] + far * Math.sin(turn), from[1] + far * Math.cos(turn)];
}

export const EIGHT = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"] as const;

/** A bearing as one of eight words. */
export const eighth = (bearing: number): (typeof EIGHT)[number] => EIGHT[Math.round(bearing / 45) % 8]!;

/** "12 ft 3 in north-east of meter-1"; "at meter-1" within an inch of it. */
export function beside(at: Point, from: Point, name: string, units: Units): string {
  const far = distance(from, at);
  return far < INCH_M ? `at ${name}` : `${length(far, units)} ${eighth(bearingDeg(from, at))} of ${name}`;
}

export const pathLength = (path: Path): number => path.slice(1).reduce((sum, at, i) => sum + distance(path[i]!, at), 0);

const FEET = [1 / 12, 1 / 4, 1 / 2, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000].map((feet) => 12 * feet * INCH_M);
const METRES = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000];

/** The longest round length that fits into `most` metres. */
export function roundLength(most: number, units: Units): number {
  const lengths = units === "m" ? METRES : FEET;
  return lengths.findLast((each) => each <= most) ?? lengths[0]!;
}

/** A round length in words: "6 in", "20 ft", "0.5 m". */
export function roundWords(metres: number, units: Units): string {
  if (units === "m") return metres < 0.1 ? `${Math.round(metres * 100)} cm` : `${Number(metres.toPrecision(3))} m`;
  const inches = Math.round(metres / INCH_M);
  return inches % 12 ? `${inches} in` : `${inches / 12} ft`;
}

/** A coordinate as the text of a cell, to the millimetre. */
export const coordinate = (metres: number): string => (Math.round(metres * 1000) / 1000 || 0).toFixed(3);

/** Whether every coordinate could be a longitude and a latitude, and so is hardly one of a grid in metres. */
export function looksLikeDegrees(points: Iterable<Point>): boolean {
  let fine = 0;
  for (const [x, y] of points) {
    if (Math.abs(x) > 180 || Math.abs(y) > 90) return false;
    if (!Number.isInteger(x * 1e4) && !Number.isInteger(y * 1e4)) fine += 1;
  }
  return fine > 0;
}
