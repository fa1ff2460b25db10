/** What was said at the time, apart from what a solve of today says. */
import { useScreen } from "../api/useScreen";
import type { SaidScreen, Shown } from "../api/screens";
import { AsOf } from "../parts/AsOf";
import { Page } from "../parts/Page";
import { to } from "../router";
import type { PartProps } from "./part";

export function Said({ folded: { job } }: PartProps) {
  const seen = useScreen<Shown<SaidScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/said`, job);
  const screen = seen.screen?.screen;
  return (
    <Page title="What was said" back={to("job", job, "handover")}>
      <p class="answer">{screen?.sentence ?? "Answers are kept by the server."}</p>
      <p>An answer is kept as it was given. A reading added or corrected later makes a new one and changes none.</p>
      <AsOf seen={seen} never="The server is not reached now." />
      {screen?.answers.map(({ at, when, now, lines, digest, version }) => (
        <section key={at + digest} aria-label={when}>
          <h2>{now ? `${when}, of what is written down now` : when}</h2>
          {lines.map((line) => (
            <p>{line}</p>
          ))}
          <p class="quiet">
            Input {digest}, version {version}
          </p>
        </section>
      ))}
      {screen && screen.older > 0 && <p>{screen.older} more are kept.</p>}
    </Page>
  );
}
