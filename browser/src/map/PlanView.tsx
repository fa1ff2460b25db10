/** The map in its frame: scale, north, and buttons for all that fingers may do on it. */
import { useEffect, useRef, useState } from "preact/hooks";
import type { Units } from "../words/lengths";
import { Plan, type PlanEvents } from "./plan";
import { roundLength, roundWords } from "./plane";

interface Props {
  units: Units;
  /** What a screen reader says of it. */
  says: string;
  onReady: (plan: Plan) => void;
  onTap: PlanEvents["onTap"];
  onMoved: PlanEvents["onMoved"];
  onKey: (key: string) => boolean;
  onAll: () => void;
}

export function PlanView({ units, says, onReady, onTap, onMoved, onKey, onAll }: Props) {
  const frame = useRef<HTMLDivElement>(null);
  const held = useRef<Plan | null>(null);
  const events = useRef<PlanEvents>({ onTap, onMoved });
  events.current = { onTap, onMoved };
  const [view, setView] = useState({ resolution: 0.03, turnedDeg: 0 });
  useEffect(() => {
    const plan = new Plan(frame.current!, units, {
      onTap: (at, tapped) => events.current.onTap(at, tapped),
      onMoved: (seen) => {
        setView({ resolution: seen.resolution, turnedDeg: seen.turnedDeg });
        events.current.onMoved(seen);
      },
    });
    held.current = plan;
    onReady(plan);
    return () => plan.close();
  }, [units]);
  const key = (event: KeyboardEvent) => {
    if (!event.ctrlKey && !event.metaKey && !event.altKey && onKey(event.key)) event.preventDefault();
  };
  const turned = view.turnedDeg > 0.5 && view.turnedDeg < 359.5;
  const plan = () => held.current!;
  return (
    <div class="plan-frame">
      <div class="plan-map" ref={frame} tabIndex={0} role="application" aria-label={says} onKeyDown={key} />
      <div class="plan-buttons" role="group" aria-label="Look at the plan">
        <button type="button" aria-label="Nearer" onClick={() => plan().zoom(0.7)}>
          +
        </button>
        <button type="button" aria-label="Farther" onClick={() => plan().zoom(-0.7)}>
          −
        </button>
        <button type="button" onClick={onAll}>
          All
        </button>
        <button type="button" aria-label="Turn the plan to the right" onClick={() => plan().turn(15)}>
          ↻
        </button>
      </div>
      <ScaleBar resolution={view.resolution} units={units} />
      <button type="button" class="plan-north" aria-label={turned ? "Turn the plan north up" : "North is up"} disabled={!turned} onClick={() => plan().northUp()}>
        <NorthArrow deg={view.turnedDeg} />
      </button>
    </div>
  );
}

function NorthArrow({ deg }: { deg: number }) {
  return (
    <svg viewBox="-22 -22 44 44" width="40" height="40" aria-hidden="true">
      <g transform={`rotate(${deg})`}>
        <path d="M0 16 V-8 M-5 -3 L0 -9 L5 -3" fill="none" stroke="currentColor" stroke-width="2.5" />
        <text y="-11" text-anchor="middle" fill="currentColor" font-size="11" font-weight="700">
          N
        </text>
      </g>
    </svg>
  );
}

function ScaleBar({ resolution, units }: { resolution: number; units: Units }) {
  const metres = roundLength(130 * resolution, units);
  const px = metres / resolution;
  return (
    <svg class="plan-scale" width={px + 20} height="34" role="img" aria-label={`Scale: this bar is ${roundWords(metres, units)}`}>
      <path d={`M10 22 v8 h${px} v-8`} fill="none" />
      <text x={10 + px / 2} y="18" text-anchor="middle">
        {roundWords(metres, units)}
      </text>
    </svg>
  );
}
