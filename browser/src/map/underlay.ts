/**
 * What is laid under the plan: a picture with a world file beside it (six numbers, read by most map programs), or lines
 * as GeoJSON. Both are files of the job, in its folder `plans`.
 */
import { bearingDeg, distance, moved, type Point } from "./plane";

/** Pixels to metres: east = a·u + b·v + c, north = d·u + e·v + f, from the top left corner of the picture. */
export interface Affine {
  readonly a: number;
  readonly b: number;
  readonly c: number;
  readonly d: number;
  readonly e: number;
  readonly f: number;
}

/** A picture `wideM` across, upright, its middle at a place. */
export function upright(width: number, height: number, middle: Point, wideM: number): Affine {
  const m = wideM / width;
  return { a: m, b: 0, c: middle[0] - wideM / 2, d: 0, e: -m, f: middle[1] + (height * m) / 2 };
}

export const toGrid = ({ a, b, c, d, e, f }: Affine, [u, v]: Point): Point => [a * u + b * v + c, d * u + e * v + f];

export function toPixels({ a, b, c, d, e, f }: Affine, [x, y]: Point): Point {
  const area = a * e - b * d;
  return [(e * (x - c) - b * (y - f)) / area, (a * (y - f) - d * (x - c)) / area];
}

/**
 * The picture moved, turned and scaled so that what was at `first` and `second` lies `farM` apart, the first at
 * `firstIs` and the second the way `secondIs` lies from it. Not told: the place, or the direction, stays.
 */
export function fitted(from: Affine, first: Point, second: Point, farM: number, firstIs: Point | null, secondIs: Point | null): Affine {
  const origin = firstIs ?? first;
  const turned = secondIs && distance(origin, secondIs) > 0 ? bearingDeg(origin, secondIs) : bearingDeg(first, second);
  const turn = ((bearingDeg(first, second) - turned) * Math.PI) / 180; // counter-clockwise
  const scale = farM / distance(first, second);
  const [p, q] = [scale * Math.cos(turn), scale * Math.sin(turn)];
  const { a, b, c, d, e, f } = from;
  const [x, y] = [c - first[0], f - first[1]];
  return { a: p * a - q * d, b: p * b - q * e, c: origin[0] + p * x - q * y, d: q * a + p * d, e: q * b + p * e, f: origin[1] + q * x + p * y };
}

/** How far the second point lies from where it was said to be, once the picture is placed. */
export function left(firstIs: Point, secondIs: Point, farM: number): number {
  return distance(moved(firstIs, bearingDeg(firstIs, secondIs), farM), secondIs);
}

/** A world file: its numbers are of the middle of the top left pixel. */
export function worldFile({ a, b, c, d, e, f }: Affine): string {
  return [a, d, b, e, c + (a + b) / 2, f + (d + e) / 2].map((each) => each.toFixed(9)).join("\n") + "\n";
}

export function fromWorldFile(text: string): Affine | null {
  const numbers = text.trim().split(/\s+/).map(Number);
  if (numbers.length < 6 || !numbers.slice(0, 6).every(Number.isFinite)) return null;
  const [a, d, b, e, x, y] = numbers as [number, number, number, number, number, number];
  return a * e - b * d === 0 ? null : { a, b, c: x - (a + b) / 2, d, e, f: y - (d + e) / 2 };
}

const ENDINGS: Record<string, [string, string]> = { "image/jpeg": ["jpg", "jgw"], "image/png": ["png", "pgw"], "image/webp": ["webp", "wpw"] };

/** Endings of a picture and of its world file; null where the browser may not draw it. */
export const endingsOf = (media: string): [string, string] | null => ENDINGS[media] ?? null;

/** The name of the world file beside a picture of the folder `plans`, "" where it is no such picture. */
export function worldNameOf(name: string): string {
  const ending = Object.values(ENDINGS).find(([picture]) => name.startsWith("plans/") && name.endsWith(`.${picture}`));
  return ending ? name.slice(0, -ending[0].length) + ending[1] : "";
}
