/**
 * Everything on the plan: what the server drew, as last seen, under what this phone knows itself. Facts made here show
 * at once and with no server; what was taken back goes at once.
 */
import type { components } from "../api/schema";
import type { Entry, Folded, Row } from "../fold/fold";
import type { KeptFact } from "../journal/db";
import type { Fact } from "../journal/fact";
import { length, parseLength, parseNumber, type Units } from "../words/lengths";
import { inkOf, type Ink } from "./inks";
import type { Path, Point } from "./plane";

export type SiteScreen = components["schemas"]["SiteScreen"];
export type Cited = components["schemas"]["Cited"];

/** In the order they are drawn. */
export const LAYERS = ["dig", "record", "pass", "baseline", "second", "line", "to-paint", "paint", "corner", "hole", "reading", "thing"] as const;
export type Layer = (typeof LAYERS)[number];

export interface Item {
  /** Layer and key. */
  id: string;
  layer: Layer;
  key: string;
  /** One point, or a path. */
  path: Path;
  /** Closed rings that are filled: the ground of a dig, the band of a line. */
  rings: readonly Path[];
  /** Of a line drawn as wide as it is, in metres. */
  widthM: number;
  ink: Ink | null;
  colour: string | null;
  /** Written on the plan. */
  label: string;
  /** Said of it when it is picked. */
  words: string;
  told: readonly Cited[];
  /** The row or feature of this phone's journal behind it, null where only the server knows of it. */
  fact: Fact | null;
}

type Part = Partial<Item> & Pick<Item, "layer" | "key" | "path">;

const item = (part: Part): Item => ({
  id: `${part.layer}/${part.key}`,
  rings: [],
  widthM: 0,
  ink: null,
  colour: null,
  label: part.key,
  words: part.key,
  told: [],
  fact: null,
  ...part,
});

const TABLE_OF: Record<string, string> = { reading: "readings", profile: "profiles", side_reading: "side_readings" };

/** What is drawn. `behind`: this phone knows facts that the server's screen was made without. */
export function itemsOf(folded: Folded, screen: SiteScreen | null, kept: readonly KeptFact[], behind: boolean, units: Units): Item[] {
  const own = [...shapesHere(folded, units), ...rowsHere(folded), ...anchorsHere(folded)];
  const here = new Set(own.map(({ id }) => id));
  const gone = behind ? takenBack(folded, kept) : new Set<string>();
  const drawn = screen ? served(screen) : [];
  const told = new Map(drawn.map((each) => [each.id, each]));
  const rest = drawn.filter((each) => !here.has(each.id) && !gone.has(each.id) && known(folded, each));
  // The server says more of a row: where it came from, and what was answered there.
  const both = own.map((each) => {
    const said = told.get(each.id);
    if (!said) return each;
    const more = { told: said.told, ink: each.ink ?? said.ink, ...(behind || each.layer === "dig" ? {} : { words: said.words, label: said.label }) };
    return { ...each, ...more };
  });
  return [...rest, ...both].sort((a, b) => LAYERS.indexOf(a.layer) - LAYERS.indexOf(b.layer));
}

/** Rows of the server's screen that this phone knows to be gone are not drawn. */
function known(folded: Folded, { layer, key }: Item): boolean {
  if (layer === "thing") return folded.tables.things?.has(key) ?? false;
  if (layer === "paint") return folded.tables.marks?.has(key) ?? false;
  if (layer === "hole") return folded.tables.test_holes?.has(key) ?? false;
  if (layer === "baseline") return folded.items.baselines?.has(key) ?? false;
  if (layer === "corner") return folded.items.corners?.has(key) ?? false;
  if (layer !== "reading") return true;
  const [table, id] = key.includes("/") ? (key.split("/", 2) as [string, string]) : ["readings", key];
  return folded.tables[table]?.has(id) ?? false;
}

/** Shapes that were drawn here once and are no longer. */
function takenBack(folded: Folded, kept: readonly KeptFact[]): Set<string> {
  const gone = new Set<string>();
  for (const { fact } of kept) {
    if (fact.kind !== "shape") continue;
    const name = `${String(fact.payload.file)}/${String(fact.payload.key)}`;
    if (!folded.shapes.has(name)) gone.add(`${fact.payload.file === "dig" ? "dig" : "record"}/${String(fact.payload.key)}`);
  }
  return gone;
}

// --- the server's screen -----------------------------------------------------------------------------------

function served(screen: SiteScreen): Item[] {
  const paths = (ring: readonly (readonly number[])[]) => ring.map(pointOf);
  const points = (at: readonly number[]): Path => [pointOf(at)];
  return [
    ...screen.digs.map((d) => item({ layer: "dig", key: d.dig, path: paths(d.paths[0] ?? []), rings: d.ground.map(paths), label: d.words, words: sentence(d.words) })),
    ...screen.records.map((r) => item({ layer: "record", key: r.record, path: paths(r.path), widthM: band(r.sigma_m), ink: r.ink, label: `record ${r.record}`, words: r.words })),
    ...screen.passes.map((p) => item({ layer: "pass", key: p.name, path: paths(p.path), label: "", words: p.words })),
    ...screen.baselines.map((b) => item({ layer: "baseline", key: b.id, path: paths(b.path), label: `baseline ${b.id}`, words: `Baseline ${b.id}.` })),
    ...screen.corners.map((c) => item({ layer: "corner", key: c.id, path: paths(c.path), words: `Corner ${c.id}.` })),
    ...screen.seconds.map((s, i) => item({ layer: "second", key: `${s.beside}-${i}`, path: paths(s.path), rings: [paths(s.band)], ink: s.ink, label: "", words: s.words })),
    ...screen.lines.map((l) => item({ layer: "line", key: l.line, path: paths(l.path), rings: [paths(l.band)], ink: l.ink, label: "", words: `${l.says} It lies in its band, drawn to scale, 19 times in 20. Which line? ${sentence(l.identity)}` })),
    ...screen.paint.map((p) =>
      item({ layer: p.painted ? "paint" : "to-paint", key: p.name, path: points(p.place), colour: p.colour, label: "", words: p.painted ? p.words : `To be painted: ${p.words}` }),
    ),
    ...screen.holes.map((h) => item({ layer: "hole", key: h.hole, path: points(h.place), label: `hole ${h.hole}`, words: h.words })),
    ...screen.marks.map((m) => item({ layer: "reading", key: readingKey(TABLE_OF[m.source] ?? m.source, m.id), path: points(m.place), label: m.id, words: `${m.line}, ${m.name}: ${verb(m.trust)}.`, told: m.told })),
    ...screen.things.map((t) => item({ layer: "thing", key: t.thing, path: points(t.place), colour: t.colour, words: t.words })),
  ];
}

const readingKey = (table: string, key: string) => (table === "readings" ? key : `${table}/${key}`);
const verb = (trust: string) => (trust === "holds" ? "it holds" : `it is ${trust}`);
const pointOf = (at: readonly number[]): Point => [at[0]!, at[1]!];
const sentence = (words: string) => words.charAt(0).toUpperCase() + words.slice(1) + (/[.?!]$/.test(words) ? "" : ".");
/** How wide the band is that holds a record 19 times in 20; 0 where nobody said how well it is known. */
const band = (sigmaM: number | null | undefined) => (sigmaM ? 2 * 1.96 * sigmaM : 0);

// --- this phone's own --------------------------------------------------------------------------------------

function rowsHere(folded: Folded): Item[] {
  const found: Item[] = [];
  const each = (table: string, make: (entry: Entry, row: Row, path: Path) => Item) => {
    for (const entry of folded.tables[table]?.values() ?? []) {
      const row = entry.rows[0];
      const at = row && placeOf(row, folded);
      if (row && at) found.push(make(entry, row, [at]));
    }
  };
  const note = (row: Row) => (row.note ? ` ${sentence(row.note)}` : "");
  each("things", ({ key, fact }, row, path) => {
    const colour = row.colour || null;
    const kind = row.kind && !key.startsWith(row.kind) ? `${row.kind} ${key}` : key;
    return item({ layer: "thing", key, path, fact, colour, words: `${sentence(kind + (colour ? `, ${colour}` : ""))}${note(row)}` });
  });
  each("marks", ({ key, fact }, row, path) => {
    const what = [row.line, row.kind || "centre", row.colour].filter(Boolean).join(", ");
    return item({ layer: "paint", key, path, fact, colour: row.colour || null, label: "", words: `Mark ${key}: ${what}.${note(row)}` });
  });
  each("test_holes", ({ key, fact }, row, path) => item({ layer: "hole", key, path, fact, label: `hole ${key}`, words: `Test hole ${key}, ${row.line || "line not said"}.` }));
  for (const table of ["readings", "profiles", "side_readings"])
    each(table, ({ key, fact }, row, path) => {
      const name = table === "readings" ? `reading ${key}` : table === "profiles" ? `walk across ${key}` : `reading from the side ${key}`;
      return item({ layer: "reading", key: readingKey(table, key), path, fact, label: key, words: sentence(`${row.line ? `${row.line}, ` : ""}${name}: not in the answer yet`) });
    });
  return found;
}

function anchorsHere(folded: Folded): Item[] {
  const found: Item[] = [];
  for (const { key, keys, fact } of folded.items.baselines?.values() ?? []) {
    const ends = baselineEnds(keys);
    if (ends) found.push(item({ layer: "baseline", key, path: ends, fact, label: `baseline ${key}`, words: `Baseline ${key}.` }));
  }
  for (const { key, keys, fact } of folded.items.corners?.values() ?? []) {
    const [e, n] = [number(keys.easting_m), number(keys.northing_m)];
    if (e !== null && n !== null) found.push(item({ layer: "corner", key, path: [[e, n]], fact, words: `Corner ${key}.` }));
  }
  return found;
}

interface Feature {
  properties?: Record<string, unknown> | null;
  geometry?: { type?: string; coordinates?: unknown } | null;
}

function shapesHere(folded: Folded, units: Units): Item[] {
  const found: Item[] = [];
  for (const { file, key, feature, fact } of folded.shapes.values()) {
    if (!feature) continue;
    let drawn: Feature;
    try {
      drawn = JSON.parse(feature) as Feature;
    } catch {
      continue; // the server asks about it
    }
    const paths = pathsOf(drawn.geometry);
    const first = paths[0];
    if (!first) continue;
    const told = drawn.properties ?? {};
    const metres = (name: string) => (typeof told[name] === "number" ? told[name] : null);
    const deep = metres("depth_m") === null ? "" : `, ${length(metres("depth_m")!, units)} deep`;
    if (file === "dig") {
      const kind = typeof told.kind === "string" ? told.kind : "dig";
      const name = key.startsWith(kind) ? key : `${kind} ${key}`;
      const area = drawn.geometry?.type === "Polygon";
      const wide = metres("width_m") ?? metres("diameter_m") ?? 0;
      const across = wide ? `, ${length(wide, units)} ${kind === "bore" ? "across" : "wide"}` : "";
      const words = `${name}${across}${deep}`;
      found.push(item({ layer: "dig", key, path: first, rings: area ? paths : [], widthM: wide, fact, label: words, words: sentence(words) }));
    } else {
      const ink = inkOf(told.utility);
      const said = ["record", key, ink.utility, told.source].filter(Boolean).join(", ");
      const widthM = band(metres("position_sigma_m"));
      found.push(item({ layer: "record", key, path: first, widthM, ink, fact, label: `record ${key}`, words: sentence(`${said}${deep}`) }));
    }
  }
  return found;
}

/** Paths of a GeoJSON geometry of lines, areas or points; none where it is no such thing. */
export function pathsOf(geometry: Feature["geometry"]): Path[] {
  const path = (held: unknown): Path[] => {
    if (!Array.isArray(held) || held.length === 0) return [];
    const at = held.every((each) => Array.isArray(each) && Number.isFinite(each[0]) && Number.isFinite(each[1]));
    return at ? [(held as number[][]).map(pointOf)] : held.flatMap(path);
  };
  if (geometry?.type === "Point") return path([geometry.coordinates]);
  return path(geometry?.coordinates);
}

const number = (held: unknown): number | null => {
  const read = typeof held === "string" || typeof held === "number" ? parseNumber(String(held)) : null;
  return read && (read.low + read.high) / 2;
};

/** Ends of a baseline; null of one that stands nowhere, whose places were told in words. */
function baselineEnds(keys: Record<string, unknown>): [Point, Point] | null {
  if (keys.placed === false) return null;
  const ends = ["start_easting_m", "start_northing_m", "end_easting_m", "end_northing_m"].map((name) => number(keys[name]));
  if (ends.some((end) => end === null)) return null;
  const [a, b, c, d] = ends as number[];
  return [[a!, b!], [c!, d!]];
}

/** Where a row is in the job's grid by its coordinates or along a baseline; null by words, ties or degrees. */
export function placeOf(row: Row, folded: Folded): Point | null {
  const [e, n] = [number(row.easting_m), number(row.northing_m)];
  if (e !== null && n !== null) return [e, n];
  const ends = row.baseline ? baselineEnds(folded.items.baselines?.get(row.baseline)?.keys ?? {}) : null;
  if (!ends) return null;
  const along = metresOf(row, "station");
  const right = metresOf(row, "offset") ?? 0;
  const long = Math.hypot(ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]);
  if (along === null || long === 0) return null;
  const [u, v] = [(ends[1][0] - ends[0][0]) / long, (ends[1][1] - ends[0][1]) / long];
  return [ends[0][0] + along * u + right * v, ends[0][1] + along * v - right * u];
}

function metresOf(row: Row, name: string): number | null {
  for (const unit of ["", "m", "ft", "in", "cm", "mm"]) {
    const cell = row[unit ? `${name}_${unit}` : name];
    const read = cell ? (parseLength(cell) ?? parseLength(`${cell} ${unit || "?"}`)) : null;
    if (read) return (read.low + read.high) / 2;
  }
  return null;
}
