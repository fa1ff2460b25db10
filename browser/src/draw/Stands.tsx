/** How the answer behind a screen stands, where it is not simply answered, and when it was seen. */
import type { Seen } from "../api/useScreen";
import { AsOf } from "../parts/AsOf";
import type { Standing } from "./types";

export function Stands({ seen }: { seen: Seen<{ standing: Standing; screen: unknown; note?: string }> }) {
  const standing = seen.screen?.standing;
  return (
    <>
      {standing && standing.state !== "answered" && (
        <p class="quiet" role="status">
          {standing.words}
        </p>
      )}
      {seen.screen?.note && <p role="status">{seen.screen.note}</p>}
      {standing?.findings.map(({ where, what }) => (
        <p>
          <strong>{where}</strong> {what}
        </p>
      ))}
      <AsOf seen={seen} />
    </>
  );
}
