/** The frame of a screen: where back leads, what it is called, what waits on this phone, and what to do next. */
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { useSync, useWaiting } from "../journal";
import { waitingWords } from "../words/times";

interface PageProps {
  title: string;
  /** Address that back leads to; none on the first screen. */
  back?: string;
  /** What lies under the thumb: the next action, at the foot of the screen. */
  foot?: ComponentChildren;
  children: ComponentChildren;
}

export function Page({ title, back, foot, children }: PageProps) {
  useEffect(() => void (document.title = `${title} · plumbmark`), [title]);
  return (
    <>
      <header class="page-head">
        {back !== undefined && (
          <a class="back" href={back} aria-label="Back">
            ‹
          </a>
        )}
        <h1>{title}</h1>
      </header>
      <StateLine />
      <main class="page">{children}</main>
      {foot && <footer class="page-foot">{foot}</footer>}
    </>
  );
}

/** Says what is not as it should be between this phone and the server, and nothing when all is sent. */
function StateLine() {
  const count = useWaiting().length;
  const { reached, wrong } = useSync();
  const parts = [
    count > 0 && `${waitingWords(count)}.`,
    reached === false && (count > 0 ? "No connection; they are sent when it is back." : "No connection."),
    wrong && `Not sent: ${wrong}`,
  ].filter(Boolean);
  return (
    <p class="state" role="status" hidden={parts.length === 0}>
      {parts.join(" ")}
    </p>
  );
}
