/** Facts to what a job holds now, as screens need it. The server's fold (`exchange/journal`) makes the job's files of
 * the same facts; a test holds the two together. */
import { parse, type TomlPrimitive } from "smol-toml";
import type { Json } from "../journal/canonical";
import type { KeptFact } from "../journal/db";
import type { Fact } from "../journal/fact";
import { rowsOf, type Row } from "./csv";
import { shown, takenIn, type Shown } from "./shown";

export type { Row };

/** Rows that were entered together under one key, cells as they were typed. */
export interface Entry {
  key: string;
  rows: Row[];
  /** The fact to supersede by a correction; null where the rows came with a file. */
  fact: Fact | null;
}

/** One entry of a table of job.toml: a line, a setup, a receiver, a baseline … */
export interface Item {
  key: string;
  keys: Record<string, Json>;
  fact: Fact | null;
}

export interface Folded {
  job: string;
  /** Keys of `[job]`, `[soil]` and `[ticket]`. */
  keys: { job: Record<string, Json>; soil: Record<string, Json>; ticket: Record<string, Json> };
  items: Record<string, Map<string, Item>>;
  tables: Record<string, Map<string, Entry>>;
  shapes: Map<string, { file: string; key: string; feature: string; fact: Fact }>;
  files: Map<string, Fact>;
  /** Actions never asked for again. */
  cannot: Set<string>;
  settled: Map<string, string>;
  ticks: Map<string, boolean>;
  told: Fact[];
  /** The fact that froze the job, while it is frozen. */
  frozen: Fact | null;
  /** Facts that came after a freeze and wait for somebody to take them in. */
  late: Fact[];
}

/** The column that names a row, by table. */
export const KEY_COLUMN: Record<string, string> = {
  readings: "reading",
  profiles: "profile",
  side_readings: "side_reading",
  test_holes: "test_hole",
  ties: "place",
  passes: "pass",
  marks: "mark",
  owners: "owner",
  things: "thing",
  photos: "photo",
};

/** Facts in their order → the job. `texts`: the text of each file of rows that is here, by the id of its fact. */
export function folded(job: string, kept: KeptFact[], texts: ReadonlyMap<string, string> = new Map()): Folded {
  const { counted, late, frozen } = takenIn(kept.map(({ fact }) => fact));
  const to = { ...empty(job), late, frozen };
  const said = shown(counted);
  for (const { fact } of said) if (fact.kind === "file") to.files.set(String(fact.payload.name), fact);
  for (const [name, { id }] of to.files) rowsOfFile(to, name, texts.get(id));
  for (const { fact } of said) take(to, fact);
  settle(to, said);
  return to;
}

function take(to: Folded, fact: Fact): void {
  const { kind, payload } = fact;
  const text = (name: string): string => (typeof payload[name] === "string" ? payload[name] : "");
  if (kind === "job" || kind === "soil" || kind === "ticket") to.keys[kind] = changed(to.keys[kind], payload.keys);
  else if (kind === "item") {
    const [table, key] = [items(to, text("table")), text("key")];
    if (payload.keys === null) table.delete(key);
    else table.set(key, { key, keys: changed(table.get(key)?.keys ?? {}, payload.keys), fact });
  } else if (kind === "shape") {
    const shape = { file: text("file"), key: text("key"), feature: text("feature"), fact };
    to.shapes.set(`${shape.file}/${shape.key}`, shape);
  } else if (kind === "cannot") for (const action of (payload.actions as string[]) ?? []) to.cannot.add(action);
  else if (kind === "settled") to.settled.set(text("question"), text("answer"));
  else if (kind === "tick") to.ticks.set(text("step"), payload.done !== false);
  else if (kind === "told") to.told.push(fact);
}

/** Tables in which two devices may give one key to two things: the second is kept as `7-2`. */
const NUMBERED = new Set(["readings", "profiles", "side_readings", "test_holes", "passes", "marks", "things"]);
/** Cells that name a row of another table. */
const MEANT: Record<string, string> = { from_thing: "things", toward_thing: "things", thing: "things", mark: "marks" };

/** Rows of facts under the keys they have now, beside those that came with files. */
function settle(to: Folded, said: Shown[]): void {
  const there = new Map(Object.entries(to.tables).map(([table, entries]) => [table, new Set(entries.keys())]));
  const first = new Map<string, string>(); // device that gave a key first
  const renamed = new Map<string, string>();
  const rename = (table: string, device: string, key: string) =>
    renamed.get(`${table === "profiles" ? "readings" : table}/${device}/${key}`);
  for (const { root, fact } of said) {
    if (fact.kind !== "entry") continue;
    const table = String(fact.payload.table);
    const key = String(fact.payload.key).trim();
    const { device } = root;
    let name = rename(table, device, key) ?? key;
    const before = first.get(`${table}/${name}`);
    if (before !== undefined && before !== device && NUMBERED.has(table) && !there.get(table)?.has(name)) {
      name = free(name, rows(to, table));
      renamed.set(`${table}/${device}/${key}`, name);
    }
    first.set(`${table}/${name}`, device);
    const named = (fact.payload.rows as Row[]).map((row) =>
      Object.fromEntries(
        Object.entries(row).map(([column, cell]) => {
          const meant = MEANT[column];
          return [column, (meant && renamed.get(`${meant}/${device}/${cell}`)) ?? cell];
        }),
      ),
    );
    rows(to, table).set(name, { key: name, rows: named, fact });
  }
  for (const entries of Object.values(to.tables)) for (const [key, entry] of entries) if (entry.rows.length === 0) entries.delete(key);
}

function free(key: string, used: Map<string, Entry>): string {
  let number = 2;
  while (used.has(`${key}-${number}`)) number += 1;
  return `${key}-${number}`;
}

function rowsOfFile(to: Folded, name: string, text: string | undefined): void {
  if (text === undefined) return;
  if (name === "job.toml") fromToml(to, text);
  const table = name.replace(/\.csv$/, "");
  const column = KEY_COLUMN[table];
  if (!column || table === name) return;
  for (const row of rowsOf(text)) {
    const key = (row[column] ?? "").trim();
    const { [column]: _, ...cells } = row;
    const entry = rows(to, table).get(key);
    if (entry) entry.rows.push(cells);
    else rows(to, table).set(key, { key, rows: [cells], fact: null });
  }
}

/** Keys with others set; null takes one out. */
function changed(keys: Record<string, Json>, by: Json | undefined): Record<string, Json> {
  const all = { ...keys, ...(by as Record<string, Json> | undefined) };
  return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== null));
}

function fromToml(to: Folded, text: string): void {
  let tables: Record<string, TomlPrimitive>;
  try {
    tables = parse(text);
  } catch {
    return; // the server names what is wrong with the file, with its line
  }
  for (const [name, value] of Object.entries(tables)) {
    if (name === "job" || name === "soil" || name === "ticket") Object.assign(to.keys[name], asJson(value));
    else if (Array.isArray(value))
      for (const each of value) {
        const named = name === "searches" ? "method" : "id";
        const { [named]: id, ...keys } = asJson(each) as Record<string, Json>;
        items(to, name).set(String(id), { key: String(id), keys, fact: null });
      }
  }
}

/** Numbers and dates of a file as texts, like those that are typed. */
function asJson(value: TomlPrimitive): Json {
  if (typeof value === "boolean" || typeof value === "string") return value;
  if (Array.isArray(value)) return value.map(asJson);
  if (typeof value === "object" && !(value instanceof Date))
    return Object.fromEntries(Object.entries(value).map(([key, held]) => [key, asJson(held)]));
  return value instanceof Date ? value.toISOString() : String(value);
}

const items = (to: Folded, table: string): Map<string, Item> => (to.items[table] ??= new Map());
const rows = (to: Folded, table: string): Map<string, Entry> => (to.tables[table] ??= new Map());

function empty(job: string): Folded {
  return {
    job,
    keys: { job: {}, soil: {}, ticket: {} },
    items: {},
    tables: {},
    shapes: new Map(),
    files: new Map(),
    cannot: new Set(),
    settled: new Map(),
    ticks: new Map(),
    told: [],
    frozen: null,
    late: [],
  };
}
