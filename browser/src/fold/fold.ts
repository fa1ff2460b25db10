/** Facts to what a job holds now, as screens need it. The server's fold (`exchange/journal`) makes the job's files of
 * the same facts; a test holds the two together. */
import { parse, type TomlPrimitive } from "smol-toml";
import type { Json } from "../journal/canonical";
import type { KeptFact } from "../journal/db";
import type { Fact } from "../journal/fact";
import { rowsOf, type Row } from "./csv";

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
  /** Facts that two devices put in one place. */
  conflicts: Fact[][];
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
  const { taken, late, frozen } = opened(kept.map(({ fact }) => fact));
  const live = living(taken);
  const to = { ...empty(job), late, frozen };
  for (const fact of taken) if (live.has(fact.id)) take(to, fact, texts);
  to.conflicts = conflictsOf(taken, live);
  for (const [table, entries] of Object.entries(to.tables)) to.tables[table] = inFirstOrder(table, entries, taken);
  return to;
}

/** Rows stand where their first entry stood, so that a correction moves nothing in a list. */
function inFirstOrder(table: string, entries: Map<string, Entry>, facts: Fact[]): Map<string, Entry> {
  const first = new Map<string, number>();
  for (const [at, { kind, payload }] of facts.entries())
    if (kind === "entry" && payload.table === table && !first.has(payload.key as string)) first.set(payload.key as string, at);
  const place = ({ key, fact }: Entry) => (fact ? first.get(key)! : -1);
  return new Map([...entries].sort(([, a], [, b]) => place(a) - place(b)));
}

/** What counts: while a job is frozen facts wait, and reopening it takes them in. */
function opened(facts: Fact[]): { taken: Fact[]; late: Fact[]; frozen: Fact | null } {
  const taken: Fact[] = [];
  let late: Fact[] = [];
  let frozen: Fact | null = null;
  for (const fact of facts) {
    if (fact.kind === "freeze") frozen ??= fact;
    else if (fact.kind === "reopen") {
      taken.push(...late);
      late = [];
      frozen = null;
    } else (frozen ? late : taken).push(fact);
  }
  return { taken, late, frozen };
}

/** A fact counts unless one that counts supersedes it; so taking back a correction brings back what it corrected. */
function living(facts: Fact[]): Set<string> {
  const heirs = new Map<string, string[]>();
  for (const { id, supersedes } of facts) if (supersedes) heirs.set(supersedes, [...(heirs.get(supersedes) ?? []), id]);
  const known = new Map<string, boolean>();
  const counts = (id: string): boolean => {
    const told = known.get(id);
    if (told !== undefined) return told;
    known.set(id, true); // facts that supersede each other in a ring all count
    const answer = !(heirs.get(id) ?? []).some(counts);
    known.set(id, answer);
    return answer;
  };
  return new Set(facts.map(({ id }) => id).filter(counts));
}

function conflictsOf(facts: Fact[], live: Set<string>): Fact[][] {
  const groups = new Map<string, Fact[]>();
  for (const fact of facts)
    if (fact.supersedes && live.has(fact.id)) groups.set(fact.supersedes, [...(groups.get(fact.supersedes) ?? []), fact]);
  return [...groups.values()].filter((group) => new Set(group.map(({ device }) => device)).size > 1);
}

function take(to: Folded, fact: Fact, texts: ReadonlyMap<string, string>): void {
  const { kind, payload } = fact;
  const text = (name: string): string => (typeof payload[name] === "string" ? payload[name] : "");
  if (kind === "job" || kind === "soil" || kind === "ticket") to.keys[kind] = changed(to.keys[kind], payload.keys);
  else if (kind === "item") {
    const keys = changed(items(to, text("table")).get(text("key"))?.keys ?? {}, payload.keys);
    items(to, text("table")).set(text("key"), { key: text("key"), keys, fact });
  } else if (kind === "entry")
    rows(to, text("table")).set(text("key"), { key: text("key"), rows: payload.rows as Row[], fact });
  else if (kind === "shape") {
    const shape = { file: text("file"), key: text("key"), feature: text("feature"), fact };
    to.shapes.set(`${shape.file}/${shape.key}`, shape);
  } else if (kind === "file") file(to, fact, text("name"), texts.get(fact.id));
  else if (kind === "cannot") for (const action of (payload.actions as string[]) ?? []) to.cannot.add(action);
  else if (kind === "settled") to.settled.set(text("question"), text("answer"));
  else if (kind === "tick") to.ticks.set(text("step"), payload.done === true);
  else if (kind === "told") to.told.push(fact);
}

/** Keys with others set; null takes one out. */
function changed(keys: Record<string, Json>, by: Json | undefined): Record<string, Json> {
  const all = { ...keys, ...(by as Record<string, Json> | undefined) };
  return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== null));
}

function file(to: Folded, fact: Fact, name: string, text: string | undefined): void {
  to.files.set(name, fact);
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

const items = (to: Folded, table: string) => (to.items[table] ??= new Map());
const rows = (to: Folded, table: string) => (to.tables[table] ??= new Map());

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
    conflicts: [],
    late: [],
  };
}
