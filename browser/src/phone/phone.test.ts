import { describe, expect, it } from "vitest";
import file from "../../../src/plumbmark/inference/_tables/phone_table.json";
import vectors from "../../../tests/browser/phone_vectors.json";
import type { Units } from "../words/lengths";
import * as s from "./sentence";
import { neighbours, slipOf } from "./slips";
import { decoded, lookup, type PhoneReading } from "./table";

const table = decoded(file);
const AT: s.Situation = { units: "ft-in", soil: "not known", passive: false, cannot: new Set() };

describe("the table is read as the program reads it", () => {
  it("gives every answer, and none where the program has none", () => {
    let none = 0;
    for (const v of vectors.places) {
      const found = lookup(table, v as unknown as PhoneReading);
      if (v.answer === null) {
        expect(found).toBeNull();
        none += 1;
        continue;
      }
      expect(found).not.toBeNull();
      const flat = [...found!.shift, ...found!.depth, found!.single, found!.within];
      flat.forEach((value, k) => expect(value).toBeCloseTo(v.answer![k]!, 9));
    }
    expect(none).toBeGreaterThan(20);
    expect(vectors.places.length - none).toBeGreaterThan(300);
  });
  it("refuses a depth that is none", () => {
    const reading = { gap: null, raisedDepth: null, halves: [], soil: "not known" } as const;
    expect(() => lookup(table, { ...reading, depth: 0 })).toThrow("above 0");
    expect(() => lookup(table, { ...reading, depth: NaN })).toThrow("above 0");
  });
  it("says that a table was cut short", () => {
    expect(() => decoded({ ...file, cells: file.cells.slice(0, 400) })).toThrow("holds");
  });
});

describe("sentences are the program's", () => {
  it("says what to paint and how deep", () => {
    for (const v of vectors.sentences) {
      const [shift, depth] = [v.shift, v.depth].map(([value, low, high]) => ({ value: value!, low: low!, high: high! }));
      expect([s.whatToPaint(shift!, v.units as Units), s.howDeep(depth!, v.units as Units)]).toEqual(v.said);
    }
  });
  it("asks for the same next step", () => {
    for (const v of vectors.next) {
      const names = ["null", "raise", "half points"] as const;
      const taken = new Set<s.Action>(names.filter((_, k) => v.taken[k]));
      expect(s.nextStep(taken, v.trust as s.Trust, new Set()).words).toBe(v.said);
    }
  });
  it("gives the program's caution", () => expect(vectors.caution.startsWith(s.CAUTION)).toBe(true));
});

describe("what is said of one place", () => {
  it("puts the line on the side of the null", () => {
    const right = s.said(table, { depth: "3 ft", null_offset: "5 in..12 in" }, AT).estimate!;
    const left = s.said(table, { depth: "3 ft", null_offset: "-12 in..-5 in" }, AT).estimate!;
    const told = lookup(table, { depth: 0.9144, gap: "within a boot", raisedDepth: null, halves: [], soil: "not known" })!;
    [right.shift.low, right.shift.value, right.shift.high].forEach((v, k) => expect(v).toBeCloseTo(told.shift[k]!, 9));
    expect(right.shift.low).not.toBeCloseTo(-right.shift.high, 2);
    expect(left.shift).toEqual({ value: -right.shift.value, low: -right.shift.high, high: -right.shift.low });
  });
  it("tells nobody to paint where the band is wide and unproven", () => {
    const wide = s.said(table, { depth: "3 ft", null_offset: "5 in..12 in" }, AT);
    expect(wide.estimate!.trust).toBe("unproven");
    expect(wide.answer).toMatch(/^Do not paint on this alone: the line could be .+ left to .+ right of your mark/);
    const loose = s.said(table, { depth: "3 ft", null_offset: "-2 in..2 in" }, AT);
    expect(loose.answer).toMatch(/^The paint belongs on your mark, could be .+ left to .+ right\.$/);
  });
  it("takes a range for its class, and a wider band for a range of depths", () => {
    expect(s.CLASS_ENDS_M).toEqual(file.gap_class_m);
    expect(s.classOf({ low: -0.0508, high: 0.0508 })).toBe("same place");
    expect(s.classOf({ low: -0.127, high: -0.0508 })).toBe("within a hand");
    expect(s.classOf({ low: 0.127, high: 0.3048 })).toBe("within a boot");
    expect(s.classOf({ low: 0.3048, high: 1.524 })).toBe("farther");
    expect(s.classOf({ low: 0.2, high: 0.25 })).toBeNull();
    const exact = s.said(table, { depth: "1 m" }, AT).estimate!.depth;
    const wide = s.said(table, { depth: "0.9 m..1.1 m" }, AT).estimate!.depth;
    expect(wide.low).toBeLessThan(exact.low);
    expect(wide.high).toBeGreaterThan(exact.high);
  });
  it("claims no depth where none was read", () => {
    const told = s.said(table, { null_offset: "-2 in..2 in" }, AT);
    expect(told.estimate).toBeNull();
    expect(told.answer).toContain("same place");
    expect(told.deep).toContain("not known");
    expect(s.said(table, { depth: "3 ft", depth_refused: "yes" }, AT).deep).toContain("withheld");
  });
  it("never asks for what cannot be done", () => {
    const cannot = new Set(["null", "raise", "half points", "walk across", "test hole", "depth"]);
    expect(s.said(table, { depth: "3 ft" }, { ...AT, cannot }).next.action).toBe("none");
    expect(s.said(table, { depth: "3 ft" }, { ...AT, cannot: new Set(["null"]) }).next.action).toBe("raise");
  });
  it("says so where numbers hardly go together", () => {
    const told = s.said(table, { depth: "1.0 m", null_offset: "12 in..5 ft", half_left: "1 m", half_right: "1.05 m" }, AT);
    expect(told.unlikely).toBe(true);
    expect(told.answer).toContain("slip");
  });
  it("caps passive signal at loose", () => {
    expect([s.trustOf(0.99, true), s.trustOf(0.99, false), s.trustOf(0.7, false), s.trustOf(0.5, true)]).toEqual(["loose", "holds", "loose", "unproven"]);
  });
  it("answers well within a blink", () => {
    const cells = { depth: "0.9 m..1.1 m", null_offset: "1 in..3 in", raised_by: "12 in", raised_depth: "1.25 m..1.35 m", half_left: "1 m..1.1 m" };
    const times = Array.from({ length: 50 }, () => {
      const start = performance.now();
      s.said(table, cells, AT);
      return performance.now() - start;
    });
    expect(times.sort((a, b) => a - b)[45]).toBeLessThan(50);
  });
});

describe("a value that does not fit is asked about", () => {
  const row = (depth: string, current: string) => ({ depth, current_ma: current });
  const near = [row("3 ft", "8"), row("3 ft 1 in", "8.2"), row("2 ft 11 in", "7.9")];
  it("names the current and both sides", () => {
    const slip = slipOf("7", row("3 ft", "72"), near, new Set(), "ft-in")!;
    expect(slip).toMatchObject({ question: "slip:7:current_ma", column: "current_ma" });
    expect(slip.words).toBe("72 mA here, about 8 mA on either side. A slip, or another line?");
  });
  it("names a likely slip of a depth", () => {
    expect(slipOf("7", row("30 ft", "8"), near, new Set(), "ft-in")!.words).toContain("a decimal point");
  });
  it("asks once, and not without neighbours or where it fits", () => {
    expect(slipOf("7", row("3 ft", "72"), near, new Set(["slip:7:current_ma"]), "ft-in")).toBeNull();
    expect(slipOf("7", row("3 ft", "72"), near.slice(0, 1), new Set(), "ft-in")).toBeNull();
    expect(slipOf("7", row("3 ft", "7.7"), near, new Set(), "ft-in")).toBeNull();
  });
  it("takes three on each side", () => {
    const rows = Array.from({ length: 9 }, (_, k) => ({ key: String(k), cells: { depth: `${k} m` } }));
    expect(neighbours(rows, "4").map((c) => c.depth)).toEqual(["1 m", "2 m", "3 m", "5 m", "6 m", "7 m"]);
    expect(neighbours(rows, "new").map((c) => c.depth)).toEqual(["6 m", "7 m", "8 m"]);
  });
});
