/** Is it mine or the one beside it? What ties the signal to the line, and the cheapest checks that are left. */
import type { ComponentChildren } from "preact";
import "../draw/draw.css";
import { useState } from "preact/hooks";
import type { Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { evidenceOf, EVIDENCE, openChecks, timeWords, withEvidence, withoutEvidence } from "../draw/evidence";
import { Lines } from "../draw/Lines";
import { Stands } from "../draw/Stands";
import type { IdentityCheck, WhichLine, WhichScreen } from "../draw/types";
import type { Folded } from "../fold/fold";
import { record, useJob } from "../journal";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";

export default function Which({ job, rest }: ScreenProps) {
  const folded = useJob(job);
  const seen = useScreen<Shown<WhichScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/which-line`, job);
  const screen = seen.screen?.screen ?? null;
  const line = screen?.lines.find((each) => each.line === rest[0]) ?? screen?.lines[0];
  if (!folded) return null;
  if (!screen || !line)
    return (
      <Page title="Which line?" back={to("job", job)}>
        {seen.ready && <p class="answer">{screen ? "There is no line in this job yet: a first reading makes one." : "There is nothing to show here yet."}</p>}
        <Stands seen={seen} />
      </Page>
    );
  return (
    <Page title="Which line?" back={to("job", job)}>
      <Lines lines={screen.lines} chosen={line.line} address={(each) => to("job", job, "which", each)} />
      <OneLine key={line.line} job={job} line={line} folded={folded} />
      <Stands seen={seen} />
      <p class="quiet">{screen.note}</p>
    </Page>
  );
}

interface LineProps {
  job: string;
  line: WhichLine;
  folded: Folded;
}

function OneLine({ job, line, folded }: LineProps) {
  const [agreed, setAgreed] = useState<IdentityCheck[]>([]);
  const [against, setAgainst] = useState<IdentityCheck | null>(null);
  const tick = (check: IdentityCheck, done: boolean) => record({ job, kind: "tick", payload: { step: check.id, done } });
  const done = async (check: IdentityCheck) => {
    setAgreed([...agreed.filter(({ id }) => id !== check.id), check]);
    setAgainst(null);
    if (check.evidence) await record(withEvidence(folded, line, check.evidence));
    else await tick(check, true);
  };
  const undone = async (check: IdentityCheck) => {
    setAgreed(agreed.filter(({ id }) => id !== check.id));
    if (check.evidence) await record(withoutEvidence(folded, line, check.evidence));
    else await tick(check, false);
  };
  const cards = (checks: readonly IdentityCheck[]) =>
    openChecks(folded, line, checks).map((check) => (
      <Check key={check.id} job={job} check={check} done={() => void done(check)} not={() => setAgainst(check)}>
        {against?.id === check.id && <Against job={job} line={line} folded={folded} />}
      </Check>
    ));
  const [short, long] = [cards(line.checks), cards(line.longer)];
  return (
    <>
      <p class="answer">{line.headline}</p>
      <Evidence job={job} line={line} folded={folded} />
      {line.against.map((words) => (
        <p>{words}</p>
      ))}
      {agreed.map((check) => (
        <p class="done" role="status">
          Written down as done: {check.words}{" "}
          <button type="button" onClick={() => void undone(check)}>
            Take it back
          </button>
        </p>
      ))}
      {short.length > 0 && <h2>Quick checks left, the cheapest first</h2>}
      {short}
      {long.length > 0 && <h2>Longer, and worth more</h2>}
      {long}
      {short.length + long.length === 0 && <p>No check is left that this knows of.</p>}
    </>
  );
}

/** What was written down for the line; each can be taken back by who sees that it does not stand. */
function Evidence({ job, line, folded }: LineProps) {
  const known = evidenceOf(folded, line);
  const take = (evidence: string) => void record(withoutEvidence(folded, line, evidence));
  return (
    <section aria-labelledby="evidence">
      <h2 id="evidence">What ties the signal to it</h2>
      {known.length === 0 && <p>Nothing was written down yet.</p>}
      <ul class="plain rows">
        {known.map((evidence) => (
          <li class="evidence">
            <span>{EVIDENCE[evidence] ?? evidence}</span>
            <button type="button" aria-label={`Not so, take it back: ${EVIDENCE[evidence] ?? evidence}`} onClick={() => take(evidence)}>
              Not so
            </button>
          </li>
        ))}
      </ul>
      {folded.frozen && <p class="quiet">The job {job} is frozen: what is written down now waits beside it.</p>}
    </section>
  );
}

interface CheckProps {
  job: string;
  check: IdentityCheck;
  done: () => void;
  not: () => void;
  children: ComponentChildren;
}

function Check({ job, check, done, not, children }: CheckProps) {
  return (
    <section class="check">
      <p class="strong">{check.words}</p>
      <p>
        {check.proves} {check.not_proves} <span class="quiet">{timeWords(check.seconds)}</span>
      </p>
      <div class="choices">
        {check.go && (
          <a class="button main wide" href={`${to("job", job)}/${check.go.route}`}>
            {check.go.words}
          </a>
        )}
        <button type="button" onClick={done}>
          {check.evidence === "exposed" ? "Seen: it is this line" : "It agreed"}
        </button>
        <button type="button" onClick={not}>
          {check.evidence === "exposed" ? "It is not" : "It did not agree"}
        </button>
      </div>
      {children}
    </section>
  );
}

/** A check that spoke against the line: nothing is written down by a tap alone, as what was seen has to be said. */
function Against({ job, line, folded }: LineProps) {
  const mine = [...(folded.tables.readings?.values() ?? [])].filter(({ rows }) => rows[0]?.line === line.line).at(-1);
  return (
    <div class="notice" role="status">
      <p>
        Then it is not known which line this is: paint nothing more as {line.name} until it is. Write down what you saw, take back
        above what no longer stands, and read along the other line as one of its own.
      </p>
      <div class="choices">
        {mine && (
          <a class="button" href={to("job", job, "read", mine.key, "note")}>
            Write it down at reading {mine.key}
          </a>
        )}
        <a class="button" href={to("job", job, "read")}>
          Read the other line
        </a>
      </div>
    </div>
  );
}
