/** The frame of a screen: where back leads, what it is called, what waits on this phone, and what to do next. */
import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { useSync, useWaiting } from "../journal";
import { clockWords, waitingWords } from "../words/times";

interface PageProps {
  title: string;
  /** Address that back leads to; none on the first screen. */
  back?: string;
  /** What lies under the thumb: the next action, at the foot of the screen. */
  foot?: ComponentChildren;
  children: ComponentChildren;
}

export function Page({ title, back, foot, children }: PageProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => void (document.title = `${title} · plumbmark`), [title]);
  useEffect(() => {
    if (document.activeElement === document.body) heading.current?.focus({ preventScroll: true }); // is read out
  }, []);
  return (
    <>
      <header class="page-head">
        {back !== undefined && (
          <a class="back" href={back} aria-label="Back">
            ‹
          </a>
        )}
        <div>
          <h1 ref={heading} tabIndex={-1}>
            {title}
          </h1>
          <StateLine />
        </div>
      </header>
      <main class="page">{children}</main>
      {foot && <footer class="page-foot">{foot}</footer>}
    </>
  );
}

/** From how far off on a wrong clock is told of [s]; no source. */
const CLOCK_S = 300;

/** Says what is not as it should be between this phone and the server, and nothing when all is sent. The frame has
    room for a line of it, so that nothing moves away from under a finger when it comes or goes. */
function StateLine() {
  const count = useWaiting().length;
  const { reached, files, wrong, behindS } = useSync();
  const parts = [
    count > 0 && `${waitingWords(count)}.`,
    files > 0 && `${files === 1 ? "1 photograph or plan waits" : `${files} photographs or plans wait`} on this phone.`,
    reached === false && (count + files > 0 ? "No connection; they are sent when it is back." : "No connection."),
    wrong && `Not sent: ${wrong}`,
    Math.abs(behindS) >= CLOCK_S && `${clockWords(behindS)} Times you write down are kept as this phone has them.`,
  ].filter(Boolean);
  return (
    <p class="state" role="status" hidden={parts.length === 0}>
      {parts.join(" ")}
    </p>
  );
}
