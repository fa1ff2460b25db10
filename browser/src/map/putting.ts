/** Putting something on the plan with one tap: the fact, and what is said of it. */
import { record } from "../journal";
import { isoLocal } from "../journal/fact";
import { withoutPlace } from "../sheets/place";
import { draftOf, type Answers, type What } from "./drawn";
import { freeName, namedFact, placeCells } from "./facts";
import type { Item } from "./items";
import { tableOf } from "./Picked";
import type { Path, Point } from "./plane";
import { lineOfColour } from "./said";
import type { Site } from "./useSite";

/** The item that is picked now, and what is said. */
export interface Put {
  readonly id: string;
  readonly said: string;
}

/** Names given here before the journal is read again: two quick taps are two things. */
const given = new Set<string>();

function named({ job, folded, mine }: Site, table: string, kind: string): string {
  const own = [...given].filter((name) => name.startsWith(`${job}/${table}/`)).map((name) => name.slice(job.length + table.length + 2));
  const key = freeName(kind, [...(folded.tables[table]?.keys() ?? []), ...own], mine);
  given.add(`${job}/${table}/${key}`);
  return key;
}

export async function putThing(site: Site, kind: string, colour: string, at: Point): Promise<Put> {
  const key = named(site, "things", kind);
  const row = { kind, ...placeCells(at), ...(kind === "paint" ? { colour } : {}), seen_at: isoLocal(new Date()) };
  await record({ job: site.job, kind: "entry", payload: { table: "things", key, rows: [row] } });
  return { id: `thing/${key}`, said: `${key} is on the plan.` };
}

/** Paint that was put down, of the only line that has its colour. */
export async function putPaint(site: Site, colour: string, at: Point): Promise<Put> {
  const key = named(site, "marks", "m");
  const line = lineOfColour(site, colour);
  const row = { ...(line ? { line } : {}), kind: "centre", colour, ...placeCells(at), painted_at: isoLocal(new Date()) };
  await record({ job: site.job, kind: "entry", payload: { table: "marks", key, rows: [row] } });
  return { id: `paint/${key}`, said: `Mark ${key} is on the plan${line ? `, of line ${line}` : ", of no line"}.` };
}

/** What was picked, put elsewhere: a correction of its row. */
export async function putElsewhere(site: Site, item: Item, at: Point): Promise<Put> {
  const [table, key] = tableOf(item);
  const entry = site.folded.tables[table]?.get(key);
  if (!entry) return { id: item.id, said: "" };
  const rows = entry.rows.map((row) => ({ ...withoutPlace(row), ...placeCells(at) }));
  await record({ job: site.job, kind: "entry", payload: { table, key, rows }, supersedes: entry.fact?.id ?? null });
  return { id: item.id, said: `${key} was moved.` };
}

export async function putDrawn(site: Site, what: What, path: Path, answers: Answers): Promise<Put> {
  const { draft, id } = draftOf(site, what, path, answers);
  await record(draft);
  return { id, said: `${namedFact(draft)} is on the plan.` };
}
