/** What was asked for, and by when? */
import { useEffect, useState } from "preact/hooks";
import { record, useJob } from "../journal";
import { Page } from "../parts/Page";
import { Field } from "../parts/Field";
import { formOf, payloadOf, TicketFields, type TicketForm } from "../parts/TicketFields";
import { go, to, type ScreenProps } from "../router";

export default function Ticket({ job }: ScreenProps) {
  const folded = useJob(job);
  const [form, setForm] = useState<{ title: string; ticket: TicketForm } | null>(null);
  useEffect(() => {
    if (folded && !form) setForm({ title: String(folded.keys.job.title ?? ""), ticket: formOf(folded.keys.ticket) });
  }, [folded]);
  if (!folded || !form) return null;
  const save = async () => {
    const keys = payloadOf(form.ticket, folded.keys.ticket);
    const title = form.title.trim();
    if (Object.keys(keys).length > 0) await record({ job, kind: "ticket", payload: { keys } });
    if (title && title !== folded.keys.job.title) await record({ job, kind: "job", payload: { keys: { title } } });
    go("job", job);
  };
  return (
    <Page
      title="Ticket"
      back={to("job", job)}
      foot={
        <button type="button" class="main wide" onClick={() => void save()}>
          Save
        </button>
      }
    >
      <Field label="Name of the job" value={form.title} change={(title) => setForm({ ...form, title })} />
      <TicketFields value={form.ticket} change={(ticket) => setForm({ ...form, ticket })} />
      <PhonePlace job={job} />
    </Page>
  );
}

/** The phone's own position places the job, never a reading. */
function PhonePlace({ job }: { job: string }) {
  const [said, setSaid] = useState("");
  if (!("geolocation" in navigator)) return null;
  const ask = () =>
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const keys = { longitude_deg: coords.longitude.toFixed(5), latitude_deg: coords.latitude.toFixed(5) };
        void record({ job, kind: "ticket", payload: { keys } }).then(() => setSaid("Kept: the job is where this phone is."));
      },
      (reason) => setSaid(`The phone gives no position: ${reason.message}`),
      { timeout: 15_000 },
    );
  return (
    <p>
      <button type="button" onClick={ask}>
        The job is where this phone is now
      </button>{" "}
      <span role="status">{said}</span>
    </p>
  );
}
