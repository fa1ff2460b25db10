/** What was searched, and what could still lie there unnoticed? `sweep/new`, `sweep/new/METHOD/N`, `sweep/pass/KEY`. */
import { useEffect, useState } from "preact/hooks";
import type { Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { Stands } from "../draw/Stands";
import type { Entry } from "../fold/fold";
import { Some } from "../ground/Some";
import { PassSheet } from "../ground/PassSheet";
import { passWords } from "../ground/pass";
import { SweepDrawn, SweepLegend } from "../ground/SweepDrawn";
import type { SweepMethod, SweepScreen } from "../ground/types";
import { OLDER, useLast } from "../ground/useLast";
import { Answer } from "../parts/Answer";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import { entriesOf, useSheet } from "../sheets/job";

export default function Sweep({ job, rest }: ScreenProps) {
  const seen = useScreen<Shown<SweepScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/sweep`, job);
  const sheet = useSheet(job);
  const last = useLast(seen);
  const [what, which, number] = rest;
  useEffect(() => scrollTo(0, 0), [what, which, number]);
  if (!sheet || !seen.ready) return <p class="loading">…</p>;
  const drawn = [...sheet.folded.shapes.values()].some(({ file, feature }) => file === "dig" && feature !== "");
  const before = last.older && drawn && last.screen?.digs.length === 0; // of when there was no dig yet: says nothing of this one
  const screen = before ? null : last.screen;
  const older = last.older && !before;
  if (what === "new" || what === "pass") {
    const walks = which === ROUND ? screen?.rounds : screen?.methods.find(({ method }) => idOf(method) === which)?.further;
    const walk = what === "new" ? walks?.[Number(number) - 1] : undefined;
    const further = walk && { method: which === ROUND ? "" : which!, course: walk.path };
    return <PassSheet key={rest.join("/")} job={job} sheet={sheet} asked={what === "pass" ? (which ?? "") : ""} further={further} screen={screen} />;
  }
  const written = entriesOf(sheet, "passes");
  const dug = screen !== null && screen.digs.length > 0;
  return (
    <Page
      title="Sweep"
      back={to("job", job)}
      foot={
        <>
          {screen && !dug && (
            <a class="button main wide" href={to("job", job, "site")}>
              Draw the dig on the plan
            </a>
          )}
          <a class={dug || !screen ? "button main wide" : "button wide"} href={to("job", job, "sweep", "new")}>
            Write down a pass
          </a>
        </>
      }
    >
      <Answer words={screen ? screen.says || screen.empty : "What was searched is not worked out yet."} />
      <Stands seen={seen} />
      {older && <p>{OLDER}</p>}
      {!seen.fresh && written.length > 0 && <p class="quiet">Passes written down since then are in the list below, and not in the picture.</p>}
      {screen && screen.methods.length > 0 && <Methods job={job} screen={screen} />}
      {screen && <Meaning screen={screen} />}
      <Written job={job} passes={written} />
    </Page>
  );
}

/** Stands for the method where the walk once round a dig is written down: it is asked then. */
const ROUND = "round";

/** "passive power" as the journal has it: "passive-power". */
const idOf = (method: string): string => method.replace(/ /g, "-");

/** The method that leaves most open in the dig is looked at first. */
function Methods({ job, screen }: { job: string; screen: SweepScreen }) {
  const { methods } = screen;
  const worst = methods.find(({ gaps }) => gaps.some(({ in_dig }) => in_dig)) ?? methods.find(({ walked }) => !walked) ?? methods[0]!;
  const [chosen, setChosen] = useState(worst.method);
  const method = methods.find((each) => each.method === chosen) ?? worst;
  return (
    <>
      <div class="choices" role="group" aria-label="What is listened for">
        {methods.map(({ method: name }) => (
          <button type="button" aria-pressed={name === method.method} onClick={() => setChosen(name)}>
            {capital(name)}
          </button>
        ))}
      </div>
      <p>{method.says}</p>
      <SweepDrawn key={method.method} screen={screen} method={method} />
      <SweepLegend method={method} />
      <Gaps job={job} method={method} />
      <h2>After marking, once round</h2>
      <ol class="plain rows">
        {screen.rounds.map((walk, i) => (
          <Walk words={walk.words} name={`Walked round ${i + 1}`} address={to("job", job, "sweep", "new", ROUND, i + 1)} />
        ))}
      </ol>
    </>
  );
}

function Gaps({ job, method }: { job: string; method: SweepMethod }) {
  return (
    <>
      {method.gaps.length > 0 && (
        <>
          <h2>Where a line could lie unnoticed</h2>
          <Some words={method.gaps.map(({ words }) => words)} />
        </>
      )}
      <h2>{method.walked ? "The fewest passes that close the gaps" : "Passes to walk"}</h2>
      {method.further.length === 0 && <p>None: no gap is left to this method. What no sweep finds stands below.</p>}
      <ol class="plain rows">
        {method.further.map(({ words }, i) => (
          <Walk words={words} name={`Walked pass ${i + 1}`} address={to("job", job, "sweep", "new", idOf(method.method), i + 1)} />
        ))}
      </ol>
      <details>
        <summary>The least current that is noticed</summary>
        {method.least.map(({ words }) => (
          <p>{words}</p>
        ))}
      </details>
    </>
  );
}

function Walk({ words, name, address }: { words: string; name: string; address: string }) {
  return (
    <li class="walk-row">
      <span>{words}</span>
      <a class="button" href={address} aria-label={name}>
        Walked
      </a>
    </li>
  );
}

function Meaning({ screen }: { screen: SweepScreen }) {
  const told = new Set([...screen.rules_out, ...screen.does_not]);
  const ahead = screen.caveats.filter((words) => !told.has(words));
  return (
    <>
      {ahead.map((words) => (
        <p>{words}</p>
      ))}
      {screen.rules_out.length > 0 && <h2>Looked, no signal: what that rules out</h2>}
      {screen.rules_out.map((words) => (
        <p>{words}</p>
      ))}
      {screen.does_not.length > 0 && <h2>What it cannot</h2>}
      {screen.does_not.map((words) => (
        <p>{words}</p>
      ))}
      {screen.meanings.map((words) => (
        <p class="quiet">{words}</p>
      ))}
      {screen.assumed.length > 0 && (
        <details>
          <summary>What is taken where the job says nothing</summary>
          {screen.assumed.map((words) => (
            <p>{words}</p>
          ))}
        </details>
      )}
    </>
  );
}

function Written({ job, passes }: { job: string; passes: readonly Entry[] }) {
  return (
    <section aria-labelledby="walked">
      <h2 id="walked">Passes written down</h2>
      {passes.length === 0 && <p>None yet. What nobody walked was not looked at.</p>}
      <ul class="plain rows">
        {passes.map(({ key, rows }) => (
          <li>
            <a class="row-link" href={to("job", job, "sweep", "pass", key)}>
              <strong>{key}</strong>: {passWords(rows)}
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

const capital = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);
