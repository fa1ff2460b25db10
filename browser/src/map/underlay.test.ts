import { describe, expect, it } from "vitest";
import { fitted, fromWorldFile, left, toGrid, toPixels, upright, worldFile, worldNameOf } from "./underlay";
import type { Point } from "./plane";

const near = (at: Point) => at.map((each) => expect.closeTo(each, 6));

describe("a picture under the plan", () => {
  const first = upright(200, 100, [10, 20], 40); // 0.2 m to a pixel, its top left corner at (-10, 30)
  it("lies upright at first", () => {
    expect(toGrid(first, [0, 0])).toEqual(near([-10, 30]));
    expect(toGrid(first, [200, 100])).toEqual(near([30, 10]));
    expect(toPixels(first, [10, 20])).toEqual(near([100, 50]));
  });
  it("is scaled about its first point", () => {
    const [p, q]: [Point, Point] = [toGrid(first, [0, 100]), toGrid(first, [100, 100])];
    const scaled = fitted(first, p, q, 5, null, null);
    expect(toGrid(scaled, [0, 100])).toEqual(near(p));
    expect(toGrid(scaled, [100, 100])).toEqual(near([p[0] + 5, p[1]]));
    expect(toGrid(scaled, [0, 0])).toEqual(near([p[0], p[1] + 5])); // pixels stay square
  });
  it("is moved and turned to where its points are", () => {
    const [p, q]: [Point, Point] = [toGrid(first, [0, 100]), toGrid(first, [100, 100])];
    const placed = fitted(first, p, q, 5, [1, 2], [1, 50]); // the picture's right is north on the ground
    expect(toGrid(placed, [0, 100])).toEqual(near([1, 2]));
    expect(toGrid(placed, [100, 100])).toEqual(near([1, 7]));
    expect(toGrid(placed, [0, 0])).toEqual(near([-4, 2])); // its top looks west then
    expect(left([1, 2], [1, 50], 5)).toBeCloseTo(43, 9);
  });
  it("comes back from its world file, whose numbers are of the middle of the first pixel", () => {
    const placed = fitted(first, [0, 0], [3, 1], 2, [7, 8], [6, 9]);
    const read = fromWorldFile(worldFile(placed))!;
    for (const pixel of [[0, 0], [200, 0], [37, 61]] as Point[]) expect(toGrid(read, pixel)).toEqual(near(toGrid(placed, pixel)));
    expect(worldFile(upright(10, 10, [5, 5], 10)).split("\n").slice(0, 6).map(Number)).toEqual([1, 0, 0, -1, 0.5, 9.5]);
    expect(fromWorldFile("1 2 three")).toBeNull();
  });
  it("has its world file beside it", () => {
    expect([worldNameOf("plans/a.jpg"), worldNameOf("plans/a.geojson"), worldNameOf("photos/a.jpg")]).toEqual(["plans/a.jgw", "", ""]);
  });
});
