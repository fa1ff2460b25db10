/** The frame of ground seen from above: scale, north, what can be tapped, and the numbers of what was. */
import "./ground.css";
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { Drawing, Picked } from "../draw/Drawing";
import { path, roundStep, tick, type Point } from "../draw/geometry";
import type { components } from "../api/schema";
import type { Ink } from "../draw/types";
import { useWidth } from "../draw/useWidth";
import type { Units } from "../words/lengths";
import { arrow, tapped, viewOf, type Shape, type View } from "./ground";
import type { DrawnDig, Extent, Grid } from "./types";

interface GroundProps {
  extent: Extent;
  units: Units;
  /** What a screen reader says of it. */
  says: string;
  /** What can be tapped, what lies on top last. */
  shapes?: (view: View) => readonly Shape[];
  /** Said while nothing is tapped. */
  otherwise: string;
  /** Given a tap's place where a place is asked for; `reach` is how far off a finger may be [m]. */
  onPlace?: (place: readonly [number, number], reach: number) => void;
  /** What is told of the ground itself where it is tapped. */
  ofGround?: (place: readonly [number, number]) => Shape["told"];
  children: (view: View) => ComponentChildren;
}

/** How far a finger is off what it means [px]; no source. */
const FINGER_PX = 10;

type DrawnLine = components["schemas"]["DrawnLine"];

export function Ground({ extent, units, says, shapes, otherwise, onPlace, ofGround, children }: GroundProps) {
  const [ref, width] = useWidth<HTMLElement>();
  const [picked, setPicked] = useState<{ shape: Shape | null; told: Shape["told"] } | null>(null);
  const view = viewOf(extent, width, Math.min(520, Math.max(220, 0.5 * innerHeight)));
  const tap = (at: Point) => {
    if (onPlace) return onPlace(view.place(at), FINGER_PX / view.pxPerM);
    const shape = tapped(shapes?.(view) ?? [], at);
    const told = [...(shape?.told ?? []), ...(ofGround?.(view.place(at)) ?? [])];
    setPicked(told.length ? { shape, told } : null);
  };
  const chosen = picked?.shape && shapes?.(view).find(({ key }) => key === picked.shape!.key);
  return (
    <figure class="drawn-figure ground-figure" ref={ref}>
      <Drawing width={width} height={view.height} says={says} onTap={tap}>
        <Patterns />
        {children(view)}
        {chosen && <path class={chosen.area ? "chosen-area" : "chosen"} d={chosen.outline.length > 1 ? path(chosen.outline, chosen.area) : dot(chosen.outline[0]!)} />}
        <Scale view={view} units={units} />
      </Drawing>
      {!onPlace && <Picked told={picked?.told ?? []} otherwise={otherwise} />}
    </figure>
  );
}

const dot = ({ x, y }: Point): string => `M${x} ${y}h0.1`;

/** Hatches by direction and by line, so that they are told apart without hue, in sun and in print. */
export function Patterns() {
  const line = (d: string, dashes?: string) => <path class="hatching" d={d} stroke-dasharray={dashes} />;
  return (
    <defs>
      <pattern id="hatch-one-way" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
        {line("M0 0V9")}
      </pattern>
      <pattern id="hatch-both-ways" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
        {line("M0 0V9M0 0H9")}
      </pattern>
      <pattern id="hatch-broken" width="9" height="12" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
        {line("M0 0V5")}
        {line("M4.5 6V11")}
      </pattern>
      <pattern id="hatch-unswept" width="7" height="7" patternUnits="userSpaceOnUse">
        <circle class="shade" cx="2" cy="2" r="1.3" />
      </pattern>
    </defs>
  );
}

export const hatchFill = (hatch: string): string => (hatch === "none" ? "none" : `url(#hatch-${hatch.replace(" ", "-")})`);

/** A patch of what the drawing shows, for its legend. */
export function Swatch({ fill, shade = 0, edge = true, children }: { fill: string; shade?: number; edge?: boolean; children?: ComponentChildren }) {
  return (
    <svg class="swatch drawing" viewBox="0 0 44 30" width="44" height="30" aria-hidden="true">
      <rect x="1" y="1" width="42" height="28" class="shade" style={{ fillOpacity: shade }} />
      <rect x="1" y="1" width="42" height="28" fill={fill} class={edge ? "swatch-edge" : ""} />
      {children}
    </svg>
  );
}

function Scale({ view, units }: { view: View; units: Units }) {
  const step = roundStep((view.width * 0.6) / view.pxPerM, units, 2);
  const [x, y, long] = [14, view.height - 16, step * view.pxPerM];
  const north = view.width - 20;
  return (
    <g>
      <g class="bar">
        <path d={`M${x} ${y - 5}v10m0 -5h${long}m0 -5v10`} />
      </g>
      <text x={x + long + 8} y={y + 5}>
        {tick(step, units)}
      </text>
      <path class="cross" d={`M${north} ${y + 10}V${y - 14}l-5 9m5 -9l5 9`} />
      <text x={north - 10} y={y + 5} text-anchor="end">
        north
      </text>
    </g>
  );
}

export function Digs({ view, digs }: { view: View; digs: readonly DrawnDig[] }) {
  return (
    <>
      {digs.map(({ ground, paths }) => (
        <>
          {ground.map((ring) => (
            <path class="dig" d={path(ring.map(view.px), true)} />
          ))}
          {ground.length === 0 && paths.map((each) => <path class="dig" d={path(each.map(view.px))} />)}
        </>
      ))}
    </>
  );
}

/** A line in its utility's colour with a dark rim, its letter near its start for those who see no hue. */
export function InkLine({ view, ink, course, thick = false }: { view: View; ink: Ink; course: readonly Grid[]; thick?: boolean }) {
  const points = course.map(view.px);
  const [start, next = start] = points;
  return (
    <g>
      <path class="line-rim" d={path(points)} style={{ strokeWidth: thick ? 8 : 6 }} />
      <path class={`line-ink stroke-${ink.colour ?? "none"}`} d={path(points)} style={{ strokeWidth: thick ? 5 : 3 }} />
      {start && next && (
        <text class="letter" x={(start.x + next.x) / 2 - 4} y={(start.y + next.y) / 2 - 12}>
          {ink.letter}
        </text>
      )}
    </g>
  );
}

export function Bands({ view, lines }: { view: View; lines: readonly DrawnLine[] }) {
  return (
    <>
      {lines.map(({ band }) => (
        <path class="around" d={path(band.map(view.px), true)} />
      ))}
    </>
  );
}

/** A walk with the way it was or is to be walked. */
export function WalkLine({ view, course, name }: { view: View; course: readonly Grid[]; name: string }) {
  const points = course.map(view.px);
  return (
    <>
      <path class={name} d={path(points)} />
      <path class={`${name} head`} d={path(arrow(points))} />
    </>
  );
}

/** A number or letter in a ring, with a line to the place that it is of. */
export function Sign({ at, of, children, square = false }: { at: Point; of?: Point; children: ComponentChildren; square?: boolean }) {
  return (
    <g class="sign">
      {of && <path class="leader" d={`M${at.x} ${at.y}L${of.x} ${of.y}`} />}
      {of && <circle class="dot" cx={of.x} cy={of.y} r="4" />}
      {square ? <rect x={at.x - 13} y={at.y - 13} width="26" height="26" /> : <circle cx={at.x} cy={at.y} r="14" />}
      <text x={at.x} y={at.y + 5} text-anchor="middle">
        {children}
      </text>
    </g>
  );
}
