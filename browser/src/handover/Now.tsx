/** Whether what is shown is of now: an answer that is still being worked out, or a server that is gone, is told. */
import type { Shown } from "../api/screens";
import type { Seen } from "../api/useScreen";
import { AsOf } from "../parts/AsOf";

export function Now({ seen, never }: { seen: Seen<Shown<unknown>>; never: string }) {
  const standing = seen.screen?.standing;
  return (
    <>
      {standing && standing.state !== "answered" && <p role="status">{standing.words}</p>}
      <AsOf seen={seen} never={never} />
    </>
  );
}
