/** Ground seen from above, north up and to scale: metres of the job's grid to pixels and back. */
import type { Cited } from "../draw/types";
import { away, type Point } from "../draw/geometry";
import type { Extent, Grid } from "./types";

export interface View {
  readonly width: number;
  readonly height: number;
  readonly pxPerM: number;
  /** Pixels of a place. */
  readonly px: (place: Grid) => Point;
  /** Place of pixels, to the centimetre. */
  readonly place: (at: Point) => [number, number];
}

const MARGIN_PX = 26;
const SCALE_PX = 34;
const LEAST_M = 2; // a single point is seen with some ground round it

/** All of an extent in a width; `tall` is the most that it may take upright. */
export function viewOf(extent: Extent, width: number, tall: number): View {
  const [wide, high] = [Math.max(extent.east_m - extent.west_m, LEAST_M), Math.max(extent.north_m - extent.south_m, LEAST_M)];
  const pxPerM = Math.min((width - 2 * MARGIN_PX) / wide, tall / high);
  const [east, north] = [(extent.west_m + extent.east_m) / 2, (extent.south_m + extent.north_m) / 2];
  const middle = MARGIN_PX + (high * pxPerM) / 2;
  return {
    width,
    height: 2 * middle + SCALE_PX,
    pxPerM,
    px: ([e = 0, n = 0]) => ({ x: width / 2 + (e - east) * pxPerM, y: middle - (n - north) * pxPerM }),
    place: ({ x, y }) => [centimetres(east + (x - width / 2) / pxPerM), centimetres(north - (y - middle) / pxPerM)],
  };
}

const centimetres = (m: number): number => Math.round(m * 100) / 100;

/** Something that a tap can mean: a point or a path where `area` is false, else what lies inside of its ring. */
export interface Shape {
  readonly key: string;
  readonly outline: readonly Point[];
  readonly area?: boolean;
  readonly told: readonly Cited[];
}

/** What a tap means: the nearest point or path within reach, else the last of the areas it lies in. */
export function tapped(shapes: readonly Shape[], at: Point, reach = 24): Shape | null {
  let [best, least] = [null as Shape | null, reach];
  for (const each of shapes) {
    const distance = each.area ? Infinity : away(at, each.outline) + (each.outline.length > 1 ? 6 : 0); // points before paths
    if (distance < least) [best, least] = [each, distance];
  }
  return best ?? shapes.findLast((each) => each.area && inside(each.outline, at)) ?? null;
}

export function inside(ring: readonly Point[], { x, y }: Point): boolean {
  let odd = false;
  for (const [i, b] of ring.entries()) {
    const a = ring[(i || ring.length) - 1]!;
    if (a.y > y !== b.y > y && x < a.x + ((y - a.y) / (b.y - a.y)) * (b.x - a.x)) odd = !odd;
  }
  return odd;
}

/** The head of an arrow at the middle of the last leg of a path that is at least `least` pixels long. */
export function arrow(path: readonly Point[], size = 7): Point[] {
  const [a, b] = path.slice(-2);
  if (!a || !b) return [];
  const long = Math.hypot(b.x - a.x, b.y - a.y);
  if (long < 2 * size) return [];
  const [u, v] = [(b.x - a.x) / long, (b.y - a.y) / long];
  const tip = { x: (a.x + b.x) / 2 + u * size, y: (a.y + b.y) / 2 + v * size };
  const side = (way: 1 | -1): Point => ({ x: tip.x - 2 * u * size - way * v * size, y: tip.y - 2 * v * size + way * u * size });
  return [side(1), tip, side(-1)];
}

/** Places of signs, each moved down from where it is wanted until it covers none before it. */
export function spread(wanted: readonly Point[], apart = 30): Point[] {
  const put: Point[] = [];
  for (const at of wanted) {
    let y = at.y;
    while (put.some((other) => Math.hypot(other.x - at.x, other.y - y) < apart)) y += apart / 2;
    put.push({ x: at.x, y });
  }
  return put;
}
