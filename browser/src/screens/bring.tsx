/** Bring in a job as a folder or zip, or logs of somebody else's making into a job. */
import { useState } from "preact/hooks";
import { asked, Gone, Refused } from "../api/client";
import type { ImportedBody } from "../api/screens";
import { dropped, isJob, pathOf } from "../bring/dropped";
import { Findings, type Finding } from "../bring/Findings";
import { Log, type Confirmed } from "../bring/Log";
import { send, sync, useJobs, useSetting } from "../journal";
import { makeJob } from "../journal/jobs";
import { Page } from "../parts/Page";
import { go, to, type ScreenProps } from "../router";

type Said = { what: string; findings: readonly Finding[]; job: string };

const IMPORT_MS = 120_000; // 64 MiB over a slow line

export default function Bring({ rest }: ScreenProps) {
  const [logs, setLogs] = useState<File[]>([]);
  const [at, setAt] = useState(0);
  const [job, setJob] = useState(rest[0] ?? "");
  const [before, setBefore] = useState<Confirmed | null>(null);
  const file = logs[at];
  if (!file) return <Choose onLogs={setLogs} />;
  if (!job) return <IntoWhich logs={logs} onJob={setJob} />;
  return (
    <Log
      key={at}
      file={file}
      job={job}
      count={logs.length > 1 ? `${at + 1} of ${logs.length}` : ""}
      before={before}
      onTaken={setBefore}
      onNext={at + 1 < logs.length ? () => setAt(at + 1) : null}
    />
  );
}

function Choose({ onLogs }: { onLogs: (logs: File[]) => void }) {
  const [name] = useSetting("name", "");
  const [said, setSaid] = useState<Said | null>(null);
  const [busy, setBusy] = useState(false);
  const take = async (chosen: Iterable<File> | null | undefined) => {
    const files = [...(chosen ?? [])];
    if (files.length === 0) return;
    if (!isJob(files.map(pathOf))) return onLogs(files);
    const form = new FormData();
    for (const file of files) form.append("files", file, pathOf(file));
    if (name) form.append("by", name);
    setBusy(true);
    try {
      const { job, findings } = (await (await asked("/api/import", { method: "POST", body: form }, IMPORT_MS)).json()) as ImportedBody;
      send();
      if (!findings?.length) return go("job", job);
      setSaid({ what: "It is brought in. This was remarked about its files:", findings, job });
    } catch (reason) {
      const what = reason instanceof Gone ? "The server is not reached; bring the files in when it is." : (reason as Error).message;
      setSaid({ what, findings: reason instanceof Refused ? reason.findings : [], job: "" });
    }
    setBusy(false);
  };
  const answer = busy ? "Reading the files …" : said?.job ? "Brought in." : said ? "Not brought in." : "Choose a job or a log, or drop it here.";
  return (
    <Page
      title="Bring in"
      back="#/"
      foot={
        said?.job && (
          <a class="button main wide" href={to("job", said.job)}>
            To the job
          </a>
        )
      }
    >
      <p class="answer">{answer}</p>
      {said && <Findings what={said.what} findings={said.findings} alarm={said.job === ""} />}
      <div
        class="stack drop"
        onDragOver={(event) => event.preventDefault()}
        onDrop={(event) => {
          event.preventDefault();
          void dropped(event.dataTransfer).then(take);
        }}
      >
        <Pick label="A zip, or the files of a folder" take={take} />
        <Pick label="A folder" folder take={take} />
        <Pick label="Logs: tables, positions, photographs" take={take} />
      </div>
      <p class="quiet">
        A job is a folder with a file job.toml in it, or its zip. A log is a table (CSV, XLSX) with whatever columns it has, positions (NMEA,
        GPX) or photographs: what its columns mean is shown first, and nothing is written down before you say that it is right.
      </p>
    </Page>
  );
}

function Pick({ label, folder = false, take }: { label: string; folder?: boolean; take: (files: FileList | null) => void }) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="file"
        multiple
        ref={(input) => void (input && (input.webkitdirectory = folder))}
        onChange={(event) => take(event.currentTarget.files)}
      />
    </label>
  );
}

/** A job that the server knows by the time it is asked about its first log. */
async function newJob(title: string): Promise<string> {
  const job = await makeJob(title, {});
  await sync();
  return job;
}

function IntoWhich({ logs, onJob }: { logs: File[]; onJob: (job: string) => void }) {
  const jobs = useJobs();
  if (!jobs) return null;
  const called = logs[0]!.name.replace(/\.[^.]*$/, "");
  return (
    <Page title="Bring in" back="#/">
      <p class="answer">Into which job?</p>
      <p>{logs.map(({ name }) => name).join(", ")}</p>
      <div class="choice-list">
        {jobs.map(({ job, keys }) => (
          <button type="button" class="wide" onClick={() => onJob(job)}>
            {String(keys.job.title ?? job)}
          </button>
        ))}
        <button type="button" class="wide" onClick={() => void newJob(called).then(onJob)}>
          A new job, “{called}”
        </button>
      </div>
    </Page>
  );
}
