/** The points of a walk across and the curve of one line through them. */
import { length, type Units } from "../words/lengths";
import type { Fit, Point } from "./curve";

const [WIDTH, HEIGHT] = [340, 170];

export function Curve({ points, fit, units }: { points: readonly Point[]; fit: Fit | null; units: Units }) {
  const reach = Math.max(0.6, ...points.map(({ x }) => Math.abs(x))) * 1.1;
  const top = Math.max(...points.map(({ h }) => h), fit ? fit.signal(fit.peak) : 0) * 1.1 || 1;
  const x = (metres: number) => WIDTH / 2 + (metres / reach) * (WIDTH / 2);
  const y = (h: number) => HEIGHT - 20 - (h / top) * (HEIGHT - 30);
  const curve = fit
    ? Array.from({ length: 81 }, (_, k) => -reach + (2 * reach * k) / 80).map((at, k) => `${k ? "L" : "M"}${x(at).toFixed(1)} ${y(fit.signal(at)).toFixed(1)}`)
    : [];
  return (
    <figure class="drawn">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={`Signal at ${points.length} points across${fit ? ", with the curve of one line" : ""}`}>
        <line class="axis" x1="0" x2={WIDTH} y1={y(0)} y2={y(0)} />
        <line class="thin" x1={x(0)} x2={x(0)} y1="4" y2={y(0)} />
        {fit && <path class="fit" d={curve.join(" ")} />}
        {points.map((p) => (
          <circle class="point" cx={x(p.x)} cy={y(p.h)} r="4" />
        ))}
        <text x="2" y={HEIGHT - 5}>
          {length(reach / 1.1, units)} left
        </text>
        <text x={WIDTH - 2} y={HEIGHT - 5} text-anchor="end">
          right
        </text>
      </svg>
    </figure>
  );
}
