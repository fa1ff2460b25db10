/** A sonde's depth from its two nulls along the duct: (ahead + behind) / √2 less the coil; src/plumbmark/physics/sonde.py. */
import { lengthOf, middle, type Cells } from "../phone/cells";
import type { Interval } from "../words/lengths";

const LOWER_COIL_M = 0.07;
/** A null is found to 3 cm and 1 % of the depth (common practice, no source); the coil's height to 3 cm. */
const NULL_M = 0.03;
const NULL_SHARE = 0.01;
const COIL_SIGMA_M = 0.03;

/** Depth with the band of its two nulls; null where one of them is missing. Free air, the duct level. */
export function depthFromNulls(cells: Cells): Interval | null {
  const [ahead, behind] = [lengthOf(cells, "null_ahead"), lengthOf(cells, "null_behind")];
  if (!ahead || !behind) return null;
  const value = (middle(ahead) + middle(behind)) / Math.SQRT2 - LOWER_COIL_M;
  const ranges = (ahead.high - ahead.low + behind.high - behind.low) / 2 / Math.SQRT2;
  const one = Math.hypot(NULL_M, NULL_SHARE * value);
  const sigma = Math.hypot(one, COIL_SIGMA_M); // √2 nulls over √2
  return { value, low: Math.max(0, value - ranges - 2 * sigma), high: value + ranges + 2 * sigma };
}
