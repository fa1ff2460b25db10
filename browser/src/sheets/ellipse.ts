/**
 * Where a line seen from the side can be: an ellipse about the point that the display gives, along and square to the
 * direction it is seen in; src/plumbmark/physics/side.py says what a display makes of two fields.
 */

export interface Ellipse {
  /** From where the receiver stands, and below the ground [m]. */
  readonly across: number;
  readonly down: number;
  /** One sigma along the direction of sight and square to it [m]. */
  readonly along: number;
  readonly square: number;
  /** Angle of sight below the level [rad]. */
  readonly angle: number;
  /** What one degree off plumb does to the depth, and to the distance [m]. */
  readonly degreeDown: number;
  readonly degreeAcross: number;
}

const LOWER_COIL_M = 0.07;
const SPACING_M = 0.45; // the middle of what receivers are taken to have
const DISPLAY = 0.03; // a display is good to this, common practice, no source
const COILS = 0.003; // of the ratio of the two coils
const TILT_RAD = Math.PI / 180; // how far from plumb a receiver is held; no source

/**
 * The ellipse about what the display shows. In the frame of a receiver that leans both its coils agree, so that a lean
 * turns the direction and leaves the range; the range hangs on how the total field falls from coil to coil,
 * (B1/B2)² = (R² + 2 s d + s²) / R² with d below the lower coil.
 */
export function ellipseOf(distance: number, depth: number): Ellipse {
  const below = depth + LOWER_COIL_M;
  const range = Math.hypot(distance, below);
  const [sine, cosine] = [distance / range, below / range];
  const fall = (2 * SPACING_M * below + SPACING_M ** 2) / range ** 2;
  const slope = (2 * SPACING_M * cosine) / range ** 2 + (2 * SPACING_M ** 2) / range ** 3;
  const coils = (2 * COILS * (1 + fall)) / slope;
  return {
    across: distance,
    down: depth,
    along: Math.hypot(coils, DISPLAY * range * Math.hypot(sine ** 2, cosine ** 2)),
    square: Math.hypot(TILT_RAD * range, DISPLAY * range * Math.SQRT2 * sine * cosine),
    angle: Math.atan2(below, distance),
    degreeDown: TILT_RAD * distance,
    degreeAcross: TILT_RAD * below,
  };
}
