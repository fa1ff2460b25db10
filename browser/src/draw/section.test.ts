import { describe, expect, it } from "vitest";
import { boxOf, sectionLayout } from "./section";
import { nearest, overlap } from "./geometry";
import type { Section } from "./types";

const told = (name: string, words = "1 ft", source = "computed from the readings of E1") => ({ name, words, source });

/** A line 0.1 m right of the mark and 0.8 m down, its null 0.2 m left, a second line 0.7 m right. */
const section = (changes: Partial<Section> = {}): Section => ({
  source: "reading",
  id: "3",
  name: "reading 3",
  chainage_m: 2,
  trust: "loose",
  says: "2 ft 7 in to the middle of it, could be 2 ft 3 in to 3 ft.",
  paint: "Paint 4 in right of your mark.",
  sides: "",
  left_m: -0.45,
  right_m: 1.35,
  deepest_m: 1.1,
  null_m: { value: -0.2, low: -0.25, high: -0.15 },
  shown_depth_m: { value: 0.5, low: 0.5, high: 0.5 },
  raised_m: 0.3,
  raised_depth_m: 0.75,
  aside_m: { value: 0.1, low: 0, high: 0.25 },
  depth_m: { value: 0.8, low: 0.7, high: 0.9 },
  oval: [[0.3, 0.8], [0.1, 0.95], [-0.03, 0.8], [0.1, 0.68]],
  diameter_m: null,
  seconds: [{ aside_m: { value: 0.7, low: 0.5, high: 1.1 }, depth_m: 0.5, ink: { colour: null, letter: "?", utility: "" }, is_line: null, probability: 0.99, words: "" }],
  holes: [{ hole: "T1", aside_m: 0.15, found: true, top_m: 0.78, dug_to_m: null, diameter_m: 0.05, told: told("test hole T1") }],
  dimensions: [
    { upright: false, from_m: 0, to_m: 0.1, at_m: 0, told: told("paint, from your mark", "4 in right") },
    { upright: false, from_m: 0, to_m: -0.2, at_m: 0, told: told("null, from the peak", "8 in left", "readings.csv row 4 null_offset") },
    { upright: true, from_m: 0, to_m: 0.8, at_m: 0.1, told: told("depth to the middle", "2 ft 7 in") },
    { upright: true, from_m: 0.7, to_m: 0.9, at_m: 0.1, told: told("depth, 19 times in 20", "2 ft 3 in to 3 ft") },
    { upright: false, from_m: 0.1, to_m: 0.7, at_m: 0.5, told: told("second line, beside the line", "2 ft", "computed from the readings of E1; second line") },
  ],
  told: [told("depth to the middle"), told("receiver raised"), told("depth displayed then"), told("depth displayed", "1 ft 8 in", "readings.csv row 4 depth"), told("null, from the peak", "8 in left", "readings.csv row 4 null_offset")],
  because: [],
  next_step: "",
  ...changes,
});

const layout = (changes: Partial<Section> = {}, width = 388) => sectionLayout(section(changes), "ft-in", width, 380);

describe("a section", () => {
  it("has one scale across and down, and its lengths come back from its pixels", () => {
    const { x, y, pxPerM, ground } = layout();
    expect(x(1) - x(0)).toBeCloseTo(pxPerM);
    expect(y(1) - y(0)).toBeCloseTo(pxPerM);
    expect(y(0)).toBe(ground);
  });

  it("fits its width at every size, and its depth too where that is great", () => {
    for (const width of [336, 388, 736]) {
      const { x, y, bottom } = layout({}, width);
      expect(x(-0.25)).toBeGreaterThanOrEqual(0);
      expect(x(1.1)).toBeLessThanOrEqual(width);
      expect(bottom).toBe(y(1.1));
    }
    const deep = layout({ deepest_m: 12 });
    expect(deep.bottom - deep.ground).toBeCloseTo(380);
  });

  it("measures what its dimension lines say", () => {
    const { measures, x, y } = layout();
    const [paint, , depth, band, beside] = measures;
    expect(paint!.from.x).toBeCloseTo(x(0));
    expect(paint!.to.x).toBeCloseTo(x(0.1));
    expect(depth!.to.y - depth!.from.y).toBeCloseTo(y(0.8) - y(0));
    expect(band!.to.y - band!.from.y).toBeCloseTo(y(0.9) - y(0.7));
    expect(beside!.extensions[0]![0]).toEqual({ x: x(0.1), y: y(0.8) });
    expect(beside!.extensions[1]![0]).toEqual({ x: x(0.7), y: y(0.5) });
  });

  it("turns arrows inward where they have no room, and keeps dimension lines on levels of their own", () => {
    const { measures } = layout();
    expect(measures.map(({ inward }) => inward)).toEqual([true, false, false, false, false]);
    expect(new Set([measures[0]!.from.y, measures[1]!.from.y, measures[4]!.from.y]).size).toBe(3);
  });

  it("has words that stay in the picture and off one another", () => {
    for (const width of [336, 388, 736]) {
      const { labels, measures, height } = layout({}, width);
      const boxes = [...labels, ...measures.map(({ text }) => text)].map(boxOf);
      for (const [i, box] of boxes.entries()) {
        expect(box.left).toBeGreaterThanOrEqual(0);
        expect(box.right).toBeLessThanOrEqual(width);
        expect(box.bottom).toBeLessThanOrEqual(height);
        for (const [j, other] of boxes.entries()) if (j > i) expect(overlap(box, other), `${i} ${j} ${width}`).toBe(0);
      }
    }
  });

  it("gives the number of what is tapped, and where it came from", () => {
    const { elements, x, y, ground } = layout();
    const tapped = (m: number, down: number) => nearest(elements, { x: x(m), y: y(down) });
    expect(tapped(0.11, 0.81)?.kind).toBe("line");
    expect(tapped(1, 0.52)?.kind).toBe("second");
    expect(tapped(0, 0.5)?.told[0]).toEqual(told("depth displayed", "1 ft 8 in", "readings.csv row 4 depth"));
    expect(nearest(elements, { x: x(0), y: ground - 9 })?.told[0]!.source).toBe("readings.csv row 4");
    expect(tapped(-0.2, -0.05)?.key).toBe("null");
    for (const { told: numbers } of elements.filter(({ kind }) => kind !== "line" && kind !== "oval")) {
      expect(numbers.length).toBeGreaterThan(0);
      for (const { source } of numbers) expect(source).not.toBe("");
    }
  });

  it("draws a raised reading at the depth from the ground, and nothing that was not taken", () => {
    const { elements, y } = layout();
    expect(elements.find(({ key }) => key === "raised")!.outline[0]!.y).toBeCloseTo(y(0.45));
    const bare = layout({ null_m: null, shown_depth_m: null, raised_m: null, raised_depth_m: null, seconds: [], holes: [], dimensions: [] });
    expect(bare.elements.map(({ kind }) => kind)).toEqual(["line", "mark", "oval"]);
    expect(bare.labels.map(({ rows }) => rows[0])).toEqual(["your mark"]);
  });
});
