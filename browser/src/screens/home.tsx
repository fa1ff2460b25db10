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
import { asWritten, spoken } from "../words/times";

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
      <Owners folded={folded} />
      <TicketFacts folded={folded} />
      <Ways job={job} frozen={folded.frozen !== null} />
      <RestsOn shown={seen.screen} />
    </Page>
  );
}

function Answer({ folded, shown }: { folded: Folded; shown: Shown<AnswerScreen> | null }) {
  const count = folded.tables.readings?.size ?? 0;
  const own = count === 0 ? "No reading yet." : `${count} ${count === 1 ? "reading" : "readings"} written down.`;
  if (!shown) return <p class="answer">{own}</p>;
  const { standing, screen } = shown;
  const lines = screen?.lines ?? [];
  const [first] = lines;
  return (
    <>
      <p class="answer">{screen?.headline || first?.headline || own}</p>
      {first && lines.length === 1 && (
        <>
          <p>{`${first.paint} ${first.depth}`}</p>
          <Which line={first} />
        </>
      )}
      {screen?.expired && first && <p class="strong">{screen.expiry}</p>}
      {standing.state !== "answered" && <p role="status">{standing.words}</p>}
      {standing.findings.map((each) => (screen ? null : <Said remark={each} />))}
      {screen?.next_step.route && screen.next_gain && (
        <p>
          Next: {screen.next_step.words}. {screen.next_gain}
        </p>
      )}
      {first && <p class="quiet">{firstSentence(screen?.caution ?? "")}</p>}
    </>
  );
}

type Line = AnswerScreen["lines"][number];

/** How far it is known to be that line, always beside how far its numbers can be leaned on; why, one tap away. */
function Which({ line: { identity, which, beside, depth, facing } }: { line: Line }) {
  const known = `${identity[0]!.toUpperCase()}${identity.slice(1)}`;
  return (
    <details>
      <summary>Which line? {known}. What lies beside it</summary>
      {[...beside, which, depth, facing].filter(Boolean).map((words) => (
        <p>{words}</p>
      ))}
    </details>
  );
}

const firstSentence = (words: string) => words.split(/(?<=\.) /)[0]!;

type Remark = AnswerScreen["warnings"][number];

const Said = ({ remark: { where, what } }: { remark: Remark }) => (
  <p>
    <strong>{where}</strong> {what}
  </p>
);

/** When it was worked out and what ends it, what is not in it, and what no answer from the surface can do. */
function RestsOn({ shown }: { shown: Shown<AnswerScreen> | null }) {
  if (!shown?.screen?.lines.length) return null;
  const { standing, screen } = shown;
  // a remark of the files is most often one of the answer's as well
  const alike = (a: Remark) => (b: Remark) => a.where === b.where && a.what.toLowerCase() === b.what.toLowerCase();
  const told = [...standing.findings.filter((each) => !screen.warnings.some(alike(each))), ...screen.warnings];
  return (
    <section aria-labelledby="rests">
      <h2 id="rests">What this answer rests on</h2>
      {!screen.expired && <p>{screen.expiry}</p>}
      <p>{screen.caution}</p>
      {told.length > 0 && (
        <details>
          <summary>{told.length === 1 ? "1 remark on what was written down" : `${told.length} remarks on what was written down`}</summary>
          {told.map((each) => (
            <Said remark={each} />
          ))}
        </details>
      )}
    </section>
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

/** More rows than this stand folded up until they are asked for. */
const MOST_ROWS = 12;

interface Written {
  table: string;
  key: string;
  row: Row;
}

/** One line of text for each place that was written down, under the line it is of; the rest is one tap away. */
function Readings({ folded, answer }: { folded: Folded; answer: AnswerScreen | null }) {
  const lines = answer?.lines ?? [];
  const answered = new Map<string, PlaceAnswer>();
  for (const place of lines.flatMap(({ places }) => places)) answered.set(`${place.table}/${place.key}/${place.line}`, place);
  const written = Object.keys(SHEETS).flatMap((table) =>
    [...(folded.tables[table]?.values() ?? [])].map(({ key, rows }): Written => ({ table, key, row: rows[0] ?? {} })),
  );
  const keys = [...new Set([...lines.map(({ line }) => line), ...written.map(({ row }) => row.line ?? "")])];
  const said = ({ table, key, row }: Written) => {
    const place = answered.get(`${table}/${key}/${row.line}`);
    if (place) return inOneLine(place);
    if (table === "test_holes") return holeWords(row);
    const beside = answered.get(`readings/${key}/${row.line}`);
    return beside ? `in the answer of ${beside.name}` : "not in the answer yet";
  };
  return (
    <section aria-labelledby="readings">
      <h2 id="readings">Readings</h2>
      {written.length === 0 && <p>None yet. The first one needs no map and no names: tap “New reading”.</p>}
      {keys.map((key) => {
        const line = lines.length > 1 ? lines.find((each) => each.line === key) : undefined;
        const rows = written.filter(({ row }) => (row.line ?? "") === key);
        if (rows.length === 0) return null;
        const list = (
          <ul class="plain rows">
            {rows.map((each) => (
              <li>
                <a class="row-link" href={to("job", folded.job, SHEETS[each.table]!, each.key)}>
                  <strong>
                    {NAMES[each.table]} {each.key}
                  </strong>
                  {each.row.place_words && `, ${each.row.place_words}`}: {said(each)}
                </a>
              </li>
            ))}
          </ul>
        );
        return (
          <>
            {line && (
              <>
                <h3>{line.headline}</h3>
                <p>{line.paint}</p>
                <Which line={line} />
              </>
            )}
            {written.length > MOST_ROWS ? (
              <details>
                <summary>{rows.length === 1 ? "1 place" : `All ${rows.length} places`} of {key || "no line"}</summary>
                {list}
              </details>
            ) : (
              list
            )}
          </>
        );
      })}
    </section>
  );
}

/** A test hole is a fact: what was seen, as it was written down. */
function holeWords(row: Row): string {
  const [top, dug] = [lengthText(row, "depth_to_top"), lengthText(row, "dug_to")];
  const found = row.found === "no" ? `not there${dug && `, dug to ${dug}`}` : `seen${top && `, ${top} to the top of it`}`;
  return [found, row.proved].filter(Boolean).join("; ");
}

/** "paint 3 in right, 2 ft 4 in (2 ft to 2 ft 11 in) down, loose". */
function inOneLine({ sentence, short, trust }: PlaceAnswer): string {
  const [where = ""] = sentence.split(/\. |: |\.$/);
  const depth = short.slice(0, -`, ${trust}`.length);
  return `${where[0]?.toLowerCase()}${where.slice(1).replace(/ of your mark$/, "")}, ${depth} down, ${trust}`;
}

function TicketFacts({ folded }: { folded: Folded }) {
  const { ticket } = folded.keys;
  const time = (name: string) => (ticket[name] ? asWritten(String(ticket[name]), new Date()) : null);
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
  const head = [ticket.emergency === true && "an emergency", facts[0]![1], `may dig from: ${time("may_dig_from") ?? "not known"}`];
  return (
    <section aria-labelledby="ticket">
      <h2 id="ticket">Ticket</h2>
      <details>
        <summary>{sentenceCase(head.filter(Boolean).join(", "))}</summary>
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
      </details>
    </section>
  );
}

const sentenceCase = (words: string) => `${words[0]!.toUpperCase()}${words.slice(1)}.`;
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

const WAYS: readonly (readonly [string, readonly (readonly [string, string])[]])[] = [
  ["Look", [["guide", "What do I do now?"], ["site", "Site plan"], ["section", "Section"], ["along", "Along the line"], ["which", "Which line?"]]],
  ["Write down", [["walk", "Walk across"], ["side", "From the side"], ["hole", "Test hole"], ["sonde", "Sonde"]]],
  ["Before and after", [["plan", "Hook-up plan"], ["sweep", "Sweep"], ["clearance", "Clearance check"], ["handover", "Handover"]]],
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
      {WAYS.map(([name, ways]) => (
        <>
          <h3>{name}</h3>
          <div class="grid">
            {ways.map(([screen, words]) => (
              <a class="button" href={to("job", job, screen)}>
                {words}
              </a>
            ))}
          </div>
        </>
      ))}
      <h3>The job as a whole</h3>
      <div class="grid">
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
