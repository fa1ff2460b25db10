import { describe, expect, it } from "vitest";
import { cellAt, cellsOf, levelOf, placeIn, shaded } from "./chances";
import { arrow, inside, spread, tapped, viewOf } from "./ground";

const EXTENT = { west_m: 10, south_m: 20, east_m: 20, north_m: 25 };

describe("ground from above", () => {
  it("is to scale, north up, and a tap gives the place back", () => {
    const view = viewOf(EXTENT, 352, 1000);
    expect(view.pxPerM).toBe(30);
    expect(view.px([15, 22.5]).x).toBe(176);
    expect(view.px([15, 25]).y).toBeLessThan(view.px([15, 20]).y);
    expect(view.px([16, 20]).x - view.px([15, 20]).x).toBe(30);
    expect(view.place(view.px([12.34, 23.21]))).toEqual([12.34, 23.21]);
  });

  it("takes no more height than it is given", () => {
    const view = viewOf({ west_m: 0, east_m: 1, south_m: 0, north_m: 100 }, 400, 300);
    expect(view.pxPerM).toBe(3);
    expect(view.height).toBeLessThan(400);
  });

  it("is tapped by points before paths, and by areas where nothing else is near", () => {
    const shapes = [
      { key: "area", area: true, outline: [{ x: 0, y: 0 }, { x: 100, y: 0 }, { x: 100, y: 100 }, { x: 0, y: 100 }], told: [] },
      { key: "path", outline: [{ x: 0, y: 50 }, { x: 100, y: 50 }], told: [] },
      { key: "point", outline: [{ x: 50, y: 54 }], told: [] },
    ];
    expect(tapped(shapes, { x: 50, y: 52 })?.key).toBe("point");
    expect(tapped(shapes, { x: 10, y: 52 })?.key).toBe("path");
    expect(tapped(shapes, { x: 50, y: 90 })?.key).toBe("area");
    expect(tapped(shapes, { x: 150, y: 90 })).toBeNull();
    expect(inside([{ x: 0, y: 0 }, { x: 4, y: 0 }, { x: 0, y: 4 }], { x: 3, y: 3 })).toBe(false);
  });

  it("has its signs where they are wanted, moved where one stands already", () => {
    const put = spread([{ x: 0, y: 0 }, { x: 5, y: 3 }, { x: 80, y: 0 }]);
    expect([put[0], put[2]]).toEqual([{ x: 0, y: 0 }, { x: 80, y: 0 }]);
    expect(put[1]!.x).toBe(5);
    expect(put[1]!.y).toBeGreaterThan(28);
  });

  it("has the way of a walk at its middle, where there is room", () => {
    expect(arrow([{ x: 0, y: 0 }, { x: 100, y: 0 }], 5)).toEqual([{ x: 45, y: 5 }, { x: 55, y: 0 }, { x: 45, y: -5 }]);
    expect(arrow([{ x: 0, y: 0 }, { x: 5, y: 0 }])).toEqual([]);
  });
});

const base64 = (...bytes: number[]) => btoa(String.fromCharCode(...bytes));
/** Three columns to the north, two rows to the east of them. */
const MAP = {
  easting_m: 100, northing_m: 200, bearing_deg: 0, cell_m: 0.5, rows: 2, columns: 3, merged: 1,
  chance: base64(95, 95, 40, 255, 95, 10),
  signal: base64(80, 80, 50, 255, 49, 0),
};

describe("a chance map", () => {
  it("lies where the server laid it", () => {
    expect(placeIn(MAP, 2, 1)).toEqual([100.5, 201]);
    const east = placeIn({ ...MAP, bearing_deg: 90 }, 2, 1);
    expect(east[0]).toBeCloseTo(101);
    expect(east[1]).toBeCloseTo(199.5);
  });

  it("tells the cell of a place, and nothing of ground that is not looked at", () => {
    const cells = cellsOf(MAP);
    expect(cellAt(cells, [100.1, 201.2])).toEqual({ chance: 40, swept: true });
    expect(cellAt(cells, [100.6, 200.7])).toEqual({ chance: 95, swept: false });
    expect(cellAt(cells, [100.6, 200.2])).toBeNull();
    expect(cellAt(cells, [99.9, 200.2])).toBeNull();
  });

  it("is shaded by level in runs, what was not swept apart", () => {
    const { levels, unswept } = shaded(cellsOf(MAP));
    expect(levels.map(({ level, runs }) => [level.number, runs.length])).toEqual([[1, 2], [4, 1], [5, 1]]);
    expect(levels[0]!.runs[0]![1]).toEqual([100, 201]);
    expect(unswept).toHaveLength(1);
    expect([90, 89, 75, 50, 49, 25, 0].map((c) => levelOf(c).number)).toEqual([1, 2, 2, 3, 4, 4, 5]);
  });

  it("has its number where most round it is alike", () => {
    const [rows, columns] = [9, 20];
    const chance = Array.from({ length: rows * columns }, (_, i) => (i % columns < 10 ? 95 : 10));
    const even = { ...MAP, rows, columns, cell_m: 1, chance: base64(...chance), signal: base64(...chance) };
    const { levels } = shaded(cellsOf(even));
    for (const [i, from] of [0, 10].entries()) {
      expect(levels[i]!.at![1]! - 200).toBeGreaterThan(from + 3);
      expect(levels[i]!.at![1]! - 200).toBeLessThan(from + 7);
    }
  });
});
