/** The frame of a screen: where back leads, what it is called, what waits on this phone, and what to do next. */
import type { ComponentChildren } from "preact";

interface PageProps {
  title: string;
  /** Address that back leads to; none on the first screen. */
  back?: string;
  /** What lies under the thumb: the next action, at the foot of the screen. */
  foot?: ComponentChildren;
  children: ComponentChildren;
}

export function Page({ title, back, foot, children }: PageProps) {
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
      <main class="page">{children}</main>
      {foot && <footer class="page-foot">{foot}</footer>}
    </>
  );
}
