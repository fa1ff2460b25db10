/** Photographs of a thing or a mark: taken, then one tap says which way the camera looked. */
import "./map.css";
import { useEffect, useState } from "preact/hooks";
import { keepFile, recordAll, type Draft, type Fact } from "../journal";
import { sha256 } from "../journal/canonical";
import { database } from "../journal/db";
import { isoLocal } from "../journal/fact";
import { asked } from "../api/client";
import { bearingDeg, EIGHT, eighth } from "./plane";
import type { Site } from "./useSite";

/** As much as the server takes of one file. */
const MOST_BYTES = 32 * 2 ** 20;
const ENDINGS: Record<string, string> = { "image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic" };

interface Props {
  site: Pick<Site, "job" | "folded">;
  /** What it is tied to. */
  of: "thing" | "mark";
  name: string;
}

export function Photos({ site, of, name }: Props) {
  const [taken, setTaken] = useState<File | null>(null);
  const [wrong, setWrong] = useState("");
  const facing = useFacing(taken !== null);
  const rows = [...(site.folded.tables.photos?.values() ?? [])].filter(({ rows: [row] }) => row?.[of] === name);
  const take = (file: File | undefined) => {
    setWrong("");
    if (!file) return;
    if (file.size > MOST_BYTES) setWrong("That file is larger than 32 MiB, which is the most that is kept. Take it with a smaller size set in the camera.");
    else if (!file.type.startsWith("image/")) setWrong(`${file.name} is no picture.`);
    else setTaken(file);
  };
  const keep = async (bearing: number | null) => {
    const photo = taken!;
    setTaken(null);
    await recordAll(await photoDrafts(site.job, photo, of, name, bearing));
  };
  if (taken)
    return (
      <div class="notice">
        <p>
          <strong>Which way did the camera look?</strong>
        </p>
        {facing !== null && (
          <button type="button" class="main wide" onClick={() => void keep(facing)}>
            {eighth(facing)}, by this phone's compass
          </button>
        )}
        <div class="kinds" role="group" aria-label="Which way did the camera look?">
          {EIGHT.map((word, i) => (
            <button type="button" onClick={() => void keep(45 * i)}>
              {word}
            </button>
          ))}
          <button type="button" onClick={() => void keep(null)}>
            Not said
          </button>
        </div>
      </div>
    );
  return (
    <>
      {rows.length > 0 && (
        <ul class="site-photos" aria-label={`Photographs of ${name}`}>
          {rows.map(({ key, rows: [row] }) => (
            <li>
              <Picture fact={site.folded.files.get(`photos/${key}`) ?? null} says={pictureWords(name, row?.bearing_deg)} />
            </li>
          ))}
        </ul>
      )}
      {wrong && <p role="alert">{wrong}</p>}
      <label class="field">
        <span>Photograph {name}</span>
        <input type="file" accept="image/*" capture="environment" onChange={(event) => take(event.currentTarget.files?.[0])} />
      </label>
    </>
  );
}

const pictureWords = (of: string, bearing: string | undefined) => (bearing ? `${of}, looking ${eighth(Number(bearing))}` : `${of}, direction not said`);

/** The file first, then the row that tells what it shows. */
export async function photoDrafts(job: string, photo: Blob, of: "thing" | "mark", key: string, bearing: number | null): Promise<Draft[]> {
  const kept = await keepFile(photo);
  const now = isoLocal(new Date());
  const digits = (await sha256(await photo.arrayBuffer())).slice(0, 6);
  const stem = key.replace(/[^A-Za-z0-9_-]/g, "-").slice(0, 30);
  const name = `${stem}-${now.slice(0, 19).replace(/[-:]/g, "").replace("T", "-")}-${digits}.${ENDINGS[kept.media] ?? "jpg"}`;
  const row: Record<string, string> = { [of]: key, taken_at: now };
  if (bearing !== null) row.bearing_deg = String(Math.round(bearing));
  return [
    { job, kind: "file", payload: { name: `photos/${name}`, ...kept } },
    { job, kind: "entry", payload: { table: "photos", key: name, rows: [row] } },
  ];
}

/** The bytes of a file fact: kept here, else from the server; null where they are neither here nor to be had now. */
export async function bytesOf({ payload }: Fact): Promise<Blob | null> {
  const sha = String(payload.sha256);
  const here = await (await database()).get("blobs", sha);
  if (here) return here.data;
  return asked(`/api/blobs/${sha}`, {}).then(
    (response) => response.blob(),
    () => null,
  );
}

function Picture({ fact, says }: { fact: Fact | null; says: string }) {
  const [address, setAddress] = useState("");
  useEffect(() => {
    let made = "";
    let wanted = true;
    if (fact)
      void bytesOf(fact).then((data) => {
        if (data && wanted) setAddress((made = URL.createObjectURL(data)));
      });
    return () => {
      wanted = false;
      if (made) URL.revokeObjectURL(made);
    };
  }, [fact?.id]);
  return address ? <img src={address} alt={says} /> : <span class="quiet">{says}: the picture is not on this phone.</span>;
}

/**
 * Which of eight ways the phone's back looks, where it tells without being asked; null where not. Coarse on purpose: a
 * compass points to magnetic north, and a bearing counts from the grid's.
 */
function useFacing(wanted: boolean): number | null {
  const [facing, setFacing] = useState<number | null>(null);
  useEffect(() => {
    if (!wanted) return setFacing(null);
    const turned = (event: DeviceOrientationEvent) => {
      const { absolute, alpha, beta, gamma } = event;
      if (absolute && alpha !== null && beta !== null && gamma !== null) setFacing(lookingDeg(alpha, beta, gamma));
    };
    addEventListener("deviceorientationabsolute", turned);
    return () => removeEventListener("deviceorientationabsolute", turned);
  }, [wanted]);
  return facing;
}

/** Where the back of a phone looks, or its top where it lies flat, in steps of 45 degrees (W3C Device Orientation). */
export function lookingDeg(alpha: number, beta: number, gamma: number): number {
  const [a, b, g] = [alpha, beta, gamma].map((deg) => (deg * Math.PI) / 180) as [number, number, number];
  const back = [-Math.cos(a) * Math.sin(g) - Math.sin(a) * Math.sin(b) * Math.cos(g), Math.cos(a) * Math.sin(b) * Math.cos(g) - Math.sin(a) * Math.sin(g)] as const;
  const top = [-Math.sin(a) * Math.cos(b), Math.cos(a) * Math.cos(b)] as const;
  return 45 * EIGHT.indexOf(eighth(bearingDeg([0, 0], Math.hypot(...back) > 0.5 ? back : top)));
}
