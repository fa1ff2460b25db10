/** Reports and files, by whom they are for; the server makes them. */
import { useState } from "preact/hooks";
import type { HandoverScreen } from "../api/screens";
import { asked, Gone } from "../api/client";
import { AsOf } from "../parts/AsOf";
import { Page } from "../parts/Page";
import { to } from "../router";
import type { PartProps } from "./part";

const REPORT_MS = 120_000; // a report is solved anew, so a large job takes its time

type Form = HandoverScreen["files"][number]["forms"][number];

export function Files({ folded, seen, screen }: PartProps) {
  const { job } = folded;
  const [said, setSaid] = useState("");
  const [busy, setBusy] = useState("");
  const at = (form: Form) => `/api/jobs/${encodeURIComponent(job)}/${form.path}`;
  const fetched = async (form: Form) => {
    setBusy(form.path);
    setSaid("Being made. A large job takes a minute.");
    try {
      const answer = await asked(at(form), {}, REPORT_MS);
      const name = /filename="([^"]+)"/.exec(answer.headers.get("content-disposition") ?? "")?.[1] ?? job;
      save(await answer.blob(), name);
      setSaid(`Saved as ${name}.`);
    } catch (reason) {
      setSaid(reason instanceof Gone ? "The server is not reached, or takes too long; try it again." : (reason as Error).message);
    }
    setBusy("");
  };
  return (
    <Page title="Reports and files" back={to("job", job, "handover")}>
      <p class="answer">What is given depends on who gets it.</p>
      <p>No depth goes to the excavator unless the line’s owner allows it. Depths are estimates for the crew’s own record.</p>
      <AsOf seen={seen} never="Files are made by the server, which is not reached now." />
      <p role="status">{said}</p>
      {screen?.files.map(({ words, says, forms }) => (
        <section aria-label={words}>
          <h2>{words}</h2>
          <p>{says}</p>
          <div class="choices">
            {forms.map((form) =>
              form.path.includes(".html") ? (
                <a class="button" href={at(form)} target="_blank" rel="noopener">
                  {form.words}
                </a>
              ) : (
                <button type="button" disabled={busy !== ""} onClick={() => void fetched(form)}>
                  {busy === form.path ? "Being made …" : form.words}
                </button>
              ),
            )}
          </div>
        </section>
      ))}
    </Page>
  );
}

function save(data: Blob, name: string): void {
  const url = URL.createObjectURL(data);
  Object.assign(document.createElement("a"), { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000); // the browser reads it after the click
}
