/** The frame of a drawing: a tap picks the nearest of what is drawn and shows its numbers with where they came from. */
import "./draw.css";
import type { ComponentChildren, TargetedMouseEvent } from "preact";
import type { Point } from "./geometry";
import type { Cited } from "./types";
import type { Words as Said } from "./section";
import { ROW_PX } from "./geometry";

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

/** What was tapped; said aloud. */
export function Picked({ told, otherwise, children }: { told: readonly Cited[]; otherwise: string; children?: ComponentChildren }) {
  return (
    <div class="picked" role="status">
      {told.length === 0 ? <p class="quiet">{otherwise}</p> : <Numbers told={told} />}
      {told.length > 0 && children}
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
