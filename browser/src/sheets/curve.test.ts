import { describe, expect, it } from "vitest";
import { enough, fitCurve, type Point } from "./curve";
import { ellipseOf } from "./ellipse";

/** Signal across of lines in air, each [where, how far below the coil, current]; from H = I D / 2πr², not from the fit. */
function walked(lines: readonly (readonly [number, number, number])[], xs: readonly number[]): Point[] {
  return xs.map((x) => ({ x, h: Math.abs(lines.reduce((sum, [at, d, i]) => sum + (i * d) / ((x - at) ** 2 + d * d), 0)) }));
}
const XS = Array.from({ length: 13 }, (_, k) => -1.8 + 0.3 * k);

describe("the curve of one line", () => {
  it("finds one line where it lies", () => {
    const fit = fitCurve(walked([[0.25, 1.07, 5]], XS))!;
    expect(fit.peak).toBeCloseTo(0.25, 9);
    expect(fit.depth).toBeCloseTo(1.0, 9);
    expect(fit.misfit).toBeLessThan(1e-6);
    expect(enough(walked([[0.25, 1.07, 5]], XS), fit)).toBe("enough");
  });
  it("tells two lines from one", () => {
    const two = walked([[0, 1, 5], [1.1, 0.8, -2.5]], XS);
    expect(enough(two, fitCurve(two))).toBe("two lines");
  });
  it("wants points on both sides, and enough of them", () => {
    const right = walked([[0, 1, 5]], XS.filter((x) => x >= -0.3));
    expect(enough(right, fitCurve(right))).toBe("both sides");
    const few = walked([[0, 1, 5]], [-1.5, 0, 1.5]);
    expect(enough(few, fitCurve(few))).toBe("more");
    expect(fitCurve(few.slice(0, 2))).toBeNull();
  });
  it("has no fit of a signal that does not fall off", () => {
    expect(fitCurve([-2, -1, 0, 1, 2].map((x) => ({ x, h: 1 + x * x })))).toBeNull();
  });
  it("gives the spread that repeated walks show", () => {
    let seed = 7;
    const uniform = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
    const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const fits = Array.from({ length: 400 }, () => {
      const clean = walked([[0, 1.07, 5]], XS);
      const top = Math.max(...clean.map(({ h }) => h));
      return fitCurve(clean.map(({ x, h }) => ({ x, h: h + Math.hypot(0.02 * h, 0.005 * top) * normal() })))!;
    });
    const mean = fits.reduce((s, f) => s + f.depth, 0) / fits.length;
    const spread = Math.sqrt(fits.reduce((s, f) => s + (f.depth - mean) ** 2, 0) / fits.length);
    expect(spread / fits[0]!.sigma).toBeGreaterThan(0.85);
    expect(spread / fits[0]!.sigma).toBeLessThan(1.15);
    expect(Math.sqrt(fits.reduce((s, f) => s + f.misfit ** 2, 0) / fits.length)).toBeCloseTo(1, 0);
  });
});

describe("seen from the side", () => {
  it("a degree moves a line 5.8 m off by 10 cm, as physics/side.py says", () => {
    expect(ellipseOf(5.8, 1).degreeDown).toBeCloseTo(0.1, 2);
  });
  it("the range moves with the coils' ratio as two fields have it", () => {
    // what R comes out of a ratio that is a tenth of 0.3 % off, by the equation solved anew, times ten
    const [x, below, s] = [3, 1.07, 0.45];
    const range = Math.hypot(x, below);
    const fall = ((2 * s * below + s * s) / range ** 2 + 1) * 1.0003 ** 2 - 1;
    const b = (s * below) / range;
    const off = (b + Math.sqrt(b * b + fall * s * s)) / fall - range;
    const display = 0.03 * range * Math.hypot((x / range) ** 2, (below / range) ** 2);
    expect(Math.sqrt(ellipseOf(3, 1).along ** 2 - display ** 2) / Math.abs(10 * off)).toBeCloseTo(1, 1);
  });
  it("range is worse than direction far off, and worse the farther", () => {
    const [near, far] = [ellipseOf(1, 1), ellipseOf(5, 1)];
    expect(far.along).toBeGreaterThan(far.square);
    expect(far.along / far.across).toBeGreaterThan(near.along / near.across);
  });
});
