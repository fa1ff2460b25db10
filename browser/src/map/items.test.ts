import { describe, expect, it } from "vitest";
import { folded } from "../fold/fold";
import type { KeptFact } from "../journal/db";
import type { FactKind, Payload } from "../journal/fact";
import { featureText, freeName, lastOwn, namedFact } from "./facts";
import { itemsOf, type SiteScreen } from "./items";

let made = 0;
function kept(kind: FactKind, payload: Payload, supersedes: string | null = null, device = "me"): KeptFact {
  made += 1;
  const fact = { id: `f${made}`, job: "j", kind, payload, at: "", by: "", device, seq: made, supersedes, prev: "", hash: "" };
  return { fact, order: made, late: false };
}
const thing = (key: string, cells: Payload) => kept("entry", { table: "things", key, rows: [cells] });
const at = { easting_m: "1.5", northing_m: "2" };
const screenOf = (part: Partial<SiteScreen>): SiteScreen =>
  ({ digs: [], records: [], passes: [], baselines: [], corners: [], seconds: [], lines: [], marks: [], paint: [], things: [], holes: [], unplaced: [], notes: [], ...part }) as unknown as SiteScreen;
const drawn = (facts: KeptFact[], screen: SiteScreen | null = null, behind = true) => itemsOf(folded("j", facts), screen, facts, behind, "m");

describe("what is on the plan", () => {
  it("is drawn from this phone's facts alone, and by words only is not drawn", () => {
    const items = drawn([thing("meter-1", { kind: "meter", ...at }), thing("valve-1", { kind: "valve", place_words: "by the gate" })]);
    expect(items.map(({ id, path }) => [id, path])).toEqual([["thing/meter-1", [[1.5, 2]]]]);
  });
  it("stands along a baseline, to the right of it, whatever the unit", () => {
    const base = kept("item", { table: "baselines", key: "B1", keys: { start_easting_m: "0", start_northing_m: "0", end_easting_m: "0", end_northing_m: "10" } });
    const items = drawn([base, thing("pole-1", { kind: "pole", baseline: "B1", station: "1 m", offset_ft: "10" })]);
    expect(items.find(({ key }) => key === "pole-1")!.path[0]).toEqual([expect.closeTo(3.048, 9), expect.closeTo(1, 9)]);
  });
  it("draws nothing that was told along a baseline that stands nowhere", () => {
    const keys = { start_easting_m: "0", start_northing_m: "0", end_easting_m: "1", end_northing_m: "0", placed: false };
    expect(drawn([kept("item", { table: "baselines", key: "words-1", keys }), thing("pole-1", { baseline: "words-1", station: "1 m" })])).toEqual([]);
  });
  it("keeps what the server says of a row, and drops what is gone from the journal", () => {
    const mine = thing("meter-1", { kind: "meter", ...at });
    const screen = screenOf({ things: [{ thing: "meter-1", kind: "meter", place: [9, 9], colour: null, words: "Said there." }, { thing: "gone", kind: "pole", place: [1, 1], colour: null, words: "" }] });
    const [only, ...rest] = drawn([mine], screen, false);
    expect(rest).toEqual([]);
    expect([only!.words, only!.path]).toEqual(["Said there.", [[1.5, 2]]]);
  });
  it("takes a dig that was taken back away before the server knows, and leaves one of a file", () => {
    const dig = kept("shape", { file: "dig", key: "trench-1", feature: featureText([[0, 0], [1, 0]], false, { kind: "trench", width_m: 0.4 }) });
    const screen = screenOf({ digs: [{ dig: "trench-1", kind: "trench", paths: [[[0, 0], [1, 0]]], ground: [], words: "" }, { dig: "drain", kind: "trench", paths: [[[5, 5], [6, 5]]], ground: [], words: "" }] } as Partial<SiteScreen>);
    expect(drawn([dig], screen).find(({ key }) => key === "trench-1")!.widthM).toBe(0.4);
    expect(drawn([dig, kept("remove", {}, dig.fact.id)], screen).map(({ key }) => key)).toEqual(["drain"]);
  });
  it("closes an area and says how large a trench is", () => {
    expect(JSON.parse(featureText([[0, 0], [1, 0], [1, 1]], true, {})).geometry.coordinates).toEqual([[[0, 0], [1, 0], [1, 1], [0, 0]]]);
    const dig = kept("shape", { file: "dig", key: "trench-1", feature: featureText([[0, 0], [1, 0]], false, { kind: "trench", width_m: 0.4, depth_m: 1 }) });
    expect(drawn([dig])[0]!.words).toBe("Trench-1, 0.40 m wide, 1.00 m deep.");
  });
});

describe("taking back", () => {
  it("takes what this device put there last, and its file with a photograph", () => {
    const facts = [thing("meter-1", at), kept("file", { name: "photos/a.jpg" }), kept("entry", { table: "photos", key: "a.jpg", rows: [{ thing: "meter-1" }] }), kept("entry", { table: "readings", key: "1", rows: [{}] })];
    const last = lastOwn(facts, "me");
    expect(last.map(({ kind }) => kind)).toEqual(["entry", "file"]);
    expect(namedFact(last[0]!)).toBe("the photograph");
    const without = [...facts, ...last.map(({ id }) => kept("remove", {}, id))];
    expect(lastOwn(without, "me").map(namedFact)).toEqual(["meter-1"]);
    expect(lastOwn(facts, "another")).toEqual([]);
  });
  it("gives names that two phones do not both give", () => {
    expect([freeName("trench", ["trench-1"], ""), freeName("trench", ["trench-1"], "a3")]).toEqual(["trench-2", "trench-a3-1"]);
  });
});
