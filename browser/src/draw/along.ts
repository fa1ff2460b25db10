/** A line from end to end laid out in pixels: depth downward, below it the current on a log axis, one chainage for both. */
import type { Units } from "../words/lengths";
import { logSteps, multiples, roundStep, tick, wide, type Point } from "./geometry";
import type { AlongLine, AlongPlace } from "./types";

export interface Tick {
  readonly at: number;
  readonly words: string;
}

/** One stretch of a band between places that nothing comes between. */
export interface Stretch {
  readonly band: readonly Point[];
  readonly middle: readonly Point[];
  /** The hook-up that its current is of, where the line has several; "" otherwise. */
  readonly hookup: string;
}

export interface AlongLayout {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly right: number;
  readonly secondsTop: number;
  readonly depthTop: number;
  readonly depthBottom: number;
  readonly currentTop: number;
  readonly currentBottom: number;
  readonly chainages: readonly Tick[];
  readonly depths: readonly Tick[];
  readonly currents: readonly Tick[];
  readonly depth: readonly Stretch[];
  readonly current: readonly Stretch[];
  readonly x: (chainage: number) => number;
  readonly down: (depth: number) => number;
  readonly up: (current: number) => number;
}

const EVENT_PX = 26; // what stands above the ground, where there is any: changes by their numbers,
export const SECOND_PX = 26; // stretches of second lines under them, one below the other,
const HOLE_PX = 20; // and the names of test holes
const GAP_PX = 48;
const FOOT_PX = 44;
const END_PX = 14;

/** The hook-up that a place was read under. */
export type HookupOf = (place: AlongPlace) => string;

/** Lay a line out in a width; `tall` is the height of the depths, the currents have two thirds of it. */
export function alongLayout(line: AlongLine, units: Units, width: number, tall: number, hookupOf: HookupOf = () => ""): AlongLayout {
  const margin = line.to_m - line.from_m < 1e-6 ? 1 : 0;
  const [from, to] = [line.from_m - margin, line.to_m + margin];
  const deep = multiples(0, line.deepest_m, roundStep(line.deepest_m, units, 6));
  const amps = logSteps(line.weakest_ma, line.strongest_ma);
  const sides = [...deep.map((m) => tick(m, units)), ...amps.map(String)].map(wide);
  const left = Math.max(...sides) + 10;
  const right = width - END_PX;
  const secondsTop = line.events.length > 0 ? EVENT_PX : 0;
  const depthTop = secondsTop + line.seconds.length * SECOND_PX + (line.holes.length > 0 ? HOLE_PX : 0) + 10;
  const depthBottom = depthTop + tall;
  const currentTop = depthBottom + GAP_PX;
  const currentBottom = currentTop + Math.round((2 / 3) * tall);
  const within = (px: number, low: number, high: number) => Math.min(Math.max(px, low), high);
  const x = (m: number) => left + ((m - from) / (to - from)) * (right - left);
  // what runs out of its axis is cut off there
  const down = (m: number) => within(depthTop + (m / line.deepest_m) * tall, depthTop, depthBottom);
  const span = Math.log(line.strongest_ma / line.weakest_ma) || 1;
  const up = (ma: number) =>
    within(currentTop + (Math.log(line.strongest_ma / Math.max(ma, 1e-9)) / span) * (currentBottom - currentTop), currentTop, currentBottom);
  const stretches = stretchesOf(line);
  return {
    width,
    height: currentBottom + FOOT_PX,
    left,
    right,
    secondsTop,
    depthTop,
    depthBottom,
    currentTop,
    currentBottom,
    chainages: chainagesOf(from, to, units, x, right - left),
    depths: deep.map((m) => ({ at: down(m), words: tick(m, units) })),
    currents: amps.map((ma) => ({ at: up(ma), words: String(ma) })),
    depth: stretches.map((places) => stretch(places, x, down, ({ depth_m }) => depth_m)),
    current: stretches
      .flatMap((places) => byHookup(places, hookupOf))
      .map((places) => stretch(places, x, up, ({ current_ma }) => current_ma, hookupOf(places[0]!))),
    x,
    down,
    up,
  };
}

function chainagesOf(from: number, to: number, units: Units, x: (m: number) => number, room: number): Tick[] {
  const step = roundStep(to - from, units, Math.max(Math.floor(room / 80), 1));
  return multiples(from, to, step).map((m) => ({ at: x(m), words: tick(m, units) }));
}

/** Places in order, in groups: nothing is drawn across where the lines may have been swapped. */
export function stretchesOf({ places, swaps }: AlongLine): AlongPlace[][] {
  const groups: AlongPlace[][] = [];
  let last: AlongPlace | null = null;
  for (const place of [...places].sort((a, b) => a.chainage_m - b.chainage_m)) {
    const [low, high] = [last?.chainage_m ?? 0, place.chainage_m];
    const broken = last === null || swaps.some((swap) => swap.from_m < high && swap.to_m > low);
    if (broken) groups.push([place]);
    else groups.at(-1)!.push(place);
    last = place;
  }
  return groups;
}

/** Each hook-up puts a current of its own on the line: one is not joined to another. */
function byHookup(places: readonly AlongPlace[], hookupOf: HookupOf): AlongPlace[][] {
  const groups = new Map<string, AlongPlace[]>();
  for (const place of places) groups.set(hookupOf(place), [...(groups.get(hookupOf(place)) ?? []), place]);
  return [...groups.values()];
}

type Band = { readonly value: number; readonly low: number; readonly high: number };

function stretch(
  places: readonly AlongPlace[],
  x: (m: number) => number,
  y: (value: number) => number,
  of: (place: AlongPlace) => Band,
  hookup = "",
): Stretch {
  const points = (end: (band: Band) => number) => places.map((place) => ({ x: x(place.chainage_m), y: y(end(of(place))) }));
  const band = [...points(({ high }) => high), ...points(({ low }) => low).reverse()];
  return { band, middle: points(({ value }) => value), hookup };
}

/** The place whose chainage is nearest to where was tapped. */
export function placeAt(line: AlongLine, layout: AlongLayout, px: number): AlongPlace | null {
  const off = (place: AlongPlace) => Math.abs(layout.x(place.chainage_m) - px);
  return line.places.reduce<AlongPlace | null>((best, each) => (best === null || off(each) < off(best) ? each : best), null);
}

/** What changes on the way, in one order and numbered, as its sentences stand below the drawing. */
export function notesOf(line: AlongLine): { readonly at: number; readonly words: string; readonly cause: string }[] {
  return line.events.map(({ chainage_m, words, cause }) => ({ at: chainage_m, words, cause })).sort((a, b) => a.at - b.at);
}
