import { expect, test } from "vitest";
import type { PositionBody } from "../api/screens";
import { folded } from "../fold/fold";
import { byReceiver, systemFor } from "./receiver";

const at: PositionBody = {
  state: "place", words: "", longitude_deg: -93.100000004, latitude_deg: 45.000000016, position_sigma_m: 0.01231,
  fix: "fixed", received_at: "2026-11-25T14:03:22+00:00", age_s: 0.4,
};

test("a place takes the one before away; its sigma is never told better than it is", () => {
  const cells = byReceiver({ depth: "3 ft", from_thing: "meter-1", easting_m: "5" }, at);
  expect(cells).toEqual({ depth: "3 ft", longitude_deg: "-93.10000000", latitude_deg: "45.00000002", position_sigma_m: "0.013" });
});

test("a sigma on a whole millimetre stays; one that is not told is not made up", () => {
  expect(byReceiver({}, { ...at, position_sigma_m: 0.014 })?.position_sigma_m).toBe("0.014");
  expect(byReceiver({}, { ...at, position_sigma_m: null })).not.toHaveProperty("position_sigma_m");
});

test("an old place, or none, is not written down", () => {
  expect(byReceiver({}, { ...at, state: "silent" })).toBeNull();
  expect(byReceiver({}, { ...at, state: "no place" })).toBeNull();
  expect(byReceiver({}, { ...at, longitude_deg: null })).toBeNull();
});

const job = (crs: string, cells: Record<string, string> | null = null) => {
  const now = folded("elm-4", [], new Map());
  now.keys.job.crs = crs;
  if (cells) now.tables.readings = new Map([["1", { key: "1", rows: [cells], fact: null }]]);
  return now;
};

test("a job with a coordinate system keeps it; one without places gets the UTM zone of where it is", () => {
  expect(systemFor(job("EPSG:26915"), -93.1, 45)).toBe("");
  expect(systemFor(job("local"), -93.1, 45)).toBe("EPSG:32615"); // zone 15 runs from 96 to 90 west
  expect(systemFor(job("local", { from_thing: "meter-1", along: "12 ft" }), 151.2, -33.9)).toBe("EPSG:32756");
  expect(systemFor(job("local"), 180, 10)).toBe("EPSG:32660");
});

test("a job with metres of its own cannot be given one", () => {
  expect(systemFor(job("local", { easting_m: "3", northing_m: "4" }), -93.1, 45)).toBeNull();
  expect(systemFor(job("local", { baseline: "B", station: "3 m" }), -93.1, 45)).toBeNull();
  expect(systemFor(job("local"), 20, 82)).toBeNull();
});
