import { describe, expect, it } from "vitest";
import { beside, bearingDeg, coordinate, distance, looksLikeDegrees, moved, roundLength, roundWords, type Point } from "./plane";

describe("the plane", () => {
  it("counts bearings clockwise from north", () => {
    expect([[0, 1], [1, 0], [0, -1], [-1, 0]].map((to) => bearingDeg([0, 0], to as unknown as Point))).toEqual([0, 90, 180, 270]);
    const [e, n] = moved([10, 20], 90, 3);
    expect([e, n]).toEqual([13, expect.closeTo(20, 12)]);
  });
  it("says a place from another", () => {
    expect(beside([3.048, 3.048], [0, 0], "meter-1", "ft-in")).toBe("14 ft 2 in north-east of meter-1");
    expect(beside([0, 0.01], [0, 0], "meter-1", "m")).toBe("at meter-1");
  });
  it("takes round lengths for the scale", () => {
    expect(roundWords(roundLength(4, "ft-in"), "ft-in")).toBe("10 ft");
    expect(roundWords(roundLength(0.1, "ft-in"), "ft-in")).toBe("3 in");
    expect(roundWords(roundLength(0.07, "m"), "m")).toBe("5 cm");
    expect(roundWords(roundLength(0.7, "m"), "m")).toBe("0.5 m");
  });
  it("writes coordinates to the millimetre and no minus before a zero", () => {
    expect([coordinate(1.23456), coordinate(-0.0001)]).toEqual(["1.235", "0.000"]);
  });
  it("tells degrees from metres", () => {
    expect(looksLikeDegrees([[-93.12345, 45.00012]])).toBe(true);
    expect(looksLikeDegrees([[12.5, 3.25], [13, 9]])).toBe(false);
    expect(looksLikeDegrees([[500123.45678, 4980001.2]])).toBe(false);
    expect(distance([0, 0], [3, 4])).toBe(5);
  });
});
