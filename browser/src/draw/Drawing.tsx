/** The frame of a drawing: a tap picks the nearest of what is drawn and shows its numbers with where they came from. */
import "./draw.css";
import type { ComponentChildren, TargetedMouseEvent } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { ROW_PX, type Point } from "./geometry";
import type { Words as Said } from "./section";
import type { Cited } from "./types";

interface DrawingProps {
  width: number;
  height: number;
  /** What a screen reader says of it; the numbers stand beside it in words. */
  says: string;
  onTap: (at: Point) => void;
  children: ComponentChildren;
}

export function Drawing({ width, height, says, onTap, children }: DrawingProps) {
  const tapped = (event: TargetedMouseEvent<SVGSVGElement>) => {
    const { left, top, width: shown } = event.currentTarget.getBoundingClientRect();
    const scale = width / shown;
    onTap({ x: (event.clientX - left) * scale, y: (event.clientY - top) * scale });
  };
  return (
    <svg class="drawing" viewBox={`0 0 ${width} ${height}`} role="img" aria-label={says} onClick={tapped}>
      {children}
    </svg>
  );
}

/** Words in a drawing, row under row. */
export function Words({ words, shade = "" }: { words: Said; shade?: string }) {
  return (
    <text class={shade} text-anchor={words.anchor}>
      {words.rows.map((row, i) => (
        <tspan x={words.at.x} y={words.at.y + i * ROW_PX}>
          {row}
        </tspan>
      ))}
    </text>
  );
}

interface PickedProps {
  told: readonly Cited[];
  /** Said while nothing is picked. */
  otherwise: string;
  /** What it is, and what can be opened of it. */
  children?: ComponentChildren;
}

/** What was tapped; said aloud, and brought into sight where it lies below. */
export function Picked({ told, otherwise, children }: PickedProps) {
  const ref = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (told.length > 0) ref.current?.scrollIntoView({ block: "nearest" });
  }, [told]);
  return (
    <div class="picked" role="status" ref={ref}>
      {told.length > 0 && children}
      {told.length === 0 ? <p class="quiet">{otherwise}</p> : <Numbers told={told} />}
    </div>
  );
}

/** Numbers with where each came from. */
export function Numbers({ told }: { told: readonly Cited[] }) {
  return (
    <dl class="numbers">
      {told.map(({ name, words, source }) => (
        <div>
          <dt>{name}</dt>
          <dd>
            <strong>{words}</strong> <span class="quiet">{source}</span>
          </dd>
        </div>
      ))}
    </dl>
  );
}
