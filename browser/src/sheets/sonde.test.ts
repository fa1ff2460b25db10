import { expect, it } from "vitest";
import { depthFromNulls } from "./sonde";

it("nulls 1.414 m apart are 1 m below the coil, as physics/sonde.py says", () => {
  const found = depthFromNulls({ null_ahead: "0.7 m", null_behind: "0.714 m" })!;
  expect(found.value + 0.07).toBeCloseTo(1, 3);
  expect(found.low).toBeLessThan(found.value - 0.05);
});

it("a mark that is not midway does no harm, a missing null gives nothing, a range widens", () => {
  const even = depthFromNulls({ null_ahead: "0.7 m", null_behind: "0.7 m" })!;
  const odd = depthFromNulls({ null_ahead: "0.5 m", null_behind: "0.9 m" })!;
  expect(odd.value).toBeCloseTo(even.value, 9);
  expect(depthFromNulls({ null_ahead: "0.7 m" })).toBeNull();
  const wide = depthFromNulls({ null_ahead: "0.6 m..0.8 m", null_behind: "0.7 m" })!;
  expect(wide.high).toBeGreaterThan(even.high + 0.05);
});
