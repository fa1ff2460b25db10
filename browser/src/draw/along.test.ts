import { describe, expect, it } from "vitest";
import { alongLayout, notesOf, placeAt, stretchesOf } from "./along";
import { nearest } from "./geometry";
import type { AlongLine, AlongPlace } from "./types";

const place = (id: string, at: number, depth = 1, ma = 10): AlongPlace => ({
  source: "reading",
  id,
  chainage_m: at,
  depth_m: { value: depth, low: depth - 0.1, high: depth + 0.2 },
  top_m: null,
  current_ma: { value: ma, low: ma / 2, high: ma * 2 },
  shown_depth_m: depth,
  shown_current_ma: ma,
  trust: "holds",
  told: [],
});

const line = (changes: Partial<AlongLine> = {}): AlongLine => ({
  line: "E1",
  name: "E1, electric",
  ink: { colour: "red", letter: "E", utility: "electric" },
  says: [],
  direction: "",
  from_m: 0,
  to_m: 30,
  deepest_m: 1.5,
  weakest_ma: 1,
  strongest_ma: 100,
  places: [place("4", 30), place("1", 0), place("2", 10), place("3", 20)],
  swaps: [],
  slopes: [],
  slope: "",
  events: [],
  holes: [],
  seconds: [],
  ...changes,
});

describe("a line from end to end", () => {
  it("has depth downward and current on a log axis, inside the picture", () => {
    const drawn = alongLayout(line(), "ft-in", 388, 180);
    expect([drawn.down(0), drawn.down(1.5)]).toEqual([drawn.depthTop, drawn.depthBottom]);
    expect(drawn.up(100)).toBe(drawn.currentTop);
    expect(drawn.up(1)).toBeCloseTo(drawn.currentBottom);
    expect(drawn.up(10) - drawn.up(100)).toBeCloseTo(drawn.up(1) - drawn.up(10));
    expect(drawn.x(0)).toBe(drawn.left);
    expect(drawn.x(30)).toBe(drawn.right);
    for (const { at } of [...drawn.depths, ...drawn.currents]) expect(at).toBeLessThan(drawn.height);
  });

  it("cuts off at its axes what runs out of them", () => {
    const drawn = alongLayout(line(), "m", 388, 180);
    expect(drawn.down(40)).toBe(drawn.depthBottom);
    expect([drawn.up(1e4), drawn.up(0)]).toEqual([drawn.currentTop, drawn.currentBottom]);
  });

  it("has a band that holds its middle at every place", () => {
    const [whole] = alongLayout(line(), "ft-in", 388, 180).depth;
    expect(whole!.middle).toHaveLength(4);
    expect(whole!.band).toHaveLength(8);
    for (const [i, { x, y }] of whole!.middle.entries()) {
      expect(whole!.band[i]).toMatchObject({ x });
      expect(whole!.band[i]!.y).toBeGreaterThan(y);
      expect(whole!.band[7 - i]!.y).toBeLessThan(y);
    }
  });

  it("is not drawn across where lines may have been swapped", () => {
    const groups = (swaps: AlongLine["swaps"]) => stretchesOf(line({ swaps })).map((each) => each.map(({ id }) => id).join(""));
    expect(groups([])).toEqual(["1234"]);
    expect(groups([{ before: "2", after: "3", from_m: 10, to_m: 20, words: "" }])).toEqual(["12", "34"]);
  });

  it("does not join the current of one hook-up to that of another", () => {
    const { current, depth } = alongLayout(line(), "m", 388, 180, ({ id }) => (Number(id) % 2 ? "west" : "east"));
    expect(current.map(({ hookup, middle }) => [hookup, middle.length])).toEqual([["west", 2], ["east", 2]]);
    expect(depth.map(({ hookup, middle }) => [hookup, middle.length])).toEqual([["", 4]]);
  });

  it("answers a tap with the nearest place", () => {
    const drawn = alongLayout(line(), "ft-in", 388, 180);
    expect(placeAt(line(), drawn, drawn.x(16))?.id).toBe("3");
    expect(placeAt(line(), drawn, drawn.x(14))?.id).toBe("2");
    expect(placeAt(line({ places: [] }), drawn, 10)).toBeNull();
    expect(nearest([{ outline: [{ x: drawn.x(5), y: 0 }] }], { x: drawn.x(5), y: 8 }, 12)).not.toBeNull();
  });

  it("has its one place in the middle where there is no more", () => {
    const drawn = alongLayout(line({ places: [place("1", 0)], to_m: 0 }), "m", 388, 180);
    expect(drawn.x(0)).toBeCloseTo((drawn.left + drawn.right) / 2);
  });

  it("numbers what changes in the order of the line", () => {
    const event = (chainage_m: number, words: string) => ({ chainage_m, kind: "drop", change_db: -6, probability: 0.9, words, cause: "" });
    expect(notesOf(line({ events: [event(20, "b"), event(5, "a")] })).map(({ words }) => words)).toEqual(["a", "b"]);
  });
});
