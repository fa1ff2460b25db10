/**
 * The signal of one line across it, fitted as the points come: 1/H = (D² + (x - x0)²) / (a D) is a parabola in x.
 *
 * Free air, one long straight line, the receiver plumb; two lines at once do not fit it, and that is what it is for.
 * The route's answer weighs one line against two; this only says when there are points enough.
 */

export interface Point {
  /** To the right of the zero point [m]. */
  readonly x: number;
  /** Signal across the line, above 0, in any one unit. */
  readonly h: number;
}

export interface Fit {
  /** Where the signal peaks [m]. */
  readonly peak: number;
  /** From there down to the line, and one sigma [m]. */
  readonly depth: number;
  readonly sigma: number;
  /** Root mean square of the misses, in units of what a reading is good to; about 1 where one line fits. */
  readonly misfit: number;
  readonly signal: (x: number) => number;
}

/** Amplitudes are good to 2 % and half a percent of the largest (common practice, no source). */
const SHARE = 0.02;
const OF_LARGEST = 0.005;
/** The lower coil stands about this high above ground, as in the table for the phone [m]. */
const COIL_M = 0.07;
/** Fewer points than this are never enough, however well they fit (common practice, no source). */
export const FEWEST = 7;
const GOOD_DEPTH = 0.05;
/** A misfit from which one line alone is not believed. */
export const TOO_FAR = 2;

/** Least squares of the parabola; null where points are too few or bend the wrong way. */
export function fitCurve(points: readonly Point[]): Fit | null {
  const used = points.filter(({ h }) => h > 0);
  if (new Set(used.map(({ x }) => x)).size < 3) return null;
  const largest = Math.max(...used.map(({ h }) => h));
  const sums = new Array<number>(5).fill(0);
  const right = [0, 0, 0];
  for (const { x, h } of used) {
    const y = largest / h;
    const sigma = y * Math.hypot(SHARE, OF_LARGEST * y);
    const w = 1 / (sigma * sigma);
    for (let k = 0; k < 5; k += 1) sums[k]! += w * x ** k;
    for (let k = 0; k < 3; k += 1) right[k]! += w * y * x ** k;
  }
  const inverse = inverted(sums);
  if (inverse === null) return null;
  const [r, q, p] = [0, 1, 2].map((i) => inverse[i]!.reduce((sum, v, k) => sum + v * right[k]!, 0)) as [number, number, number];
  if (p <= 0) return null;
  const peak = -q / (2 * p);
  const squared = r / p - peak * peak;
  if (squared <= 0) return null;
  const reach = Math.sqrt(squared);
  const signal = (x: number): number => largest / (p * (squared + (x - peak) ** 2));
  const misses = used.map(({ x, h }) => (h - signal(x)) / Math.hypot(SHARE * h, OF_LARGEST * largest));
  // the slope of the depth by r, q and p
  const slope = [1 / (2 * reach * p), -q / (4 * reach * p * p), (-r / (p * p) + (q * q) / (2 * p ** 3)) / (2 * reach)];
  const variance = slope.reduce((sum, a, i) => sum + slope.reduce((s, b, k) => s + a * b * inverse[i]![k]!, 0), 0);
  const misfit = Math.sqrt(misses.reduce((sum, m) => sum + m * m, 0) / Math.max(used.length - 3, 1));
  return { peak, depth: reach - COIL_M, sigma: Math.sqrt(variance), misfit, signal };
}

/** Inverse of the symmetric matrix of moments 0 to 4. */
function inverted(s: readonly number[]): number[][] | null {
  const [a, b, c, d, e] = s as [number, number, number, number, number];
  const m = [
    [c * e - d * d, c * d - b * e, b * d - c * c],
    [c * d - b * e, a * e - c * c, b * c - a * d],
    [b * d - c * c, b * c - a * d, a * c - b * b],
  ];
  const det = a * m[0]![0]! + b * m[0]![1]! + c * m[0]![2]!;
  if (!(Math.abs(det) > 1e-12 * Math.abs(a * c * e))) return null;
  return m.map((row) => row.map((v) => v / det));
}

export type Enough = "more" | "both sides" | "enough" | "two lines";

/** Whether there are points enough: by count, on both sides down to half, the depth to 5 %; or one line does not fit. */
export function enough(points: readonly Point[], fit: Fit | null): Enough {
  const largest = Math.max(0, ...points.map(({ h }) => h));
  const top = points.find(({ h }) => h === largest)?.x ?? 0;
  const half = points.filter(({ h }) => h <= largest / 2);
  const bothSides = half.some(({ x }) => x < top) && half.some(({ x }) => x > top);
  if (points.length < FEWEST) return "more";
  if (!bothSides) return "both sides";
  if (fit === null || fit.misfit > TOO_FAR) return "two lines";
  return fit.sigma / (fit.depth + COIL_M) < GOOD_DEPTH ? "enough" : "more";
}
