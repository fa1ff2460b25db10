/** Laying something under the plan: a picture placed by two points with a known distance, or lines of a file. */
import { useEffect, useState } from "preact/hooks";
import { asked, Gone } from "../api/client";
import { keepFile, recordAll, type Draft } from "../journal";
import { Field } from "../parts/Field";
import { length, parseLength } from "../words/lengths";
import { freeName } from "./facts";
import type { Picture } from "./plan";
import { looksLikeDegrees, type Path, type Point } from "./plane";
import { endingsOf, fitted, left, upright, worldFile, type Affine } from "./underlay";
import { pathsOfText } from "./useUnder";
import type { Site } from "./useSite";

/** A picture is laid in this wide at first, until two of its points say how large it is. */
const FIRST_WIDE_M = 30;
const MOST_BYTES = 32 * 2 ** 20;

interface Props {
  site: Site;
  cross: Point;
  points: Path;
  onPreview: (picture: Picture | null) => void;
  onDone: (said: string) => void;
  /** What stands under the thumb. */
  onFoot: (foot: { words: string; act: () => void } | null) => void;
}

interface Laid {
  file: File;
  image: ImageBitmap;
  first: Affine;
}

export function UnderPanel({ site, cross, points, onPreview, onDone, onFoot }: Props) {
  const [laid, setLaid] = useState<Laid | null>(null);
  const [wrong, setWrong] = useState("");
  const [far, setFar] = useState("");
  const read = parseLength(far);
  const farM = read && (read.low + read.high) / 2 > 0 ? (read.low + read.high) / 2 : null;
  const [first, second, firstIs, secondIs] = points;
  const place = laid && placed(laid.first, first, second, farM, firstIs, secondIs);
  useEffect(() => {
    onPreview(laid && place ? { image: laid.image, place } : null);
    const keep = () => void kept(site, laid!.file, place!).then(() => onDone("The picture is laid under the plan."));
    onFoot(laid && second && farM ? { words: "Keep it so", act: keep } : null);
  }, [laid, points, farM]);
  useEffect(() => () => (onPreview(null), onFoot(null)), []);
  const take = async (file: File | undefined) => {
    setWrong("");
    if (!file) return;
    try {
      if (file.size > MOST_BYTES) throw new Error("That file is larger than 32 MiB, which is the most that is kept.");
      if (endingsOf(file.type)) {
        const image = await createImageBitmap(file).catch(() => null);
        if (!image) throw new Error("That picture cannot be drawn.");
        setLaid({ file, image, first: upright(image.width, image.height, cross, FIRST_WIDE_M) });
      } else onDone(await linesKept(site, file));
    } catch (reason) {
      setWrong((reason as Error).message);
    }
  };
  if (!laid)
    return (
      <>
        <p>A picture of a site plan is placed by two of its points whose distance you know. Lines come as GeoJSON in the job's grid, or as a GeoPackage. They are drawn thin and grey and are no part of any answer.</p>
        {wrong && <p role="alert">{wrong}</p>}
        <label class="field">
          <span>Picture, GeoJSON or GeoPackage</span>
          <input type="file" accept="image/png,image/jpeg,image/webp,.geojson,.json,.gpkg" onChange={(event) => void take(event.currentTarget.files?.[0])} />
        </label>
      </>
    );
  const off = firstIs && secondIs && farM ? left(firstIs, secondIs, farM) : 0;
  return (
    <>
      <p class="question">{question(points.length, farM !== null)}</p>
      {second && <Field label={`How far apart are the two on the ground? (${site.units === "m" ? "12.5 m" : "40 ft 6 in"})`} value={far} change={setFar} />}
      {far.trim() !== "" && !farM && <p role="status">This cannot be read as a length: write the unit too.</p>}
      {off > 0.02 && <p role="status">By that distance the second one lies {length(off, site.units)} from where you tapped it. The distance was taken, and the direction.</p>}
    </>
  );
}

function question(count: number, scaled: boolean): string {
  if (count === 0) return "Tap a point of the picture that you can find on the ground.";
  if (count === 1) return "Tap a second one, as far from it as you can.";
  if (!scaled) return "Type how far apart they are.";
  if (count === 2) return "It is to scale. Where is the first one really? Tap there, or keep it so.";
  if (count === 3) return "Which way lies the second one? Tap toward it, or keep it so.";
  return "It is placed.";
}

function placed(from: Affine, first?: Point, second?: Point, farM?: number | null, firstIs?: Point, secondIs?: Point): Affine {
  return first && second && farM ? fitted(from, first, second, farM, firstIs ?? null, secondIs ?? null) : from;
}

const namesHere = (site: Site) => [...site.folded.files.keys()].map((name) => name.replace(/^plans\//, "").replace(/\.[^.]+$/, ""));

async function kept(site: Site, file: File, place: Affine): Promise<void> {
  const [ending, world] = endingsOf(file.type)!;
  const name = freeName("plan", namesHere(site), site.mine);
  const drafts: Draft[] = [];
  for (const [each, data] of [[ending, file], [world, new Blob([worldFile(place)], { type: "text/plain" })]] as const)
    drafts.push({ job: site.job, kind: "file", payload: { name: `plans/${name}.${each}`, ...(await keepFile(data)) } });
  await recordAll(drafts);
}

/** Keep the lines of a file; says what was done, throws what is wrong with it. */
async function linesKept(site: Site, file: File): Promise<string> {
  const crs = String(site.folded.keys.job.crs ?? "local");
  let text: string;
  if (/\.(geo)?json$/i.test(file.name) && crs === "local") text = await file.text();
  else text = await byServer(crs, file);
  const paths = pathsOfText(text);
  if (paths.length === 0) throw new Error("There is no line, outline or point in that file.");
  if (looksLikeDegrees(paths.flat())) throw new Error("Its coordinates look like longitude and latitude, and this job's grid is metres from a point of its own: nothing says where that point is.");
  const name = freeName("lines", namesHere(site), site.mine);
  const held = await keepFile(new Blob([text], { type: "application/geo+json" }));
  await recordAll([{ job: site.job, kind: "file", payload: { name: `plans/${name}.geojson`, ...held } }]);
  return `${paths.length} ${paths.length === 1 ? "line is" : "lines are"} laid under the plan.`;
}

/** The lines of a file in the job's grid, read by the server. */
async function byServer(crs: string, file: File): Promise<string> {
  const form = new FormData();
  form.append("crs", crs);
  form.append("file", file);
  try {
    return await (await asked("/api/lines", { method: "POST", body: form })).text();
  } catch (reason) {
    if (reason instanceof Gone) throw new Error("The server reads such files, and it is not reached now. Try again when it is.");
    throw reason;
  }
}
