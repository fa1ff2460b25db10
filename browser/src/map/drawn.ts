/** What can be drawn by tapping points, and what is asked of each afterwards. */
import type { Draft } from "../journal";
import { parseLength } from "../words/lengths";
import { baselineKeys, featureText, freeName, placeCells } from "./facts";
import type { Path } from "./plane";
import type { Site } from "./useSite";

export type What = "area" | "trench" | "bore" | "record" | "baseline" | "corner";

interface Kind {
  readonly words: string;
  /** How many points it has at least, and at most. */
  readonly least: number;
  readonly most: number;
  readonly how: string;
  readonly asks: readonly Asked[];
}

export type Asked = "width" | "diameter" | "depth" | "utility" | "source" | "sure";

export const DRAWN: Readonly<Record<What, Kind>> = {
  area: { words: "Dig area", least: 3, most: 500, how: "Tap round the area, corner by corner.", asks: ["depth"] },
  trench: { words: "Trench", least: 2, most: 500, how: "Tap along its middle.", asks: ["width", "depth"] },
  bore: { words: "Bore", least: 2, most: 500, how: "Tap along it, from where it goes in.", asks: ["diameter", "depth"] },
  record: { words: "Line on record", least: 2, most: 500, how: "Tap along the line as the record has it.", asks: ["utility", "depth", "source", "sure"] },
  baseline: { words: "Baseline", least: 2, most: 2, how: "Tap where the tape starts, then where it ends.", asks: [] },
  corner: { words: "Corner for a tape", least: 1, most: 1, how: "Tap the corner that a tape is held to.", asks: [] },
};

export type Answers = Readonly<Partial<Record<Asked, string>>>;

/** How well the place of a record is known: what a person says, and half of it as the sigma that is kept. */
export const SURE: readonly (readonly [string, string])[] = [
  ["within a hand, 4 in", "0.05"],
  ["within a foot", "0.15"],
  ["within 3 ft, 1 m", "0.5"],
  ["within 10 ft, 3 m", "1.5"],
  ["not known", ""],
];

const KINDS: Partial<Record<What, string>> = { area: "excavation", trench: "trench", bore: "bore" };

/** The fact of what was drawn, its name, and what could not be read as a length. */
export function draftOf(site: Site, what: What, path: Path, answers: Answers): { draft: Draft; id: string } {
  const { job, folded, items, mine } = site;
  const taken = (layer: string) => items.filter((each) => each.layer === layer).map(({ key }) => key);
  if (what === "baseline" || what === "corner") {
    const table = `${what}s`;
    const key = freeName(what === "corner" ? "C" : "B", [...(folded.items[table]?.keys() ?? []), ...taken(what)], mine);
    const keys = what === "corner" ? placeCells(path[0]!) : baselineKeys(path[0]!, path[1]!);
    return { draft: { job, kind: "item", payload: { table, key, keys } }, id: `${what}/${key}` };
  }
  const file = what === "record" ? "records" : "dig";
  const layer = what === "record" ? "record" : "dig";
  const used = [...folded.shapes.values()].filter((shape) => shape.file === file).map(({ key }) => key);
  const key = freeName(what === "area" ? "dig" : what, [...used, ...taken(layer)], mine);
  const properties: Record<string, string | number> = {};
  const kind = KINDS[what];
  if (kind) properties.kind = kind;
  for (const name of ["width", "diameter", "depth"] as const) {
    const read = parseLength(answers[name] ?? "");
    if (read) properties[`${name}_m`] = Number(((read.low + read.high) / 2).toFixed(4));
  }
  if (answers.utility) properties.utility = answers.utility;
  if (answers.source?.trim()) properties.source = answers.source.trim();
  if (answers.sure) properties.position_sigma_m = Number(answers.sure);
  return { draft: { job, kind: "shape", payload: { file, key, feature: featureText(path, what === "area", properties) } }, id: `${layer}/${key}` };
}
