import { expect, it } from "vitest";
import { keysOf, typed } from "./Keypad";

it("says lengths by keys and keys by lengths, with tens of feet or metres along the ground", () => {
  expect(typed([2, 11], "ft-in")).toBe("2 ft 11 in");
  expect(typed([undefined, 7], "ft-in")).toBe("7 in");
  expect(typed([3, 2, undefined], "ft-in", true)).toBe("32 ft");
  expect(typed([1, 4, 0, 7], "m", true)).toBe("14.07 m");
  expect(keysOf("2 ft 11 in", "ft-in")).toEqual([2, 11]);
  expect(keysOf("32 ft", "ft-in", true)).toEqual([3, 2, 0]);
  expect(keysOf("14.07 m", "m", true)).toEqual([1, 4, 0, 7]);
});

it("takes no digit from a length that keys cannot say: a range, another unit, one too long", () => {
  for (const text of ["", "2 in..5 in", "-3 in", "0.92 m", "10 ft"]) expect(keysOf(text, "ft-in")).toEqual([]);
});
