/** Tells that what is shown is as it was kept, and from when. Nothing where it came just now. */
import type { Seen } from "../api/useScreen";
import { spoken } from "../words/times";

export function AsOf({ seen }: { seen: Seen<unknown> }) {
  if (seen.wrong) return <p role="status">{seen.wrong}</p>;
  if (seen.fresh || !seen.ready) return null;
  if (seen.screen === null) return <p class="quiet">Not seen on this device yet, and the server is not reached.</p>;
  return <p class="quiet">As of {spoken(new Date(seen.at), new Date())}; the server is not reached now.</p>;
}
