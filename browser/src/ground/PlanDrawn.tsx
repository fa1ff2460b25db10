/** What lies there from above, as wide as it carries under one hook-up, and the depth that a receiver would show along. */
import { useState } from "preact/hooks";
import { Drawing, Picked } from "../draw/Drawing";
import { multiples, path, roundStep, tick, type Point } from "../draw/geometry";
import { useWidth } from "../draw/useWidth";
import { length, type Units } from "../words/lengths";
import { Ground, InkLine } from "./Ground";
import type { Shape, View } from "./ground";
import type { PlanHookup, PlanPlace, PlanScreen } from "./types";

const RIM_PX = 26;
const OWN = "from the sketch of this job";
const WORKED = "worked out from the sketch of this job";

export function PlanDrawn({ screen, hookup }: { screen: PlanScreen; hookup: PlanHookup }) {
  if (!screen.extent) return null;
  const { conductors, connect, stake } = hookup;
  return (
    <Ground
      extent={screen.extent}
      units={screen.units as Units}
      says={`${hookup.says} ${hookup.expect}`}
      otherwise="Tap a line, a connection, a stake, a bond or a ground for what it is."
      shapes={(view) => shapesOf(screen, hookup, view)}
    >
      {(view) => (
        <>
          {conductors.map(({ path: course, width }) => (
            <path class="carries" d={path(course.map(view.px))} style={{ strokeWidth: 4 + RIM_PX * width }} />
          ))}
          {conductors.map(({ ink, path: course, target }) => (
            <InkLine view={view} ink={ink} course={course} thick={target} />
          ))}
          {screen.signs.map(({ place }) => (
            <circle class="null" cx={view.px(place).x} cy={view.px(place).y} r="5" />
          ))}
          <Named view={view} at={view.px(connect.place)} words="connect" />
          {stake && <Named view={view} at={view.px(stake.place)} words="stake" />}
        </>
      )}
    </Ground>
  );
}

function Named({ view, at, words }: { view: View; at: Point; words: string }) {
  const end = at.x > view.width / 2;
  return (
    <g>
      <circle class="mark" cx={at.x} cy={at.y} r="7" />
      <text class="letter" x={at.x + (end ? -8 : 8)} y={at.y + 26} text-anchor={end ? "end" : "start"}>
        {words}
      </text>
    </g>
  );
}

function shapesOf(screen: PlanScreen, { conductors, connect, stake }: PlanHookup, view: View): Shape[] {
  const points = [...screen.signs, connect, ...(stake ? [stake] : [])];
  return [
    ...conductors.map(({ id, ink, path: course, words }) => ({
      key: `line/${id}`,
      outline: course.map(view.px),
      told: [
        { name: `${id}, ${ink.utility}`, words, source: WORKED },
      ],
    })),
    ...points.map(({ id, kind, place, words }) => ({ key: `${kind}/${id}`, outline: [view.px(place)], told: [{ name: `${kind} ${id}`, words, source: OWN }] })),
  ];
}

const [LEFT_PX, RIGHT_PX, TOP_PX, TALL_PX, FOOT_PX] = [64, 16, 24, 150, 30];

/** How deep the target lies and how deep it would look, along it. */
export function DepthShown({ places, target, units }: { places: readonly PlanPlace[]; target: string; units: Units }) {
  const [ref, width] = useWidth<HTMLElement>();
  const [picked, setPicked] = useState<number | null>(null);
  if (places.length < 2) return null;
  const [from, to] = [places[0]!.chainage_m, places.at(-1)!.chainage_m];
  const deepest = 1.15 * Math.max(...places.flatMap(({ depth_m, shown_depth_m }) => [depth_m, shown_depth_m]));
  const x = (m: number) => LEFT_PX + ((m - from) / (to - from)) * (width - LEFT_PX - RIGHT_PX);
  const y = (m: number) => TOP_PX + (m / deepest) * TALL_PX;
  const chosen = picked === null ? undefined : places[picked];
  const tap = ({ x: at }: Point) => {
    const distances = places.map(({ chainage_m }) => Math.abs(x(chainage_m) - at));
    setPicked(distances.indexOf(Math.min(...distances)));
  };
  const cross = ({ x: a, y: b }: Point) => `M${a - 4} ${b - 4}l8 8m0 -8l-8 8`;
  return (
    <figure class="drawn-figure" ref={ref}>
      <Drawing width={width} height={TOP_PX + TALL_PX + FOOT_PX} says={`Depth along ${target}: as it lies, and as a receiver would show it.`} onTap={tap}>
        {chosen && <path class="chosen" d={`M${x(chosen.chainage_m)} ${TOP_PX}V${TOP_PX + TALL_PX}`} />}
        {multiples(0, deepest, roundStep(deepest, units, 4)).map((m) => (
          <>
            <line class="grid" x1={LEFT_PX} x2={width - RIGHT_PX} y1={y(m)} y2={y(m)} />
            <text x={LEFT_PX - 6} y={y(m) + 5} text-anchor="end">
              {tick(m, units)}
            </text>
          </>
        ))}
        {multiples(from, to, roundStep(to - from, units, 4)).map((m) => (
          <>
            <line class="grid" x1={x(m)} x2={x(m)} y1={TOP_PX} y2={TOP_PX + TALL_PX} />
            <text x={x(m)} y={TOP_PX + TALL_PX + 20} text-anchor="middle">
              {tick(m, units)}
            </text>
          </>
        ))}
        <path class="ground" d={`M${LEFT_PX} ${TOP_PX}H${width - RIGHT_PX}`} />
        <path class="middle" d={path(places.map(({ chainage_m, depth_m }) => ({ x: x(chainage_m), y: y(depth_m) })))} />
        <path class="cross" d={places.filter(({ followed }) => followed).map(({ chainage_m, shown_depth_m }) => cross({ x: x(chainage_m), y: y(shown_depth_m) })).join("")} />
      </Drawing>
      <figcaption class="quiet">Depth along {target}. Line: as it lies by the sketch. Crosses: as a receiver would show it, where it can be traced.</figcaption>
      <Picked told={chosen ? toldOf(chosen, units) : []} otherwise="Tap a place for its numbers." />
    </figure>
  );
}

function toldOf({ chainage_m, depth_m, shown_depth_m, shift_m, current_ma, followed, holds }: PlanPlace, units: Units) {
  const side = shift_m === 0 ? "over it" : `${length(Math.abs(shift_m), units)} ${shift_m < 0 ? "left" : "right"} of it`;
  const trust = !followed ? "it cannot be traced here" : holds ? "mark and depth hold" : "mark or depth does not hold";
  return [
    { name: `${length(chainage_m, units)} along`, words: trust, source: WORKED },
    { name: "depth", words: `${length(depth_m, units)} as it lies, ${length(shown_depth_m, units)} as shown`, source: WORKED },
    { name: "peak", words: side, source: WORKED },
    { name: "current", words: `${Number(current_ma.toPrecision(2))} mA`, source: WORKED },
  ];
}
