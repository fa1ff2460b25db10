/**
 * A place as the crew says it, as cells of a row. Words and a distance are a place: the fold puts it on a baseline of
 * its own; coordinates are never asked for. A pace counts as 0.75 m there (common practice, no source).
 */
import type { Cells } from "../phone/cells";
import { length, parseLength } from "../words/lengths";

/** Columns that say where; a new place takes all of them away first. */
const PLACE_COLUMNS =
  /^(easting_m|northing_m|longitude_deg|latitude_deg|baseline|(station|offset|place_offset)(_(m|ft|in|cm|mm))?|place|position_sigma_m|from_thing|toward_thing|along|place_words)$/;

export const THING_KINDS = ["meter", "valve", "pedestal", "curb-stop", "hydrant", "transformer", "pole", "manhole", "cabinet", "patch", "paint"] as const;

export interface ByWords {
  /** Ids of things, or words for what has no id. */
  readonly from: string;
  readonly toward: string;
  /** "12 ft", "3.5 m", "16 paces"; "" where nobody measured. */
  readonly along: string;
}

export function withoutPlace(cells: Cells): Cells {
  return Object.fromEntries(Object.entries(cells).filter(([name]) => !PLACE_COLUMNS.test(name)));
}

/** "between meter-1 and curb-stop-1, 12 ft from meter-1". */
export function placeWords({ from, toward, along }: ByWords): string {
  if (!from) return "";
  const far = along && along !== "0 paces" ? `${along} from ${from}` : "";
  if (!toward) return far || `at ${from}`;
  return far ? `between ${from} and ${toward}, ${far}` : `between ${from} and ${toward}`;
}

export function byWords(cells: Cells, said: ByWords): Cells {
  const words = placeWords(said);
  if (!words) return withoutPlace(cells);
  const place: Record<string, string> = { from_thing: said.from, toward_thing: said.toward, along: said.along, place_words: words };
  return { ...withoutPlace(cells), ...Object.fromEntries(Object.entries(place).filter(([, text]) => text !== "")) };
}

export function byBaseline(cells: Cells, baseline: string, station: string, offset: string): Cells {
  return { ...withoutPlace(cells), baseline, station, offset };
}

export function byTies(cells: Cells, place: string): Cells {
  return { ...withoutPlace(cells), place };
}

export function byCoordinates(cells: Cells, easting: string, northing: string, sigma = ""): Cells {
  const place = { ...withoutPlace(cells), easting_m: easting, northing_m: northing };
  return sigma ? { ...place, position_sigma_m: sigma } : place;
}

/** The place of a walk's zero point by a row of it, whose own offset is that of its point. */
export function placeOfWalk(row: Cells): Cells {
  const place = Object.entries(row).filter(([name]) => PLACE_COLUMNS.test(name) && !name.startsWith("offset"));
  return Object.fromEntries(place.map(([name, text]) => [name.replace(/^place_offset/, "offset"), text]));
}

/** A row of a walk whose zero point is there. */
export function walkPlaced(row: Cells, place: Cells): Cells {
  const own = Object.entries(row).filter(([name]) => name.startsWith("offset"));
  const there = Object.entries(place).map(([name, text]) => [name.replace(/^offset/, "place_offset"), text]);
  return { ...withoutPlace(row), ...Object.fromEntries([...own, ...there]) };
}

/** Where the row says it is, in short; "" where it does not say. */
export function placeShort(cells: Cells): string {
  if (cells.place_words) return cells.place_words;
  if (cells.baseline) return `baseline ${cells.baseline}, ${stationText(cells)}`;
  if (cells.place) return `tied place ${cells.place}`;
  if (cells.easting_m && cells.northing_m) return `${cells.easting_m} east, ${cells.northing_m} north`;
  if (cells.longitude_deg && cells.latitude_deg) return `${cells.longitude_deg}, ${cells.latitude_deg}`;
  return "";
}

function stationText(cells: Cells): string {
  const unit = ["m", "ft", "in", "cm", "mm"].find((each) => cells[`station_${each}`]);
  const typed = cells.station ?? (unit ? `${cells[`station_${unit}`]} ${unit}` : "");
  const feet = /\.\d* ft$/.test(typed) ? parseLength(typed) : null; // nobody reads tenths of a foot off a tape
  return feet ? length(feet.low, "ft-in") : typed;
}

/** A name for a thing seen that nobody has named: "meter-2". */
export function thingKey(kind: string, taken: Iterable<string>): string {
  const used = new Set(taken);
  let n = 1;
  while (used.has(`${kind}-${n}`)) n += 1;
  return `${kind}-${n}`;
}
