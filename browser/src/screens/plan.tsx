/** Clip where, stake where, which frequency? Three questions to one sentence; where the job has a sketch, its own hook-ups. */
import { useEffect, useState } from "preact/hooks";
import { Gone, postJson } from "../api/client";
import type { Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { Stands } from "../draw/Stands";
import { after, Asking, NO_METAL, NOTHING_GIVEN, type Given, type Step } from "../ground/Asking";
import { DepthShown, PlanDrawn } from "../ground/PlanDrawn";
import type { PlanAnswer, PlanRow, PlanScreen } from "../ground/types";
import { OLDER, useLast } from "../ground/useLast";
import { useSetting } from "../journal";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import type { Units } from "../words/lengths";

/** What the three questions led to, kept on this device. */
interface Answered {
  given: Given;
  answer: PlanAnswer;
}

export default function Plan({ job }: ScreenProps) {
  const seen = useScreen<Shown<PlanScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/plan`, job);
  const [kept, keep] = useSetting<Answered | false>(`plan/${job}`, false);
  const [given, setGiven] = useState<Given>(NOTHING_GIVEN);
  const [step, setStep] = useState<Step | null>(null);
  const [wrong, setWrong] = useState("");
  const [busy, setBusy] = useState(false);
  const [justAsked, setJustAsked] = useState(false);
  const { screen, older } = useLast(seen);
  const asking = step ?? (screen && !screen.says && !kept ? "made_of" : null);
  useEffect(() => scrollTo(0, 0), [asking]);
  if (!seen.ready || kept === null) return <p class="loading">…</p>;
  if (!screen)
    return (
      <Page title="Hook-up plan" back={to("job", job)}>
        <p class="answer">{seen.screen ? "Where to connect is not worked out yet." : "Where to connect is worked out on the server, which was not reached yet."}</p>
        <Stands seen={seen} />
      </Page>
    );
  const ask = async (all: Given) => {
    setBusy(true);
    setWrong("");
    try {
      const { made_of, reached, bonded } = all;
      const answer = await postJson<PlanAnswer>("/api/plan/questions", { made_of, reached, bonded, units: screen.units });
      keep({ given: all, answer });
      setStep(null);
      setJustAsked(true);
    } catch (reason) {
      setWrong(reason instanceof Gone ? "The answer is worked out on the server, which is not reached now. What you tapped is kept on this screen: ask again." : (reason as Error).message);
    }
    setBusy(false);
  };
  const take = (next: Given, done: boolean) => {
    setGiven(next);
    if (!done) return;
    if (next.made_of === NO_METAL) void ask({ ...next, reached: [], bonded: [] });
    else setStep("reached");
  };
  if (asking) {
    const next = after(asking);
    const go = () => (next ? setStep(next) : void ask(given));
    return (
      <Page
        title="Hook-up plan"
        back={asking === "made_of" && !screen.says ? to("job", job) : to("job", job, "plan")}
        foot={
          <div class="sheet side-by-side">
            <button type="button" disabled={step === null} onClick={() => setStep(asking === "bonded" ? "reached" : asking === "reached" ? "made_of" : null)}>
              Back
            </button>
            <button type="button" class="main" disabled={busy || !given.made_of} onClick={given.made_of === NO_METAL ? () => void ask(given) : go}>
              {busy ? "Working it out" : next ? "Go on" : "Where do I connect?"}
            </button>
          </div>
        }
      >
        {wrong && <p role="status">{wrong}</p>}
        <Asking questions={screen.questions} step={asking} given={given} onGiven={take} />
      </Page>
    );
  }
  // The answer just asked for stands first; else the job's own sketch, which knows more than three answers.
  const byQuestions = kept && (justAsked || !screen.says);
  const cautions = [...new Set([...(kept ? kept.answer.cautions : []), ...screen.cautions])];
  return (
    <Page
      title="Hook-up plan"
      back={to("job", job)}
      foot={
        <>
          <a class="button main wide" href={to("job", job, "guide", "connect")}>
            Write down how it is hooked up
          </a>
          <button
            type="button"
            class="wide"
            onClick={() => {
              setGiven(kept ? kept.given : NOTHING_GIVEN);
              setStep("made_of");
            }}
          >
            {kept ? "Answer the three questions again" : "Three questions instead of the sketch"}
          </button>
        </>
      }
    >
      {byQuestions && <p class="answer">{kept.answer.says}</p>}
      {screen.says && !byQuestions && <p class="answer">{screen.says}</p>}
      {cautions.length > 0 && (
        <details class="notice">
          <summary>{cautions[0]}</summary>
          {cautions.slice(1).map((words) => (
            <p>{words}</p>
          ))}
        </details>
      )}
      <Stands seen={seen} />
      {older && <p>{OLDER}</p>}
      {byQuestions && <ByQuestions screen={screen} kept={kept} />}
      {byQuestions && screen.says && (
        <>
          <h2>By the sketch of this job</h2>
          <p class="strong">{screen.says}</p>
        </>
      )}
      {screen.hookups.length > 0 && <Sketch screen={screen} />}
      {kept && !byQuestions && (
        <>
          <h2>By three questions alone</h2>
          <p class="strong">{kept.answer.says}</p>
          <ByQuestions screen={screen} kept={kept} />
        </>
      )}
      {screen.warnings.map((words) => (
        <p>{words}</p>
      ))}
    </Page>
  );
}

function ByQuestions({ screen, kept: { given, answer } }: { screen: PlanScreen; kept: Answered }) {
  const { questions } = screen;
  const words = (name: Step, answers: readonly string[]) => questions[name].filter((each) => answers.includes(each.answer)).map((each) => each.words.toLowerCase());
  const asked = [words("made_of", [given.made_of]), words("reached", given.reached), words("bonded", given.bonded)].flat();
  return (
    <section>
      {answer.more.map((each) => (
        <p>{each}</p>
      ))}
      {answer.rows.length > 0 && <h2>Ways to connect, best first</h2>}
      {answer.rows.map((row) => (
        <div class="check">
          <Row row={row} />
        </div>
      ))}
      <p class="quiet">{answer.tried}</p>
      <p class="quiet">You said: {asked.join("; ")}.</p>
    </section>
  );
}

function Sketch({ screen }: { screen: PlanScreen }) {
  const [at, setAt] = useState(0);
  const hookup = screen.hookups[at] ?? screen.hookups[0]!;
  return (
    <>
      {at > 0 && <p class="strong">{hookup.says}</p>}
      <p>{hookup.expect}</p>
      {screen.changes.map((words) => (
        <p>{words}</p>
      ))}
      <PlanDrawn screen={screen} hookup={hookup} />
      <p class="quiet">The wider the grey along a line, the more of the signal is on it.</p>
      <DepthShown places={hookup.places} target={screen.target} units={screen.units as Units} />
      <h2>Ways to connect, best first</h2>
      {screen.hookups.map(({ row }, i) => (
        <div class="check">
          <Row row={row} />
          <button type="button" aria-pressed={i === at} onClick={() => setAt(i)} aria-label={`Show ${row.connection}`}>
            {i === at ? "Shown above" : "Show it"}
          </button>
        </div>
      ))}
      {screen.others.map((row) => (
        <div class="check">
          <Row row={row} />
        </div>
      ))}
      {screen.after_readings.length > 0 && <h2>What the readings say of the sketch</h2>}
      {screen.after_readings.map((words) => (
        <p>{words}</p>
      ))}
      <p class="quiet">{screen.holds_meaning}</p>
    </>
  );
}

const COLUMNS: [keyof PlanRow, string][] = [
  ["goes_in", "goes in"],
  ["traced", "traced"],
  ["holds", "holds"],
  ["depth_shows", "depth shows"],
  ["on_others", "on other lines"],
];

function Row({ row }: { row: PlanRow }) {
  return (
    <div class="hookup">
      <p class="strong">
        {row.connection}, {row.frequency}
      </p>
      <dl>
        {COLUMNS.filter(([name]) => row[name] && row[name] !== "-").map(([name, words]) => (
          <div>
            <dt>{words}</dt>
            <dd>{row[name]}</dd>
          </div>
        ))}
      </dl>
    </div>
  );
}
