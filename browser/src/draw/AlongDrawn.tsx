/** Depth and current along one line; a tap shows the numbers of the nearest place. */
import type { ComponentChildren } from "preact";
import { useMemo, useState } from "preact/hooks";
import type { Units } from "../words/lengths";
import { alongLayout, notesOf, placeAt, SECOND_PX, type AlongLayout, type HookupOf, type Stretch } from "./along";
import { Drawing, Picked } from "./Drawing";
import { apart, nearest, path, wide, type Point } from "./geometry";
import type { AlongLine, AlongPlace } from "./types";
import { useWidth } from "./useWidth";

interface AlongProps {
  line: AlongLine;
  units: Units;
  hookupOf: HookupOf;
  /** What a place is called. */
  name: (place: AlongPlace) => string;
  /** What can be opened of a place. */
  links: (place: AlongPlace) => ComponentChildren;
}

const TAP = "Tap the drawing for the numbers of the place there and where they came from; a table of all stands below.";
const FEW = 60; // of more places the bars would run together

export function AlongDrawn({ line, units, hookupOf, name, links }: AlongProps) {
  const [ref, width] = useWidth<HTMLElement>();
  const [picked, setPicked] = useState<{ place: AlongPlace } | { hole: string } | null>(null);
  const layout = alongLayout(line, units, width, Math.min(210, Math.max(150, 0.25 * innerHeight)), hookupOf);
  const tap = (at: Point) => {
    const holes = line.holes.map(({ hole, chainage_m, found, top_m, dug_to_m }) => {
      const end = layout.down((found ? top_m : dug_to_m) ?? 0);
      return { hole, outline: [{ x: layout.x(chainage_m), y: layout.depthTop - 14 }, { x: layout.x(chainage_m), y: end }] };
    });
    const hole = nearest(holes, at, 12);
    const place = placeAt(line, layout, at.x);
    setPicked(hole ? { hole: hole.hole } : place ? { place } : null);
  };
  const place = picked && "place" in picked ? line.places.find(({ id, source }) => id === picked.place.id && source === picked.place.source) : undefined;
  const hole = picked && "hole" in picked ? line.holes.find((each) => each.hole === picked.hole) : undefined;
  const told = useMemo(() => place?.told ?? (hole ? [hole.told] : []), [place, hole]);
  return (
    <figure class="drawn-figure" ref={ref}>
      <Drawing width={width} height={layout.height} says={`${line.says.join(" ")} A table of all places stands below.`} onTap={tap}>
        {place && <path class="chosen" d={`M${layout.x(place.chainage_m)} ${layout.depthTop}V${layout.currentBottom}`} />}
        <Axes layout={layout} />
        <Swaps layout={layout} line={line} />
        <Bands layout={layout} line={line} />
        <Currents layout={layout} line={line} />
        <Above layout={layout} line={line} />
        <Holes layout={layout} line={line} />
      </Drawing>
      <Picked told={told} otherwise={TAP}>
        {place && (
          <p>
            <strong>{name(place)}</strong> {links(place)}
          </p>
        )}
      </Picked>
      <figcaption class="quiet">
        Band: where the middle of the line is, and what it carries, 19 times in 20. Crosses: as displayed.
        {line.slopes.length > 0 && " Straight broken lines: how the current falls."}
        {line.holes.length > 0 && " A test hole shows the top of the line."}
      </figcaption>
    </figure>
  );
}

function Axes({ layout }: { layout: AlongLayout }) {
  const { left, right, depthTop, depthBottom, currentTop, currentBottom } = layout;
  return (
    <g class="axes">
      {[...layout.depths, ...layout.currents].map(({ at, words }) => (
        <>
          <line class="grid" x1={left} x2={right} y1={at} y2={at} />
          <text x={left - 6} y={at + 5} text-anchor="end">
            {words}
          </text>
        </>
      ))}
      {layout.chainages.map(({ at, words }) => (
        <>
          <line class="grid" x1={at} x2={at} y1={depthTop} y2={depthBottom} />
          <line class="grid" x1={at} x2={at} y1={currentTop} y2={currentBottom} />
          <text x={Math.min(at, right + 12 - wide(words) / 2)} y={currentBottom + 18} text-anchor="middle">
            {words}
          </text>
        </>
      ))}
      <line class="ground" x1={left} x2={right} y1={depthTop} y2={depthTop} />
      <text class="name" x={left + 4} y={currentTop - 8}>
        current, mA
      </text>
      <text class="name" x={left + 4} y={depthBottom - 6}>
        depth
      </text>
      <text class="name" x={(left + right) / 2} y={currentBottom + 38} text-anchor="middle">
        along the line
      </text>
    </g>
  );
}

/** All bands, then all that lies inside them: those of two hook-ups may lie over each other. */
function Stretches({ of }: { of: readonly Stretch[] }) {
  return (
    <>
      {of.map(({ band }) => (
        <path class="around" d={path(band, true)} />
      ))}
      {of.map(({ band, middle, hookup }) => (
        <>
          <path class="middle" d={path(middle)} />
          {hookup && (
            <text x={middle.at(-1)!.x} y={band[middle.length - 1]!.y - 3} text-anchor="end">
              {hookup}
            </text>
          )}
        </>
      ))}
    </>
  );
}

function Bands({ layout, line }: { layout: AlongLayout; line: AlongLine }) {
  const { x, down } = layout;
  return (
    <g>
      <Stretches of={layout.depth} />
      {line.places.map(({ chainage_m, depth_m, shown_depth_m }) => (
        <>
          {line.places.length <= FEW && <path class="bar-of" d={`M${x(chainage_m)} ${down(depth_m.low)}V${down(depth_m.high)}`} />}
          <circle class="dot" cx={x(chainage_m)} cy={down(depth_m.value)} r="3.5" />
          {shown_depth_m !== null && <path class="cross" d={cross(x(chainage_m), down(shown_depth_m))} />}
        </>
      ))}
    </g>
  );
}

function Currents({ layout, line }: { layout: AlongLayout; line: AlongLine }) {
  const { x, up } = layout;
  return (
    <g>
      <Stretches of={layout.current} />
      {line.slopes.map(({ from_m, to_m, from_ma, to_ma }) => (
        <path class="slope" d={path([{ x: x(from_m), y: up(from_ma) }, { x: x(to_m), y: up(to_ma) }])} />
      ))}
      {line.places.map(({ chainage_m, current_ma, shown_current_ma }) => (
        <>
          {line.places.length <= FEW && <path class="bar-of" d={`M${x(chainage_m)} ${up(current_ma.low)}V${up(current_ma.high)}`} />}
          <circle class="dot" cx={x(chainage_m)} cy={up(current_ma.value)} r="3.5" />
          {shown_current_ma !== null && <path class="cross" d={cross(x(chainage_m), up(shown_current_ma))} />}
        </>
      ))}
    </g>
  );
}

const cross = (x: number, y: number): string => `M${x - 5} ${y - 5}l10 10m0-10l-10 10`;

/** Where the lines may have been swapped: between two readings, over both axes. */
function Swaps({ layout, line }: { layout: AlongLayout; line: AlongLine }) {
  const { x, depthTop, currentBottom } = layout;
  return (
    <>
      {line.swaps.map(({ from_m, to_m }) => {
        const [from, to] = [x(from_m), x(to_m)];
        return (
          <g class="swap">
            <rect x={from} y={depthTop - 4} width={Math.max(to - from, 4)} height={currentBottom - depthTop + 4} />
            <text x={(from + to) / 2} y={layout.depthBottom + 16} text-anchor="middle">
              swapped?
            </text>
          </g>
        );
      })}
    </>
  );
}

/** What stands above the ground: changes of the current by their numbers, and where a second line runs. */
function Above({ layout, line }: { layout: AlongLayout; line: AlongLine }) {
  const { x, secondsTop, depthTop, currentTop, currentBottom } = layout;
  const notes = notesOf(line);
  const middles = apart(
    notes.map(({ at }) => ({ at: x(at), width: 24 })),
    0,
    layout.width,
    2,
  );
  return (
    <>
      {notes.map(({ at }, i) => (
        <g class="event">
          <path d={`M${middles[i]} 22L${x(at)} 30V${depthTop}M${x(at)} ${currentTop}V${currentBottom}`} />
          <circle cx={middles[i]} cy="12" r="11" />
          <text x={middles[i]} y="17" text-anchor="middle">
            {i + 1}
          </text>
        </g>
      ))}
      {line.seconds.map(({ from_m, to_m }, i) => {
        const y = secondsTop + (i + 1) * SECOND_PX;
        const half = wide("second line") / 2;
        const middle = Math.min(Math.max((x(from_m) + x(to_m)) / 2, half), layout.right - half);
        return (
          <g class="second">
            <path d={`M${x(from_m)} ${y - 6}v6m0-3H${x(to_m)}m0-3v6`} />
            <text x={middle} y={y - 10} text-anchor="middle">
              second line
            </text>
          </g>
        );
      })}
    </>
  );
}

function Holes({ layout, line }: { layout: AlongLayout; line: AlongLine }) {
  const { x, down, depthTop } = layout;
  return (
    <>
      {line.holes.map(({ hole, chainage_m, found, top_m, dug_to_m }) => {
        const end = down((found ? top_m : dug_to_m) ?? 0);
        return (
          <g class="hole">
            <path d={`M${x(chainage_m) - 5} ${depthTop}V${end}h10V${depthTop}`} />
            {found && <circle cx={x(chainage_m)} cy={end} r="5" />}
            <text x={x(chainage_m)} y={depthTop - 6} text-anchor="middle">
              {hole}
            </text>
          </g>
        );
      })}
    </>
  );
}

