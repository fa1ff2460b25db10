/** What every sheet needs of its job: units, lines, the key of a new entry; and how a sheet is saved. */
import { useKept, useJob, recordAll, deviceId, setting, type Draft, type Fact } from "../journal";
import type { Entry, Folded, Row } from "../fold/fold";
import type { Cells } from "../phone/cells";
import type { Situation } from "../phone/sentence";
import type { Units } from "../words/lengths";
import { nextKey } from "./reading";

export interface Sheet {
  readonly folded: Folded;
  readonly units: Units;
  /** Lines of the job, in order. */
  readonly lines: readonly { readonly key: string; readonly words: string; readonly sonde: boolean }[];
  /** Two digits that tell this phone's numbers apart, "" where nobody else wrote in this job. */
  readonly mine: string;
}

/** The line that a first reading is of where the job has none yet; what it carries is asked, never taken. */
export const FIRST_LINE = "L1";

export function useSheet(job: string): Sheet | null {
  const folded = useJob(job);
  const own = useKept(async () => ({ units: await setting<Units>("units", "ft-in"), device: await deviceId() }), []);
  if (!folded || !own) return null;
  return sheetOf(folded, own.units, own.device);
}

export function sheetOf(folded: Folded, units: Units, device: string): Sheet {
  const told = folded.keys.job.display_units;
  const lines = [...(folded.items.lines ?? new Map()).values()].map(({ key, keys }) => ({
    key,
    words: lineWords(key, keys.utility, keys.signal === "sonde"),
    sonde: keys.signal === "sonde",
  }));
  return {
    folded,
    units: told === "m" || told === "ft-in" ? told : units,
    lines,
    mine: othersWrote(folded, device) ? device.slice(0, 2) : "",
  };
}

function lineWords(key: string, utility: unknown, sonde: boolean): string {
  const carries = typeof utility === "string" && utility !== "unknown" ? utility : "utility not said";
  return `${key}, ${carries}${sonde ? ", sonde" : ""}`;
}

function othersWrote(folded: Folded, device: string): boolean {
  const entries = Object.values(folded.tables).flatMap((table) => [...table.values()]);
  const items = Object.values(folded.items).flatMap((table) => [...table.values()]);
  const facts = [...entries, ...items].map(({ fact }) => fact).filter((fact) => fact !== null);
  return device !== "" && facts.some((fact) => fact.device !== device && fact.device !== "desk");
}

/** Entries of a table, in the order they were made. */
export function entriesOf(sheet: Sheet, table: string): readonly Entry[] {
  return [...(sheet.folded.tables[table]?.values() ?? [])];
}

export function newKey(sheet: Sheet, table: string): string {
  return nextKey(sheet.folded.tables[table]?.keys() ?? [], sheet.mine);
}

/** The line a new entry is of: that of the entry before it, else the only one of its kind. */
export function usualLine(sheet: Sheet, table: string, sonde = false): string {
  const fit = sheet.lines.filter((line) => line.sonde === sonde).map(({ key }) => key);
  const last = entriesOf(sheet, table)
    .map(({ rows }) => rows[0]?.line ?? "")
    .filter((line) => fit.includes(line))
    .at(-1);
  return last ?? fit[0] ?? (sonde ? "S1" : FIRST_LINE);
}

/** What has to be kept before an entry of a line that the job does not have yet. */
export function lineDrafts(sheet: Sheet, line: string, sonde = false): Draft[] {
  if (sheet.lines.some(({ key }) => key === line)) return [];
  const keys: Record<string, string> = { utility: "unknown", ...(sonde ? { signal: "sonde" } : {}) };
  return [{ job: sheet.folded.job, kind: "item", payload: { table: "lines", key: line, keys } }];
}

/** Keep an entry, in place of what stood there; facts before it first, all or none. */
export async function saveEntry(sheet: Sheet, table: string, key: string, rows: readonly Cells[], before: Draft[] = []): Promise<Fact> {
  const old = sheet.folded.tables[table]?.get(key)?.fact?.id ?? null;
  const own = table === "readings" ? { by: await setting("name", "") } : {}; // whoever corrects it did not take it
  const filled = rows.map((row) => Object.fromEntries(Object.entries({ ...own, ...row }).filter(([, text]) => text !== ""))) as Row[];
  const entry: Draft = { job: sheet.folded.job, kind: "entry", payload: { table, key, rows: filled }, supersedes: old };
  const facts = await recordAll([...before, entry]);
  return facts[facts.length - 1]!;
}

/** Ground, hook-up and what cannot be done, as the phone's own answer takes them. */
export function situationOf(sheet: Sheet, line: string): Situation {
  const ohm = Number(sheet.folded.keys.soil.resistivity_ohm_m ?? NaN);
  const hookup = sheet.folded.items.lines?.get(line)?.keys.hookup;
  return {
    units: sheet.units,
    soil: ohm >= 150 ? "dry sand or gravel" : ohm <= 25 ? "wet clay" : "not known",
    passive: hookup === "passive",
    cannot: sheet.folded.cannot,
  };
}
