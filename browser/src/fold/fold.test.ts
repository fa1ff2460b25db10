import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import type { Fact, FactKind, Payload } from "../journal/fact";
import { rowsOf } from "./csv";
import { folded } from "./fold";

interface Vectors {
  files: Record<string, string>;
  cases: { facts: Fact[]; expected: object }[];
}

let made = 0;
function fact(kind: FactKind, payload: Payload, more: Partial<Fact> = {}): Fact {
  made += 1;
  const rest = { job: "j", at: "2026-11-25T14:03:22+01:00", by: "", seq: made, prev: "", hash: "" };
  return { id: `f${made}`, device: "a", supersedes: null, ...rest, kind, payload, ...more };
}
const entry = (key: string, depth: string, more: Partial<Fact> = {}) => fact("entry", { table: "readings", key, rows: [{ depth }] }, more);
const fold = (facts: Fact[], texts?: Map<string, string>) => folded("j", facts.map((each, i) => ({ fact: each, order: i + 1, late: false })), texts);
const depth = (facts: Fact[]) => fold(facts).tables.readings?.get("7")?.rows[0]?.depth;

test("a correction shows, taking it back shows what it corrected, taking that back shows the correction", () => {
  const first = entry("7", "3 ft");
  const second = entry("7", "4 ft", { supersedes: first.id });
  const undo = fact("remove", {}, { supersedes: second.id });
  const redo = fact("remove", {}, { supersedes: undo.id });
  expect(depth([first])).toBe("3 ft");
  expect(depth([first, second])).toBe("4 ft");
  expect(depth([first, second, undo])).toBe("3 ft");
  expect(depth([first, second, undo, redo])).toBe("4 ft");
});

test("a correction moves nothing in a list", () => {
  const first = entry("7", "3 ft");
  const to = fold([first, entry("8", "3 ft"), entry("7", "4 ft", { supersedes: first.id })]);
  expect([...to.tables.readings!.keys()]).toEqual(["7", "8"]);
});

test("two devices that correct one reading: the later shows", () => {
  const first = entry("7", "3 ft");
  const here = entry("7", "4 ft", { supersedes: first.id });
  const there = entry("7", "5 ft", { supersedes: first.id, device: "b" });
  expect(depth([first, here, there])).toBe("5 ft");
  expect(depth([first, there, here])).toBe("4 ft");
});

test("while a job is frozen facts wait; reopening takes them in", () => {
  const facts = [entry("7", "3 ft"), fact("freeze", { why: "done" }), entry("7", "4 ft")];
  expect(depth(facts)).toBe("3 ft");
  expect([fold(facts).frozen?.kind, fold(facts).late.length]).toEqual(["freeze", 1]);
  const reopened = [...facts, fact("reopen", { why: "one more" })];
  expect(depth(reopened)).toBe("4 ft");
  expect([fold(reopened).frozen, fold(reopened).late.length]).toEqual([null, 0]);
});

test("keys add up, later ones over earlier; items the same", () => {
  const to = fold([
    fact("job", { keys: { title: "Alder", crs: "local" } }),
    fact("job", { keys: { title: "Alder Street 17" } }),
    fact("item", { table: "lines", key: "E1", keys: { utility: "electric" } }),
    fact("item", { table: "lines", key: "E1", keys: { hookup: "direct" } }),
    fact("cannot", { actions: ["raise"] }),
    fact("tick", { step: "gear", done: true }),
  ]);
  expect(to.keys.job).toEqual({ title: "Alder Street 17", crs: "local" });
  expect(to.items.lines?.get("E1")?.keys).toEqual({ utility: "electric", hookup: "direct" });
  expect([to.cannot.has("raise"), to.ticks.get("gear")]).toEqual([true, true]);
});

test("a job that was brought in: its files' rows, and corrections over them", () => {
  const toml = fact("file", { name: "job.toml", sha256: "x", size: 1 });
  const csv = fact("file", { name: "readings.csv", sha256: "y", size: 1 });
  const texts = new Map([
    [toml.id, '[job]\nid = "j"\n[[lines]]\nid = "E1"\noutside_diameter_m = 0.03\nidentity = ["connected"]\n'],
    [csv.id, 'sep=;\r\n"reading";line;depth_ft;note\r\n7;E1;3.10;"said ""yes"";\nthen left"\r\n8;E1;;\r\n'],
  ]);
  const to = fold([toml, csv, entry("8", "2 ft")], texts);
  expect(to.items.lines?.get("E1")?.keys).toEqual({ outside_diameter_m: "0.03", identity: ["connected"] });
  expect(to.tables.readings?.get("7")?.rows).toEqual([{ line: "E1", depth_ft: "3.10", note: 'said "yes";\nthen left' }]);
  expect(to.tables.readings?.get("8")?.rows).toEqual([{ depth: "2 ft" }]);
});

test("odd files of rows are read to their end", () => {
  expect(rowsOf("\ufeffa,b\n1,\n,2")).toEqual([{ a: "1", b: "" }, { a: "", b: "2" }]);
  expect(rowsOf('a,b\n"1",2\n\n')).toEqual([{ a: "1", b: "2" }]);
  expect(rowsOf("")).toEqual([]);
});

test("the page's fold and the server's come to the same, whatever the facts", () => {
  const { files, cases } = JSON.parse(readFileSync("../tests/browser/fold_vectors.json", "utf8")) as Vectors;
  expect(cases.length).toBeGreaterThan(20);
  for (const { facts, expected } of cases) {
    const texts = new Map(facts.filter(({ kind }) => kind === "file").map(({ id, payload }) => [id, files[String(payload.name)]!]));
    const to = fold(facts, texts);
    const { id: _, ...job } = to.keys.job;
    const rows = Object.entries(to.tables)
      .map(([table, entries]) => [table, Object.fromEntries([...entries].map(([key, entry]) => [key, entry.rows]))] as const)
      .filter(([, entries]) => Object.keys(entries).length > 0);
    const lines = [...(to.items.lines?.values() ?? [])].filter(({ keys }) => Object.keys(keys).length > 0);
    expect({
      rows: Object.fromEntries(rows),
      job,
      ticket: to.keys.ticket,
      lines: Object.fromEntries(lines.map(({ key, keys }) => [key, keys])),
      cannot: [...to.cannot].sort(),
      settled: Object.fromEntries(to.settled),
      ticks: Object.fromEntries(to.ticks),
      told: to.told.map(({ id }) => id),
      frozen: to.frozen?.id ?? null,
      late: to.late.map(({ id }) => id),
    }).toEqual(expected);
  }
});
