/** The place of a GNSS receiver beside the server, as cells of a row. */
import { useEffect, useState } from "preact/hooks";
import { getJson } from "../api/client";
import type { PositionBody } from "../api/screens";
import type { Folded } from "../fold/fold";
import type { Cells } from "../phone/cells";
import { withoutPlace } from "./place";

/** The receiver's last place as it comes; null where the server has no receiver or is gone. */
export function useReceiver(): PositionBody | null {
  const [last, setLast] = useState<PositionBody | null>(null);
  useEffect(() => {
    let source: EventSource | null = null;
    let wanted = true;
    const begin = async () => {
      const now = await getJson<PositionBody>("/api/position/last");
      if (!wanted) return;
      setLast(now);
      source = new EventSource("/api/position");
      source.addEventListener("position", (event) => setLast(JSON.parse(event.data) as PositionBody));
      source.onerror = () => setLast(null); // the place that was shown is no longer one of now
    };
    begin().catch(() => undefined); // no receiver there, or no server
    return () => {
      wanted = false;
      source?.close();
    };
  }, []);
  return last;
}

/** Longitude, latitude and sigma as text: to a millimetre, the sigma never less than it is. */
export function byReceiver(cells: Cells, at: PositionBody): Cells | null {
  if (at.state !== "place" || at.longitude_deg == null || at.latitude_deg == null) return null;
  const place = { ...withoutPlace(cells), longitude_deg: at.longitude_deg.toFixed(8), latitude_deg: at.latitude_deg.toFixed(8) };
  const sigma = at.position_sigma_m;
  return sigma == null ? place : { ...place, position_sigma_m: (Math.ceil(sigma * 1000 - 1e-6) / 1000).toFixed(3) };
}

/**
 * The coordinate system that the job needs for longitude and latitude: "" where it has one; the UTM zone of the place
 * on WGS 84 where the job has no coordinates of its own yet; null where it has, so that no system can be given to it.
 */
export function systemFor(job: Folded, longitude: number, latitude: number): string | null {
  const crs = job.keys.job.crs;
  if (typeof crs === "string" && crs !== "local") return "";
  if (job.shapes.size > 0 || ["baselines", "corners"].some((table) => (job.items[table]?.size ?? 0) > 0)) return null;
  for (const entries of Object.values(job.tables))
    for (const { rows } of entries.values())
      if (rows.some((row) => Object.entries(row).some(([name, cell]) => cell !== "" && /^(easting|northing|baseline$)/.test(name)))) return null;
  if (Math.abs(latitude) > 80) return null; // UTM ends there
  const zone = Math.min(60, Math.floor((longitude + 180) / 6) + 1);
  return `EPSG:${(latitude < 0 ? 32700 : 32600) + zone}`;
}
