/** What do I do now? One step, why, what good looks like; ticked by the data. */
import "../handover/handover.css";
import { useEffect } from "preact/hooks";
import { useScreen } from "../api/useScreen";
import type { GuideScreen, GuideStep, Shown } from "../api/screens";
import { Hookups } from "../guide/Hookups";
import { kept, ticked } from "../guide/steps";
import { Now } from "../handover/Now";
import { record, useJob } from "../journal";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";

export default function Guide({ job, rest }: ScreenProps) {
  const folded = useJob(job);
  const seen = useScreen<Shown<GuideScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/guide`, job);
  const asked = rest[0] ?? "";
  useEffect(() => scrollTo(0, 0), [asked]);
  if (!folded || !seen.ready) return <p class="loading">…</p>;
  const told = seen.screen?.screen ?? null;
  const { danger, steps: all } = told ?? kept;
  const steps = ticked(all, folded.ticks);
  const now = steps.find(({ state }) => state === "open");
  const step = steps.find(({ id }) => id === asked) ?? now;
  const tick = (done: boolean) => record({ job, kind: "tick", payload: { step: step!.id, done } });
  const away = step && !step.go.route.startsWith("guide");
  return (
    <Page
      title="What do I do now?"
      back={to("job", job)}
      foot={
        step && (
          <>
            {away && (
              <a class="button main wide" href={`${to("job", job)}/${step.go.route}`}>
                {step.go.words}
              </a>
            )}
            {!away && step.id === "connect" && (
              <a class="button main wide" href={to("job", job, "plan")}>
                Where to connect: three questions
              </a>
            )}
            {step.may_tick && step.state !== "done" && (
              <button
                type="button"
                class={away ? "wide" : "main wide"}
                aria-pressed={step.state === "ticked by hand"}
                onClick={() => void tick(step.state === "open")}
              >
                {step.state === "open" ? "Done: tick it" : "Ticked by hand. Take the tick back"}
              </button>
            )}
          </>
        )
      }
    >
      <div class="notice">
        <p>{danger[0]}</p>
        <details>
          <summary>Gas, a struck line, electric lines: what to do</summary>
          {danger.slice(1).map((words) => (
            <p>{words}</p>
          ))}
        </details>
      </div>
      {step ? <Step step={step} of={steps} /> : <p class="answer">Every step is done.</p>}
      {step?.id === "connect" && <Hookups folded={folded} />}
      <Now seen={seen} never="What the readings say of the steps is told once the server is reached." />
      <h2 id="steps">All steps</h2>
      <ol class="plain rows" aria-labelledby="steps">
        {steps.map(({ id, title, state }, k) => (
          <li>
            <a class="row-link" href={to("job", job, "guide", id)} aria-current={id === step?.id ? "step" : undefined}>
              {k + 1}. {id === step?.id ? <strong>{title}</strong> : title}:{" "}
              {id === now?.id ? "to do now" : state === "open" ? "not yet" : state}
            </a>
          </li>
        ))}
      </ol>
    </Page>
  );
}

function Step({ step, of }: { step: GuideStep; of: GuideStep[] }) {
  const { title, why, good, because, state } = step;
  return (
    <section aria-live="polite">
      <p class="quiet">
        Step {of.indexOf(step) + 1} of {of.length}
        {state !== "open" && `, ${state}`}
      </p>
      <p class="answer">{title}.</p>
      <p>{why}</p>
      <p>
        <strong>Good looks like this.</strong> {good}
      </p>
      {because.map((words) => (
        <p>
          <strong>{state === "done" ? "Seen: " : "Now: "}</strong>
          {words}
        </p>
      ))}
    </section>
  );
}
