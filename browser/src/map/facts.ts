/** Facts that the plan makes, and which of them is taken back next. */
import { shown, takenIn } from "../fold/shown";
import type { KeptFact } from "../journal/db";
import type { Draft, Fact, Payload } from "../journal/fact";
import { coordinate, type Path, type Point } from "./plane";
import { worldNameOf } from "./underlay";

export const placeCells = (at: Point): Record<string, string> => ({ easting_m: coordinate(at[0]), northing_m: coordinate(at[1]) });

const TABLES = new Set(["things", "marks", "photos"]);
const ANCHORS = new Set(["baselines", "corners"]);

/** The first free name of a kind: "trench-1"; with this phone's own digits where others write in the job as well. */
export function freeName(kind: string, taken: Iterable<string>, mine: string): string {
  const used = new Set(taken);
  const name = (n: number) => (mine ? `${kind}-${mine}-${n}` : `${kind}-${n}`);
  let n = 1;
  while (used.has(name(n))) n += 1;
  return name(n);
}

const rounded = (path: Path) => path.map(([x, y]) => [Number(coordinate(x)), Number(coordinate(y))]);

/** A drawn line, or an area that is closed here, as the text of a feature. */
export function featureText(path: Path, area: boolean, properties: Record<string, string | number>): string {
  const at = rounded(path);
  const geometry = area ? { type: "Polygon", coordinates: [[...at, at[0]]] } : { type: "LineString", coordinates: at };
  return JSON.stringify({ type: "Feature", properties, geometry });
}

export function baselineKeys(from: Point, to: Point): Payload {
  const [a, b] = [placeCells(from), placeCells(to)];
  return { start_easting_m: a.easting_m!, start_northing_m: a.northing_m!, end_easting_m: b.easting_m!, end_northing_m: b.northing_m! };
}

/** What this device put on the plan last and still stands, to be taken back together; empty where there is nothing. */
export function lastOwn(kept: readonly KeptFact[], device: string): Fact[] {
  const standing = shown(takenIn(kept.map(({ fact }) => fact)).counted).map(({ fact }) => fact);
  const own = standing.filter((fact) => fact.device === device && isOfPlan(fact)).sort((a, b) => a.seq - b.seq);
  const last = own[own.length - 1];
  if (!last) return [];
  const name = String(last.payload.name ?? "");
  const others = own.filter((fact) => {
    const file = String(fact.payload.name ?? "");
    if (fact.kind !== "file" || file === name) return false;
    if (last.kind === "file") return worldNameOf(file) === name;
    return last.payload.table === "photos" && file === `photos/${String(last.payload.key)}`;
  });
  return [last, ...others];
}

function isOfPlan({ kind, payload }: Fact): boolean {
  if (kind === "shape") return payload.feature !== "";
  if (kind === "entry") return TABLES.has(String(payload.table));
  if (kind === "item") return ANCHORS.has(String(payload.table));
  return kind === "file" && /^(plans|photos)\//.test(String(payload.name));
}

/** What is taken back, in words. */
export function namedFact({ kind, payload }: Pick<Fact, "kind" | "payload">): string {
  if (kind === "file") return "what was laid under";
  const key = String(payload.key);
  if (payload.table === "photos") return "the photograph";
  if (kind === "item") return `${payload.table === "corners" ? "corner" : "baseline"} ${key}`;
  if (payload.table === "marks") return `mark ${key}`;
  return key;
}

export const takeBack = (job: string, facts: readonly Fact[]): Draft[] => facts.map(({ id }) => ({ job, kind: "remove", payload: {}, supersedes: id }));
