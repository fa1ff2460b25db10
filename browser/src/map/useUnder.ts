/** What is laid under the plan: pictures with their world files, and lines of other programs, from the job's files. */
import { useEffect, useState } from "preact/hooks";
import type { Folded } from "../fold/fold";
import type { Fact } from "../journal";
import { pathsOf } from "./items";
import { bytesOf } from "./Photos";
import type { Picture } from "./plan";
import type { Path } from "./plane";
import { fromWorldFile, worldNameOf } from "./underlay";

export interface Under {
  readonly pictures: readonly Picture[];
  readonly paths: readonly Path[];
  /** Files that belong under the plan and are not on this phone. */
  readonly missing: readonly string[];
}

const NOTHING: Under = { pictures: [], paths: [], missing: [] };

export function useUnder(folded: Folded | null): Under {
  const [under, setUnder] = useState<Under>(NOTHING);
  const files = [...(folded?.files ?? [])].filter(([name]) => name.startsWith("plans/"));
  const state = files.map(([, { id }]) => id).join();
  useEffect(() => {
    let wanted = true;
    void loaded(new Map(files)).then((found) => wanted && setUnder(found));
    return () => void (wanted = false);
  }, [state]);
  return under;
}

async function loaded(files: ReadonlyMap<string, Fact>): Promise<Under> {
  const [pictures, paths, missing]: [Picture[], Path[], string[]] = [[], [], []];
  for (const [name, fact] of files) {
    const world = files.get(worldNameOf(name));
    const lines = name.endsWith(".geojson");
    if (!world && !lines) continue;
    const data = await bytesOf(fact);
    const placed = world ? await bytesOf(world) : null;
    if (!data || (world && !placed)) missing.push(name);
    else if (lines) paths.push(...pathsOfText(await data.text()));
    else {
      const place = fromWorldFile(await placed!.text());
      const image = await createImageBitmap(data).catch(() => null);
      if (place && image) pictures.push({ image, place });
      else missing.push(name);
    }
  }
  return { pictures, paths, missing };
}

interface GeoJson {
  type?: string;
  features?: { geometry?: Parameters<typeof pathsOf>[0] }[];
  geometry?: Parameters<typeof pathsOf>[0];
}

/** Lines, outlines and points of a GeoJSON text; none where it is no GeoJSON. */
export function pathsOfText(text: string): Path[] {
  let root: GeoJson;
  try {
    root = JSON.parse(text) as GeoJson;
  } catch {
    return [];
  }
  if (root === null || typeof root !== "object") return [];
  const features = Array.isArray(root.features) ? root.features : [root];
  return features.flatMap((feature) => pathsOf(feature?.geometry));
}
