/** One job: its answer, what is still asked, owners, readings, and the next step under the thumb. */
import { useEffect } from "preact/hooks";
import { keepScreens, useScreen } from "../api/useScreen";
import type { AnswerScreen, PlaceAnswer, Question, Shown } from "../api/screens";
import type { Folded, Row } from "../fold/fold";
import { record, recordAll, useJob, type Draft } from "../journal";
import { AsOf } from "../parts/AsOf";
import { Owners } from "../parts/Owners";
import { Page } from "../parts/Page";
import { lengthText } from "../phone/cells";
import { go, to, type ScreenProps } from "../router";
import { placeShort } from "../sheets/place";
import { spoken } from "../words/times";

/** Screens of a job that was opened, which are there when the server is gone. */
const KEPT = ["site", "section", "along", "which-line", "clearance", "guide", "handover", "sweep", "plan"];

export default function Home({ job }: ScreenProps) {
  const folded = useJob(job);
  const seen = useScreen<Shown<AnswerScreen>>(`/api/jobs/${encodeURIComponent(job)}/answer`, job);
  const answered = seen.fresh && seen.screen?.standing.state === "answered" && seen.screen.standing.digest;
  useEffect(() => {
    const paths = KEPT.map((screen) => `/api/jobs/${encodeURIComponent(job)}/screens/${screen}`);
    if (answered) void keepScreens(paths);
  }, [job, answered]);
  if (!folded) return null;
  const answer = seen.screen?.screen ?? null;
  const next = answer && answer.next_step.route !== "read" ? answer.next_step : null; // that one has its button anyway
  return (
    <Page
      title={String(folded.keys.job.title ?? job)}
      back="#/"
      foot={
        <>
          {next?.route && (
            <a class="button main wide" href={`${to("job", job)}/${next.route}`}>
              {next.words}
            </a>
          )}
          <a class={next?.route ? "button wide" : "button main wide"} href={to("job", job, "read")}>
            New reading
          </a>
        </>
      }
    >
      <Frozen folded={folded} />
      <Answer folded={folded} shown={seen.screen} />
      <AsOf seen={seen} never="" />
      {answer?.questions.map((question) => <Asked job={job} question={question} />)}
      <Readings folded={folded} answer={answer} />
      <TicketFacts folded={folded} />
      <Owners folded={folded} />
      <Ways job={job} frozen={folded.frozen !== null} />
    </Page>
  );
}

type Remark = AnswerScreen["warnings"][number];

function Answer({ folded, shown }: { folded: Folded; shown: Shown<AnswerScreen> | null }) {
  const count = folded.tables.readings?.size ?? 0;
  const own = count === 0 ? "No reading yet." : `${count} ${count === 1 ? "reading" : "readings"} written down.`;
  if (!shown) return <p class="answer">{own}</p>;
  const { standing, screen } = shown;
  const lines = screen?.lines ?? [];
  const warned = screen?.warnings ?? [];
  // a remark of the files is most often one of the answer's as well
  const alike = (a: Remark) => (b: Remark) => a.where === b.where && a.what.toLowerCase() === b.what.toLowerCase();
  const told = [...standing.findings.filter((each) => !warned.some(alike(each))), ...warned];
  return (
    <>
      {lines.length === 0 && <p class="answer">{own}</p>}
      {lines.map(({ headline, paint, depth, which, beside, facing }) => (
        <>
          <p class="answer">{headline}</p>
          {[paint, depth].filter(Boolean).map((words) => (
            <p>{words}</p>
          ))}
          {beside.length + which.length > 0 && (
            <details>
              <summary>{beside.length > 0 ? "A second line, and which line this is" : "Which line this is"}</summary>
              {[...beside, which, facing].filter(Boolean).map((words) => (
                <p>{words}</p>
              ))}
            </details>
          )}
        </>
      ))}
      {screen?.next_step.route && (
        <p>
          Next: {screen.next_step.words}. {screen.next_gain}
        </p>
      )}
      {told.map(({ where, what }) => (
        <p>
          <strong>{where}</strong> {what}
        </p>
      ))}
      {lines.length > 0 && <p>{screen?.caution}</p>}
      <p class="quiet" role="status">
        {[standing.words, lines.length > 0 && screen?.expiry].filter(Boolean).join(" ")}
      </p>
    </>
  );
}

/** A question never blocks: its answers are one tap each, and what was typed is kept. */
function Asked({ job, question }: { job: string; question: Question }) {
  const settle = async ({ answer, route, take_back }: Question["choices"][number]) => {
    const taken = take_back.map((supersedes): Draft => ({ job, kind: "remove", payload: {}, supersedes }));
    await recordAll([...taken, { job, kind: "settled", payload: { question: question.id, answer } }]);
    if (route) location.hash = `${to("job", job)}/${route}`;
  };
  return (
    <div class="notice">
      <p>{question.words}</p>
      <div class="choices">
        {question.choices.map((choice) => (
          <button type="button" onClick={() => void settle(choice)}>
            {choice.words}
          </button>
        ))}
      </div>
    </div>
  );
}

const SHEETS: Record<string, string> = { readings: "read", profiles: "walk", side_readings: "side", test_holes: "hole" };
const NAMES: Record<string, string> = {
  readings: "Reading",
  profiles: "Walk across",
  side_readings: "Reading from the side",
  test_holes: "Test hole",
};

function Readings({ folded, answer }: { folded: Folded; answer: AnswerScreen | null }) {
  const answered = new Map<string, PlaceAnswer>();
  for (const place of answer?.lines.flatMap(({ places }) => places) ?? []) answered.set(`${place.table}/${place.key}`, place);
  const written = Object.keys(SHEETS).flatMap((table) =>
    [...(folded.tables[table]?.values() ?? [])].map((entry) => ({ table, ...entry })),
  );
  return (
    <section aria-labelledby="readings">
      <h2 id="readings">Readings</h2>
      {written.length === 0 && <p>None yet. The first one needs no map and no names: tap “New reading”.</p>}
      <ul class="plain rows">
        {written.map(({ table, key, rows }) => {
          const place = answered.get(`${table}/${key}`);
          const placed = placeShort(rows[0] ?? {});
          const said = place ? inOneLine(place) : table === "test_holes" ? holeWords(rows[0] ?? {}) : "Not in the answer yet.";
          return (
            <li>
              <a class="row-link" href={to("job", folded.job, SHEETS[table]!, key)}>
                <strong>
                  {NAMES[table]} {key}
                </strong>
                {placed && `, ${placed}`}: {said}
              </a>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** A test hole is a fact: what was seen, as it was written down. */
function holeWords(row: Row): string {
  const [top, dug] = [lengthText(row, "depth_to_top"), lengthText(row, "dug_to")];
  const found = row.found === "no" ? `not there${dug && `, dug to ${dug}`}` : `seen${top && `, ${top} to the top of it`}`;
  return `${[found, row.proved].filter(Boolean).join("; ")}.`;
}

/** Where to paint, how deep, how far to lean on it; the rest is one tap away. */
function inOneLine({ sentence, short, trust }: PlaceAnswer): string {
  const where = sentence.split(/\. /)[0]!;
  return `${where}. ${short}. ${trust[0]!.toUpperCase()}${trust.slice(1)}.`;
}

function TicketFacts({ folded }: { folded: Folded }) {
  const { ticket } = folded.keys;
  const time = (name: string) => {
    const value = new Date(String(ticket[name] ?? ""));
    return Number.isNaN(value.getTime()) ? null : spoken(value, new Date());
  };
  const facts: [string, string | null][] = [
    ["Where", text(ticket.place)],
    ["What will be dug", text(ticket.work)],
    ["White lining", ticket.white_lined === true ? "seen" : ticket.white_lined === false ? "none there" : "not looked for yet"],
    ["May dig from", time("may_dig_from")],
    ["Owners answer by", time("due_at")],
    ["Runs out", time("expires_at")],
    ["Number", text(ticket.number)],
    ["Called in by", text(ticket.caller)],
  ];
  return (
    <section aria-labelledby="ticket">
      <h2 id="ticket">Ticket</h2>
      {ticket.emergency === true && <p>An emergency.</p>}
      <dl>
        {facts.map(([name, value]) => (
          <div>
            <dt>{name}</dt>
            <dd>{value ?? "not known"}</dd>
          </div>
        ))}
      </dl>
      <a class="button" href={to("job", folded.job, "ticket")}>
        Change the ticket
      </a>
    </section>
  );
}

const text = (value: unknown) => (typeof value === "string" && value ? value : null);

function Frozen({ folded }: { folded: Folded }) {
  if (!folded.frozen) return null;
  const late = folded.late.length;
  return (
    <div class="notice">
      <p>
        Frozen {spoken(new Date(folded.frozen.at), new Date())}. It stands as it was said then.
        {late > 0 && ` ${late} ${late === 1 ? "entry came" : "entries came"} later and ${late === 1 ? "is" : "are"} kept beside it.`}
      </p>
      <button type="button" onClick={() => void record({ job: folded.job, kind: "reopen", payload: { why: "" } })}>
        Reopen{late > 0 && " and take them in"}
      </button>
    </div>
  );
}

const WAYS: [string, string][] = [
  ["guide", "What do I do now?"],
  ["site", "Site plan"],
  ["section", "Section"],
  ["along", "Along the line"],
  ["which", "Which line?"],
  ["walk", "Walk across"],
  ["side", "From the side"],
  ["hole", "Test hole"],
  ["sonde", "Sonde"],
  ["plan", "Hook-up plan"],
  ["sweep", "Sweep"],
  ["clearance", "Clearance check"],
  ["handover", "Handover"],
];

function Ways({ job, frozen }: { job: string; frozen: boolean }) {
  const freeze = async () => {
    await record({ job, kind: "freeze", payload: { why: "" } });
    go("job", job);
    scrollTo(0, 0);
  };
  return (
    <nav aria-labelledby="ways">
      <h2 id="ways">More of this job</h2>
      <div class="grid">
        {WAYS.map(([screen, words]) => (
          <a class="button" href={to("job", job, screen)}>
            {words}
          </a>
        ))}
        <a class="button" href={`/api/jobs/${encodeURIComponent(job)}/export.zip`} download={`${job}.zip`}>
          Export as files
        </a>
        {!frozen && (
          <button type="button" onClick={() => void freeze()}>
            Freeze this job
          </button>
        )}
      </div>
    </nav>
  );
}
