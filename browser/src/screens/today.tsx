/** What is due, and what is left on each? */
import { useEffect } from "preact/hooks";
import { keepScreens, useScreen } from "../api/useScreen";
import type { TodayScreen } from "../api/screens";
import type { Folded } from "../fold/fold";
import { useJobs } from "../journal";
import { AsOf } from "../parts/AsOf";
import { Page } from "../parts/Page";
import { to } from "../router";
import { asWritten } from "../words/times";

/** Jobs whose answers are fetched for when the server is gone, the first due first. */
const MOST_KEPT = 20;

const asked = new Map<string, string>();

/** Fetch answers that are not here as Today tells of them. */
function keepAnswers(jobs: TodayScreen["jobs"]): void {
  const due = jobs.filter(({ frozen }) => !frozen).slice(0, MOST_KEPT);
  const changed = due.filter(({ job, sentence }) => asked.get(job) !== sentence);
  for (const { job, sentence } of changed) asked.set(job, sentence);
  void keepScreens(changed.map(({ job }) => `/api/jobs/${encodeURIComponent(job)}/answer`));
}

// Said here as well, word for word as in handover/screen_today.py, since the first screen opens with no server.
const DANGER =
  "Smell of gas, or a line struck? Get away, keep others away, then call. Connect to a line only if you are qualified to.";
const TEACHES = [
  "Tap New job: a place in words is enough, and the first reading needs no account, no map and no ids.",
  "Without signal everything is kept on this phone and sent once it is back.",
];

export default function Today() {
  const seen = useScreen<TodayScreen>("/api/jobs");
  const here = useJobs();
  useEffect(() => {
    if (seen.fresh) keepAnswers(seen.screen?.jobs ?? []);
  }, [seen.fresh, seen.screen]);
  if (!here) return null;
  const told = new Set(seen.screen?.jobs.map(({ job }) => job));
  const own = here.filter(({ job }) => !told.has(job)).sort(byDue);
  const none = own.length === 0 && told.size === 0;
  return (
    <Page
      title="Today"
      foot={
        <a class="button main wide" href="#/new">
          New job
        </a>
      }
    >
      <div class="notice">
        <p>{seen.screen?.danger ?? DANGER}</p>
      </div>
      <p class="answer">{own.length > 0 && told.size === 0 ? counted(own.length) : (seen.screen?.headline ?? "No job yet.")}</p>
      {none && (seen.screen?.teaches ?? TEACHES).map((words) => <p>{words}</p>)}
      <AsOf seen={seen} never="" />
      <ul class="plain rows">
        {seen.screen?.jobs.map(({ job, title, sentence }) => <JobRow job={job} title={title} words={sentence} />)}
        {own.map((folded) => (
          <JobRow job={folded.job} title={String(folded.keys.job.title ?? folded.job)} words={sentenceOf(folded)} />
        ))}
      </ul>
      <div class="choices">
        <a class="button" href="#/bring">
          Bring in a job or a log
        </a>
        <a class="button" href="#/set">
          This device
        </a>
      </div>
    </Page>
  );
}

const counted = (jobs: number) => `${jobs} ${jobs === 1 ? "job" : "jobs"} on this phone.`;

function JobRow({ job, title, words }: { job: string; title: string; words: string }) {
  const named = words.startsWith(`${title}: `);
  return (
    <li>
      <a class="row-link" href={to("job", job)}>
        {named && <strong>{title}: </strong>}
        {named ? words.slice(title.length + 2) : words}
      </a>
    </li>
  );
}

/** What this phone can say of a job that the server has not told of. */
function sentenceOf({ job, keys, tables, frozen }: Folded): string {
  const from = String(keys.ticket.may_dig_from ?? "");
  const readings = tables.readings?.size ?? 0;
  const open = [...(tables.owners?.values() ?? [])].filter(({ rows }) => rows.some(({ answer }) => !answer)).length;
  return [
    String(keys.job.title ?? job),
    ": ",
    keys.ticket.emergency === true && "an emergency. ",
    from && `may dig from ${asWritten(from, new Date())}. `,
    open > 0 && `${open} ${open === 1 ? "owner" : "owners"} without an answer. `,
    readings === 0 ? "No reading yet." : `${readings} ${readings === 1 ? "reading" : "readings"}.`,
    frozen && " Frozen.",
  ]
    .filter(Boolean)
    .join("");
}

const due = ({ keys }: Folded) => String(keys.ticket.due_at ?? keys.ticket.may_dig_from ?? "9");
const byDue = (a: Folded, b: Folded) => (due(a) < due(b) ? -1 : 1);
