/** Where the line can be under the mark, drawn to one scale across and down; the words say the same. */
import { band, FOOT_M, paint, sideways, type Interval, type Units } from "../words/lengths";

interface BandProps {
  shift: Interval;
  depth: Interval;
  units: Units;
}

const WIDTH = 320;

export function Band({ shift, depth, units }: BandProps) {
  const grid = units === "m" ? 0.5 : 2 * FOOT_M;
  const half = Math.max(Math.abs(shift.low), Math.abs(shift.high), 0.5 * depth.high, grid) * 1.15;
  const scale = WIDTH / (2 * half);
  const x = (metres: number) => WIDTH / 2 + metres * scale;
  const y = (metres: number) => 26 + metres * scale;
  const deepest = Math.ceil((depth.high * 1.08) / grid) * grid;
  const lines = Array.from({ length: Math.round(deepest / grid) }, (_, k) => (k + 1) * grid);
  const said = `The line: ${paint(shift, units)}, could be ${sideways(shift, units)}; depth could be ${band(depth, units)}.`;
  return (
    <figure class="band">
      <svg viewBox={`0 0 ${WIDTH} ${Math.ceil(y(deepest) + 6)}`} role="img" aria-label={said}>
        {lines.map((d) => (
          <g class="band-grid">
            <line x1="0" x2={WIDTH} y1={y(d)} y2={y(d)} />
            <text x="2" y={y(d) - 3}>
              {units === "m" ? `${d.toFixed(1)} m` : `${Math.round(d / FOOT_M)} ft`}
            </text>
          </g>
        ))}
        <line class="band-ground" x1="0" x2={WIDTH} y1={y(0)} y2={y(0)} />
        <path class="band-mark" d={`M${x(0) - 7} 8 L${x(0) + 7} 8 L${x(0)} 25 Z`} />
        <text class="band-name" x={x(0) + 12} y="18">
          your mark
        </text>
        <ellipse
          class="band-ellipse"
          cx={x((shift.low + shift.high) / 2)}
          cy={y((depth.low + depth.high) / 2)}
          rx={Math.max(((shift.high - shift.low) / 2) * scale, 2)}
          ry={Math.max(((depth.high - depth.low) / 2) * scale, 2)}
        />
        <circle class="band-line" cx={x(shift.value)} cy={y(depth.value)} r="5" />
      </svg>
      <figcaption class="quiet">Looking along the line, to scale. The outline holds the middle of it 19 times in 20 each way.</figcaption>
    </figure>
  );
}
