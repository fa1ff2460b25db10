/** What was begun on a sheet and not saved yet: kept on this phone until it is saved or started afresh. */
import type { Draft } from "../journal";
import type { Cells } from "../phone/cells";

export interface Begun {
  readonly cells: Cells;
  readonly at: string;
  /** Facts that have to stand before it: things named for its place, tapes from corners. */
  readonly before?: Draft[];
}

const name = (job: string, sheet: string) => `plumbmark/begun/${job}/${sheet}`;

export function begun(job: string, sheet: string): Begun | null {
  try {
    const kept = JSON.parse(localStorage.getItem(name(job, sheet)) ?? "null") as Begun | null;
    return kept && typeof kept.at === "string" && Object.keys(kept.cells).length > 0 ? kept : null;
  } catch {
    return null; // storage that is refused or spoilt loses a sheet that was begun, not one that was saved
  }
}

export function keepBegun(job: string, sheet: string, cells: Cells, at: string, before: Draft[] = []): void {
  try {
    if (Object.keys(cells).length === 0) localStorage.removeItem(name(job, sheet));
    else localStorage.setItem(name(job, sheet), JSON.stringify({ cells, at, before }));
  } catch {
    // full or refused storage: the sheet goes on without
  }
}
