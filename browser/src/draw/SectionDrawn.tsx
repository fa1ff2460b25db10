/** What lies under the feet at one place, to scale and dimensioned; every part can be tapped for its number. */
import { useMemo, useState } from "preact/hooks";
import type { Units } from "../words/lengths";
import { Drawing, Picked, Words } from "./Drawing";
import { nearest, path, type Point } from "./geometry";
import { sectionLayout, type Element, type Measure, type SectionLayout } from "./section";
import type { Cited, Ink, Section } from "./types";
import { useWidth } from "./useWidth";

interface SectionProps {
  section: Section;
  ink: Ink;
  units: Units;
}

const NONE: readonly Cited[] = [];
const TAP = "Tap anything in the drawing for its number and where it came from; all of them stand below.";

export function SectionDrawn({ section, ink, units }: SectionProps) {
  const [ref, width] = useWidth<HTMLElement>();
  const [picked, setPicked] = useState("");
  const tall = Math.min(440, Math.max(200, 0.42 * innerHeight));
  const layout = useMemo(() => sectionLayout(section, units, width, tall), [section, units, width, tall]);
  const chosen = layout.elements.find(({ key }) => key === picked);
  const tap = (at: Point) => setPicked(nearest(layout.elements, at)?.key ?? "");
  return (
    <figure class="drawn-figure" ref={ref}>
      <Drawing width={width} height={layout.height} says={spoken(section)} onTap={tap}>
        <Ground layout={layout} />
        <clipPath id="below">
          <rect x="0" y={layout.ground} width={width} height={layout.bottom - layout.ground} />
        </clipPath>
        {chosen && <Chosen element={chosen} />}
        <path class="oval" clip-path="url(#below)" d={path(outlineOf(layout, "oval"), true)} />
        {layout.measures.map((measure) => (
          <Dimension measure={measure} />
        ))}
        <Below layout={layout} section={section} ink={ink} />
        <OnGround layout={layout} section={section} />
        {layout.measures.map(({ text }) => (
          <Words words={text} />
        ))}
        {layout.labels.map((label) => (
          <>
            {label.leader && <path class="thin" d={path(label.leader)} />}
            <Words words={label} />
          </>
        ))}
        <Bar bar={layout.bar} />
      </Drawing>
      <Picked told={chosen?.told ?? NONE} otherwise={TAP} />
    </figure>
  );
}

/** The drawing in a sentence, for those who do not see it. */
function spoken(section: Section): string {
  const seconds = section.seconds.map(({ words }) => `A ${words}.`);
  return [`Section at ${section.name}, to scale.`, section.says, section.paint, ...seconds, "All numbers stand below."].join(" ");
}

const outlineOf = (layout: SectionLayout, key: string): readonly Point[] => layout.elements.find((each) => each.key === key)!.outline;

function Ground({ layout: { width, ground } }: { layout: SectionLayout }) {
  const strokes = Array.from({ length: Math.floor(width / 16) }, (_, i) => `M${i * 16 + 12} ${ground}l-8 8`);
  return (
    <>
      <path class="hatch" d={strokes.join("")} />
      <line class="ground" x1="0" x2={width} y1={ground} y2={ground} />
    </>
  );
}

function Chosen({ element }: { element: Element }) {
  return <path class="chosen" d={path(element.outline.length > 1 ? element.outline : [element.outline[0]!, element.outline[0]!])} />;
}

function Dimension({ measure: { from, to, inward, extensions } }: { measure: Measure }) {
  const long = Math.hypot(to.x - from.x, to.y - from.y) || 1;
  const along = from.x === to.x && from.y === to.y ? { x: 1, y: 0 } : { x: (to.x - from.x) / long, y: (to.y - from.y) / long };
  const out = inward ? 13 : 0;
  const ends = [
    { x: from.x - along.x * out, y: from.y - along.y * out },
    { x: to.x + along.x * out, y: to.y + along.y * out },
  ];
  const way = inward ? -1 : 1;
  return (
    <g class="dimension">
      {extensions.map((extension) => (
        <path class="thin" d={path(extension)} />
      ))}
      <path class="thin" d={path(ends)} />
      <path class="arrow" d={arrow(from, { x: -along.x * way, y: -along.y * way })} />
      <path class="arrow" d={arrow(to, { x: along.x * way, y: along.y * way })} />
    </g>
  );
}

/** A slender filled arrow whose tip is at a point. */
function arrow(tip: Point, way: Point): string {
  const base = { x: tip.x - way.x * 10, y: tip.y - way.y * 10 };
  return path([tip, { x: base.x - way.y * 3, y: base.y + way.x * 3 }, { x: base.x + way.y * 3, y: base.y - way.x * 3 }], true);
}

function Below({ layout, section, ink }: { layout: SectionLayout; section: Section; ink: Ink }) {
  const { x, y, ground, pxPerM } = layout;
  const line = { x: x(section.aside_m.value), y: y(section.depth_m.value) };
  const radius = Math.max(((section.diameter_m ?? 0) / 2) * pxPerM, 6);
  return (
    <>
      <path class="plumb" d={path([{ x: line.x, y: ground }, line])} />
      {section.holes.map((hole) => {
        const [top, end] = outlineOf(layout, `hole-${hole.hole}`) as [Point, Point];
        const half = 5;
        const seen = Math.max(((hole.diameter_m ?? section.diameter_m ?? 0) / 2) * pxPerM, 4);
        return (
          <g class="hole">
            <path d={`M${top.x - half} ${top.y}V${end.y}H${top.x + half}V${top.y}`} />
            {hole.found && <circle cx={end.x} cy={end.y + seen} r={seen} />}
          </g>
        );
      })}
      {section.seconds.map((second, i) => {
        const [low, high] = outlineOf(layout, `second-${i}`) as [Point, Point];
        return (
          <g class="second">
            <path d={`M${low.x} ${low.y - 6}v12m0-6H${high.x}m0-6v12`} />
            <circle class={inkClass(second.ink)} cx={x(second.aside_m.value)} cy={low.y} r="6" />
          </g>
        );
      })}
      <circle class={`line ${inkClass(ink)}`} cx={line.x} cy={line.y} r={radius} />
      <text class="letter" x={line.x} y={line.y - radius - 5} text-anchor="middle">
        {ink.letter}
      </text>
      {outlineAt(layout, "displayed").map((ends) => (
        <path class="displayed" d={`M${ends[0]!.x - 9} ${ends[0]!.y}h18${ends.at(-1)!.y > ends[0]!.y ? `m-9 0V${ends.at(-1)!.y}m-9 0h18` : ""}`} />
      ))}
      {outlineAt(layout, "raised").map(([at]) => (
        <path class="displayed" d={`M${at!.x - 9} ${at!.y}h18m-14 4h10`} />
      ))}
    </>
  );
}

const outlineAt = (layout: SectionLayout, key: string) => layout.elements.filter((each) => each.key === key).map(({ outline }) => outline);

/** Hues of the uniform colour code; what nobody knows is in the colour of text. */
export const inkClass = ({ colour }: Ink): string => (colour ? `ink-${colour}` : "ink-none");

function OnGround({ layout: { x, ground }, section }: { layout: SectionLayout; section: Section }) {
  const wedge = (m: number) => `M${x(m)} ${ground - 2}l-7 -14h14z`;
  return (
    <>
      {section.null_m && (
        <>
          <path class="null-range" d={`M${x(section.null_m.low)} ${ground - 2}H${x(section.null_m.high)}`} />
          <path class="null" d={wedge(section.null_m.value)} />
        </>
      )}
      <path class="mark" d={wedge(0)} />
    </>
  );
}

function Bar({ bar: { from, px, words } }: { bar: SectionLayout["bar"] }) {
  return (
    <g class="bar">
      <path d={`M${from.x} ${from.y - 6}v6h${px}v-6`} />
      <text x={from.x + px + 8} y={from.y}>
        {words}, across and down
      </text>
    </g>
  );
}
