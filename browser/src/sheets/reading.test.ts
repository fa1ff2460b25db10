import { describe, expect, it } from "vitest";
import type { Cells } from "../phone/cells";
import { classOf } from "../phone/sentence";
import { GAP_CLASSES } from "../phone/table";
import { parseLength } from "../words/lengths";
import * as sheet from "./reading";

const NOTHING = new Set<string>();

describe("questions come one at a time", () => {
  it("asks null, side, depth, raise, current, and stops", () => {
    let cells: Cells = {};
    expect(sheet.first(NOTHING)).toBe("null");
    cells = { null_offset: sheet.nullCell("within a hand", "ft-in") };
    expect(sheet.after("null", cells, NOTHING)).toBe("side");
    expect(sheet.after("side", cells, NOTHING)).toBe("depth");
    expect(sheet.after("depth", { ...cells, depth: "3 ft" }, NOTHING)).toBe("raise");
    expect(sheet.after("raise", cells, NOTHING)).toBe("current");
    expect(sheet.after("current", cells, NOTHING)).toBe("end");
  });
  it("asks no side of the same place, no raise without a depth, and nothing that cannot be done", () => {
    const same = { null_offset: sheet.nullCell("same place", "m") };
    expect(sheet.after("null", same, NOTHING)).toBe("depth");
    expect(sheet.after("depth", same, NOTHING)).toBe("current");
    expect(sheet.after("depth", { depth: "1 m" }, new Set(["raise"]))).toBe("current");
    expect(sheet.after("depth", { depth: "1 m" }, new Set(["raise", "current"]))).toBe("end");
    expect(sheet.first(new Set(["null"]))).toBe("depth");
  });
  it("goes on after the last answer of a sheet that was left, from the first question where only line or place is said", () => {
    expect(sheet.goingOn({ line: "L1", place_words: "at meter-1" }, NOTHING)).toBe("null");
    expect(sheet.goingOn({ line: "L1" }, new Set(["null"]))).toBe("depth");
    const side: Cells = { null_offset: sheet.nullCell("within a hand", "ft-in") };
    expect(sheet.goingOn(side, NOTHING)).toBe("side");
    expect(sheet.goingOn({ ...side, depth: "3 ft" }, NOTHING)).toBe("raise");
    expect(sheet.goingOn({ current_ma: "43" }, NOTHING)).toBe("end");
  });
});

describe("answers are cells", () => {
  it.each(["ft-in", "m"] as const)("coarse answers are ranges that the phone knows again (%s)", (units) => {
    for (const gap of GAP_CLASSES) {
      const text = sheet.nullCell(gap, units);
      expect(classOf(parseLength(text)!)).toBe(gap);
      const left = parseLength(sheet.toTheLeft(text))!;
      expect(classOf(left)).toBe(gap);
      expect(left.high).toBeCloseTo(-parseLength(text)!.low);
      expect(sheet.toTheLeft(sheet.toTheLeft(text))).toBe(text);
    }
  });
  it("says of what was checked here only what was", () => {
    expect(sheet.checkedHere("ft-in")).toEqual({
      null_offset: "-2 in..2 in",
      mark_by: "peak",
      note: "checked here: peak and null in the same place",
    });
  });
  it("gives the raised depth the range it was told", () => {
    expect(sheet.raiseCells("as much", "3 ft", "ft-in")).toEqual({ raised_by: "12 in", raised_depth: "3 ft 11 in..4 ft 1 in" });
    expect(sheet.raiseCells("less", "3 ft", "ft-in")!.raised_depth).toBe("3 ft..3 ft 11 in");
    expect(sheet.raiseCells("more", "1.00 m", "m")!.raised_depth).toBe("1.33 m..1.60 m");
    expect(sheet.raiseCells("more", "deep", "m")).toBeNull();
  });
  it("keeps what nobody can read as a number", () => {
    expect(sheet.withLength({ depth: "2 ft" }, "depth", "3 ft ish")).toEqual({ depth: "2 ft", note: "depth: 3 ft ish" });
    expect(sheet.withLength({ depth_m: "2", note: "wet" }, "depth", "3 ft")).toEqual({ depth: "3 ft", note: "wet" });
    expect(sheet.withNumber({ note: "wet" }, "current_ma", "-3")).toEqual({ note: "wet; current_ma: -3" });
    expect(sheet.withNumber({ current_ma: "4", depth: "3 ft" }, "current_ma", " ")).toEqual({ depth: "3 ft" });
  });
  it("numbers readings on, apart from another phone's", () => {
    expect(sheet.nextKey([])).toBe("1");
    expect(sheet.nextKey(["r07", "2", "house"])).toBe("8");
    expect(sheet.nextKey(["3", "4-b2"], "a1")).toBe("5-a1");
  });
  it("tells what was taken in short", () => {
    const cells = { null_offset: "-5 in..-2 in", depth: "3 ft", raised_depth: "4 ft", current_ma: "43", half_left: "3 ft 2 in" };
    expect(sheet.summary(cells, "ft-in").map((row) => row.words)).toEqual([
      "null 2 in to 5 in left",
      "depth 3 ft",
      "raised 4 ft",
      "43 mA",
      "half 3 ft 2 in left, not taken right",
    ]);
  });
});
