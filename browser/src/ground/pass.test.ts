import { describe, expect, it } from "vitest";
import { byCoordinates } from "../sheets/place";
import type { Row } from "../fold/fold";
import { isPlaced, passOf, passWords, rowsOf } from "./pass";

const ROWS: Row[] = [
  { method: "active", signal: "none", taken_at: "2026-11-25T09:00:00+01:00", heading_deg: "30", easting_m: "1.00", northing_m: "2.00" },
  { easting_m: "3.00", northing_m: "2.50" },
  { easting_m: "5.00", northing_m: "2.00" },
];

describe("a pass", () => {
  it("comes back as it was written, with what lies between its ends", () => {
    expect(rowsOf(passOf(ROWS))).toEqual(ROWS);
    expect(passOf(ROWS).own).toEqual({ method: "active", signal: "none", taken_at: "2026-11-25T09:00:00+01:00" });
  });

  it("keeps what was said of it when an end is moved", () => {
    const pass = passOf(ROWS);
    const moved = rowsOf({ ...pass, to: byCoordinates(pass.to, "6.00", "2.00") });
    expect(moved[2]).toEqual({ easting_m: "6.00", northing_m: "2.00" });
    expect(moved[0]).toEqual(ROWS[0]);
  });

  it("is told in words, and what was not said is not taken for none", () => {
    expect(passWords(ROWS)).toBe("A transmitter of ours: looked, no signal. From 1.00 east, 2.00 north to 5.00 east, 2.00 north.");
    expect(passWords([{ method: "passive-radio" }, {}])).toBe("Radio: what it met is not said. Where is not said.");
    expect([isPlaced(passOf(ROWS).from), isPlaced({ heading_deg: "3" })]).toEqual([true, false]);
  });
});
