import { describe, expect, it } from "vitest";
import vectors from "../../../tests/browser/length_vectors.json";
import * as words from "./lengths";

type Units = words.Units;

describe("lengths are read and said as the program does", () => {
  it("reads every cell the same, and refuses the same", () => {
    for (const [cell, ends] of vectors.cells as [string, [number, number] | null][]) {
      const found = words.parseLength(cell);
      if (ends === null) expect(found, cell).toBeNull();
      else {
        expect(found?.low, cell).toBeCloseTo(ends[0], 12);
        expect(found?.high, cell).toBeCloseTo(ends[1], 12);
      }
    }
  });
  it("says every length the same", () => {
    for (const [value, units, said] of vectors.lengths as [number, Units, string][]) {
      expect(words.length(value, units)).toBe(said);
    }
  });
  it("says every band the same", () => {
    for (const v of vectors.bands) {
      const [value, low, high] = v.interval as [number, number, number];
      const units = v.units as Units;
      const told = { value, low, high };
      expect(words.stepM(high - low, units)).toBeCloseTo(v.step, 12);
      expect(words.length(value, units, high - low)).toBe(v.length);
      expect([words.band(told, units), words.paint(told, units), words.sideways(told, units)]).toEqual([v.band, v.paint, v.sideways]);
    }
  });
  it("counts chances the same", () => {
    for (const [p, said] of vectors.chances as [number, string][]) expect(words.chance(p)).toBe(said);
  });
  it("writes cells that it reads back", () => {
    expect(words.cell(-0.1016, "ft-in")).toBe("-4 in");
    expect(words.rangeCell(0.05, 0.12, "ft-in")).toBe("2 in..5 in");
    for (const units of ["ft-in", "m"] as const)
      for (const value of [0, 0.0508, 0.92, 1.5, -0.3, 3.33]) {
        const back = words.parseLength(words.cell(value, units))!;
        expect(Math.abs(back.low - value)).toBeLessThanOrEqual(units === "m" ? 0.0051 : 0.0128);
      }
  });
});
