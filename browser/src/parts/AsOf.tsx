interface AsOfProps {
  seen: Seen<unknown>;
  never?: string;
}

/** Tells that what is shown is as it was kept, and from when. Nothing where it came just now.
 * `never` is said where the server's part was never seen on this device. */
import type { Seen } from "../api/useScreen";
import { spoken } from "../words/times";

export function AsOf({ seen, never = "Not seen on this device yet, and the server is not reached." }: AsOfProps) {
  if (seen.wrong) return <p role="status">{seen.wrong}</p>;
  if (seen.fresh || !seen.ready) return null;
  if (seen.screen === null) return never ? <p class="quiet">{never}</p> : null;
  return <p class="quiet">As of {spoken(new Date(seen.at), new Date())}; the server is not reached now.</p>;
}
