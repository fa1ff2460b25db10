/** Where may no machine go? What nobody has answered first, then the dig by what it demands. Nothing here opens a zone. */
import type { Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { Numbers } from "../draw/Drawing";
import { Stands } from "../draw/Stands";
import { ClearanceDrawn, letter } from "../ground/ClearanceDrawn";
import { hatchFill, Swatch } from "../ground/Ground";
import type { ClearanceDig, ClearanceScreen } from "../ground/types";
import { Some } from "../ground/Some";
import { Answer } from "../parts/Answer";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";

export default function Clearance({ job }: ScreenProps) {
  const seen = useScreen<Shown<ClearanceScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/clearance`, job);
  const screen = seen.screen?.screen ?? null;
  const hole = screen?.holes[0];
  const next: [string, string] = !screen?.ready
    ? screen && screen.ground.length === 0
      ? ["Draw the dig on the plan", "site"]
      : ["New reading", "read"]
    : hole
      ? ["Write down a test hole", "hole"]
      : ["What is still to be done", "guide"];
  if (!seen.ready) return <p class="loading">…</p>;
  return (
    <Page
      title="Clearance check"
      back={to("job", job)}
      foot={
        <a class="button main wide" href={to("job", job, next[1])}>
          {next[0]}
        </a>
      }
    >
      <Stands seen={seen} />
      {!screen && <Answer words="Nothing is checked yet. Until it is, nothing says where may be dug." />}
      {screen && (
        <>
          <Unanswered job={job} open={screen.unanswered} />
          {!screen.ready && <Answer words={screen.empty} />}
          {screen.digs.map((dig) => (
            <p class="answer">{dig.says}</p>
          ))}
          <p class="strong">{screen.no_machine}</p>
          <ClearanceDrawn screen={screen} />
          {screen.ready && <Checked job={job} screen={screen} />}
        </>
      )}
    </Page>
  );
}

function Unanswered({ job, open }: { job: string; open: readonly string[] }) {
  if (open.length === 0) return null;
  return (
    <section class="notice" aria-labelledby="open">
      <h2 id="open" class="first">
        Still open, {open.length}
      </h2>
      <Some words={open} />
      <p>
        <a class="button" href={to("job", job)}>
          Owners and their answers
        </a>
      </p>
    </section>
  );
}

const DEMANDS: [string, string][] = [
  ["both ways", "Test hole first: see the line before anything else is dug."],
  ["one way", "Hand dig or vacuum."],
  ["broken", "Not known: find out first."],
  ["none", "Nothing known in the way; what is open above stays open here."],
];

function Checked({ job, screen }: { job: string; screen: ClearanceScreen }) {
  const shown = new Set(screen.digs.flatMap(({ stretches }) => stretches.map(({ hatch }) => hatch)));
  let conflicts = 0;
  return (
    <>
      <ul class="legend" aria-label="What the hatching demands">
        {DEMANDS.filter(([hatch]) => shown.has(hatch as never)).map(([hatch, words]) => (
          <li>
            <Swatch fill={hatchFill(hatch)} />
            <span>{words}</span>
          </li>
        ))}
        {screen.zones.length > 0 && (
          <li>
            <Swatch fill="none" edge={false}>
              <path class="zone" d="M2 15H42" />
            </Swatch>
            <span>The edge of a tolerance zone, about the marks.</span>
          </li>
        )}
        <li>
          <Swatch fill="none" edge={false}>
            <path class="around" d="M2 5H42V25H2Z" />
          </Swatch>
          <span>Where a line is, 19 times in 20.</span>
        </li>
      </ul>
      {screen.digs.map((dig) => {
        const first = conflicts;
        conflicts += dig.conflicts.length;
        return <Dig dig={dig} first={first} />;
      })}
      {screen.holes.length > 0 && (
        <section aria-labelledby="holes">
          <h2 id="holes">Test holes, in this order</h2>
          <p>{screen.holes_note}</p>
          {screen.holes.map(({ number, where, words }) => (
            <div class="check">
              <p class="strong">
                {number}. {where}
              </p>
              {words.map((each) => (
                <p>{each}</p>
              ))}
              <a class="button" href={to("job", job, "hole")}>
                Write down what it showed
              </a>
            </div>
          ))}
        </section>
      )}
      {screen.unseen.length > 0 && (
        <section aria-labelledby="unseen">
          <h2 id="unseen">What no reading here shows</h2>
          <Some words={screen.unseen} />
          <a class="button" href={to("job", job, "sweep")}>
            The sweep of this ground
          </a>
        </section>
      )}
      {screen.notes.map((words) => (
        <p>{words}</p>
      ))}
      <h2>Tolerance zones</h2>
      {screen.zones.map(({ words }) => (
        <p>{words}</p>
      ))}
      <p class="quiet">{screen.rule}</p>
      <p class="quiet">{screen.least_said}</p>
    </>
  );
}

function Dig({ dig, first }: { dig: ClearanceDig; first: number }) {
  return (
    <section>
      <h2>Why, and where along it</h2>
      {dig.because.map((words) => (
        <p>{words}</p>
      ))}
      <ul class="plain rows">
        {dig.stretches
          .filter(({ words }) => words)
          .map(({ words }) => (
            <li>{words}</li>
          ))}
      </ul>
      {dig.conflicts.map(({ name, demand, odds, words, told }, i) => (
        <div class="check">
          <p class="strong">
            {letter(first + i)}: {name}, {demand}. {odds}
          </p>
          {words.slice(0, 2).map((each) => (
            <p>{each}</p>
          ))}
          <details>
            <summary>Why, its numbers, and where they came from</summary>
            {words.slice(2).filter((each) => each !== odds).map((each) => (
              <p>{each}</p>
            ))}
            <Numbers told={told} />
          </details>
        </div>
      ))}
    </section>
  );
}
