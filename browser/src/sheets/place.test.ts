import { expect, it } from "vitest";
import * as p from "./place";

it("says a place as the crew does, and writes it as cells", () => {
  const said = { from: "meter-1", toward: "curb-stop-1", along: "12 ft" };
  expect(p.placeWords(said)).toBe("between meter-1 and curb-stop-1, 12 ft from meter-1");
  expect(p.placeWords({ ...said, toward: "" })).toBe("12 ft from meter-1");
  expect(p.placeWords({ ...said, along: "" })).toBe("between meter-1 and curb-stop-1");
  expect(p.placeWords({ from: "pole-1", toward: "", along: "" })).toBe("at pole-1");
  expect(p.byWords({ depth: "3 ft", easting_m: "4" }, said)).toEqual({
    depth: "3 ft",
    from_thing: "meter-1",
    toward_thing: "curb-stop-1",
    along: "12 ft",
    place_words: "between meter-1 and curb-stop-1, 12 ft from meter-1",
  });
});

it("has one place at a time, and keeps what is no place", () => {
  const cells = p.byBaseline({ depth: "3 ft", place_words: "at pole-1", from_thing: "pole-1" }, "B1", "12 ft", "-2 ft");
  expect(cells).toEqual({ depth: "3 ft", baseline: "B1", station: "12 ft", offset: "-2 ft" });
  expect(p.byTies(cells, "P7")).toEqual({ depth: "3 ft", place: "P7" });
  expect(p.byCoordinates(cells, "4.2", "1", "0.02")).toEqual({ depth: "3 ft", easting_m: "4.2", northing_m: "1", position_sigma_m: "0.02" });
  expect(p.withoutPlace({ ...cells, null_offset: "1 in", station_ft: "3" })).toEqual({ depth: "3 ft", null_offset: "1 in" });
});

it("tells a place in short whichever way it is given", () => {
  expect(p.placeShort({ place_words: "at pole-1" })).toBe("at pole-1");
  expect(p.placeShort({ baseline: "B1", station_m: "4" })).toBe("baseline B1, 4 m");
  expect(p.placeShort({ baseline: "B1", station_ft: "42.5" })).toBe("baseline B1, 42 ft 6 in");
  expect(p.placeShort({ easting_m: "4", northing_m: "1" })).toBe("4 east, 1 north");
  expect(p.placeShort({ depth: "3 ft" })).toBe("");
});

it("names a thing that nobody named", () => {
  expect(p.thingKey("meter", ["meter-1", "valve-1"])).toBe("meter-2");
});

it("keeps the place of a walk's zero point apart from the points along it", () => {
  const point = { offset: "-4 ft", horizontal: "37" };
  const on = p.byBaseline({}, "B-1", "19 ft", "2 ft");
  const row = p.walkPlaced(point, on);
  expect(row).toEqual({ offset: "-4 ft", horizontal: "37", baseline: "B-1", station: "19 ft", place_offset: "2 ft" });
  expect(p.placeOfWalk(row)).toEqual(on);
  expect(p.walkPlaced(row, p.byWords({}, { from: "pole-1", toward: "", along: "" }))).toEqual({ ...point, from_thing: "pole-1", place_words: "at pole-1" });
  expect(p.walkPlaced(row, {})).toEqual(point);
});
