import { describe, expect, it } from "vitest";
import { apart, away, logSteps, multiples, nearest, overlap, path, roomiest, roundStep, tick, unbroken, wide, wrapped } from "./geometry";

describe("what is drawn", () => {
  it("is a path through its points", () => {
    expect(path([{ x: 0, y: 1 }, { x: 2.25, y: 3 }])).toBe("M0.0 1.0L2.3 3.0");
    expect(path([{ x: 0, y: 0 }, { x: 1, y: 0 }, { x: 1, y: 1 }], true)).toMatch(/Z$/);
  });

  it("is told apart by the nearest outline, and a tap far off means nothing", () => {
    const drawn = [
      { name: "mark", outline: [{ x: 10, y: 10 }] },
      { name: "bar", outline: [{ x: 0, y: 50 }, { x: 100, y: 50 }] },
    ];
    expect(away({ x: 50, y: 47 }, drawn[1]!.outline)).toBe(3);
    expect(away({ x: 110, y: 50 }, drawn[1]!.outline)).toBe(10);
    expect(nearest(drawn, { x: 60, y: 40 })?.name).toBe("bar");
    expect(nearest(drawn, { x: 12, y: 28 })?.name).toBe("mark");
    expect(nearest(drawn, { x: 10, y: 120 })).toBeNull();
  });
});

describe("words", () => {
  it("are broken between words only", () => {
    expect(wrapped("2 ft 1 in to 2 ft 11 in", wide("2 ft 1 in to"))).toEqual(["2 ft 1 in to", "2 ft 11 in"]);
    expect(wrapped(unbroken("about 2 ft 6 in"), 60)).toEqual(["about", "2\u00a0ft\u00a06\u00a0in"]);
    expect(wrapped("chainage", 4)).toEqual(["chainage"]);
  });

  it("side by side are kept apart, in order and between the ends", () => {
    const row = [
      { at: 50, width: 40 },
      { at: 44, width: 40 },
      { at: 2, width: 30 },
    ];
    const put = apart(row, 0, 200);
    expect(put[2]).toBe(15);
    expect(put[0]! - put[1]!).toBeGreaterThanOrEqual(48);
    const crowded = apart([{ at: 195, width: 40 }, { at: 198, width: 40 }], 0, 200);
    expect(crowded).toEqual([132, 180]);
    expect(apart([{ at: 100, width: 40 }], 0, 200)).toEqual([100]);
  });

  it("take the first place that covers nothing, else the one that covers least", () => {
    const box = (left: number) => ({ left, right: left + 10, top: 0, bottom: 10 });
    expect(overlap(box(0), box(4))).toBe(60);
    expect(roomiest([box(0), box(20), box(40)], [box(5)])).toEqual(box(20));
    expect(roomiest([box(0), box(8)], [box(2), box(15)])).toEqual(box(8));
  });
});

describe("an axis", () => {
  it("has round steps of the job's units", () => {
    expect(roundStep(1, "m", 4)).toBe(0.5);
    expect(roundStep(10, "m", 5)).toBe(2);
    expect(roundStep(0.3048, "ft-in", 4)).toBeCloseTo(0.0762);
    expect(roundStep(33 * 0.3048, "ft-in", 4)).toBeCloseTo(10 * 0.3048);
    expect(multiples(0.1, 1.5, 0.5)).toEqual([0.5, 1, 1.5]);
  });

  it("of a current counts in 1, 2, 5, and in tens where it is long", () => {
    expect(logSteps(4.2, 58.5)).toEqual([5, 10, 20, 50]);
    expect(logSteps(0.5, 1000)).toEqual([1, 10, 100, 1000]);
  });

  it("says its steps in words", () => {
    expect([0, 0.1524, 0.9144, 0.4572].map((m) => tick(m, "ft-in"))).toEqual(["0", "6 in", "3 ft", "1 ft 6 in"]);
    expect([0.5, 3, 0.2].map((m) => tick(m, "m"))).toEqual(["0.5 m", "3 m", "0.2 m"]);
  });
});
