/** Sentences of the site screen, and what of the plan is looked at first. */
import { length } from "../words/lengths";
import { inkOf } from "./inks";
import type { Item, SiteScreen } from "./items";
import { beside, bearingDeg, distance, eighth, pathLength, type Path, type Point } from "./plane";
import type { Site } from "./useSite";

/** The only line of the job that is painted in a colour; "" where there is none or more than one. */
export function lineOfColour({ folded }: Site, colour: string): string {
  const fit = [...(folded.items.lines?.values() ?? [])].filter(({ keys }) => inkOf(keys.utility).colour === colour);
  return fit.length === 1 ? fit[0]!.key : "";
}

/** What was measured: the last leg with its direction, and all of it. */
export function measured(points: Path, { units }: Pick<Site, "units">): string {
  const [from, at] = points.slice(-2) as [Point, Point];
  const leg = `${length(distance(from, at), units)} ${eighth(bearingDeg(from, at))}`;
  return points.length > 2 ? `${leg}; ${length(pathLength(points), units)} in all.` : `${leg}.`;
}

/** Where the cross is, from the nearest thing that has a name. */
export function crossWords(cross: Point, { items, units }: Pick<Site, "items" | "units">): string {
  const points = items.filter(({ path, layer }) => path.length === 1 && (layer === "thing" || layer === "corner" || layer === "reading"));
  const far = (each: Item) => distance(each.path[0]!, cross);
  const near = points.reduce<Item | null>((best, each) => (best && far(best) <= far(each) ? best : each), null);
  if (!near) {
    const [east, north] = cross;
    const said = [`${length(Math.abs(east), units)} ${east < 0 ? "west" : "east"}`, `${length(Math.abs(north), units)} ${north < 0 ? "south" : "north"}`];
    return `Cross: ${said.join(", ")} of the grid's zero.`;
  }
  const name = near.layer === "reading" ? `reading ${near.key}` : near.layer === "corner" ? `corner ${near.key}` : near.key;
  return `Cross: ${beside(cross, near.path[0]!, name, units)}.`;
}

/** The point that is there, where one is near enough to be meant. */
export function snapped(at: Point, items: readonly Item[], points: Path, reach: number): Point {
  const there = [...points.slice(0, 1), ...items.filter(({ layer }) => layer !== "second" && layer !== "to-paint").flatMap(({ path }) => path)];
  const near = there.reduce<Point | null>((best, each) => (best && distance(best, at) <= distance(each, at) ? best : each), null);
  return near && distance(near, at) <= reach ? near : at;
}

/** West, south, east and north of what is to be seen: as the server says, widened by what this phone added. */
export function boxOf(items: readonly Item[], extent: SiteScreen["extent"]): [number, number, number, number] {
  const points = items.filter(({ fact, layer }) => (fact || !extent) && layer !== "pass").flatMap(({ path }) => path);
  const ends: [number, number][] = points.map(([x, y]) => [x, y]);
  if (extent) ends.push([extent.west_m, extent.south_m], [extent.east_m, extent.north_m]);
  if (ends.length === 0) return [-6, -6, 6, 6];
  const [xs, ys] = [ends.map(([x]) => x), ends.map(([, y]) => y)];
  const box: [number, number, number, number] = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  const room = Math.max(2, 0.06 * Math.max(box[2] - box[0], box[3] - box[1]));
  return extent && points.length === 0 ? box : [box[0] - room, box[1] - room, box[2] + room, box[3] + room];
}
