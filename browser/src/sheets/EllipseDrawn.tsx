/** Where a line seen from the side can be: looking along it, to one scale across and down. */
import { length, type Units } from "../words/lengths";
import type { Ellipse } from "./ellipse";

const WIDTH = 340;

export function EllipseDrawn({ at, units }: { at: Ellipse; units: Units }) {
  const spread = 1.96 * Math.max(at.along, at.square);
  const across = Math.max(at.across + spread, 1) * 1.05;
  const scale = (WIDTH - 30) / across;
  const x = (metres: number) => 20 + metres * scale;
  const y = (metres: number) => 56 + metres * scale;
  const deep = Math.max(at.down + spread, 0.3 * across) * 1.05;
  const degrees = (at.angle * 180) / Math.PI;
  const said = `${length(at.across, units)} off and ${length(at.down, units)} down, in an outline ${length(3.92 * at.along, units)} long and ${length(3.92 * at.square, units)} wide.`;
  return (
    <figure class="drawn">
      <svg viewBox={`0 0 ${WIDTH} ${Math.ceil(y(deep))}`} role="img" aria-label={said}>
        <line class="axis" x1="0" x2={WIDTH} y1={y(0)} y2={y(0)} />
        <line class="axis" x1={x(0)} x2={x(0)} y1="18" y2={y(0)} />
        <text x={x(0) + 8} y="26">
          you stand here
        </text>
        <line class="thin" x1={x(0)} x2={x(at.across)} y1={y(0)} y2={y(at.down)} />
        <ellipse class="fit" rx={1.96 * at.along * scale} ry={1.96 * at.square * scale} transform={`translate(${x(at.across)} ${y(at.down)}) rotate(${degrees})`} />
        <circle class="point" cx={x(at.across)} cy={y(at.down)} r="4" />
      </svg>
      <figcaption class="quiet">To scale. The outline holds range and direction 19 times in 20 each, by what display, coils and a lean of a degree do, were nothing else there.</figcaption>
    </figure>
  );
}
