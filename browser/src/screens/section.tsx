/** What is under my feet? */
import { useEffect, useState } from "preact/hooks";
import type { AnswerScreen, Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { Numbers } from "../draw/Drawing";
import { Lines } from "../draw/Lines";
import { SectionDrawn } from "../draw/SectionDrawn";
import { Stands } from "../draw/Stands";
import type { SectionScreen } from "../draw/types";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import type { Units } from "../words/lengths";

const TABLE: Record<string, string> = { reading: "readings", profile: "profiles", side_reading: "side_readings" };
const SHEET: Record<string, string> = { reading: "read", profile: "walk", side_reading: "side" };

export default function SectionOf({ job, rest }: ScreenProps) {
  const [askedLine, askedPlace] = rest;
  const about = `/api/jobs/${encodeURIComponent(job)}`;
  // Of a job with many places the server gives those about one; which one is asked for when the end is near.
  const [around, setAround] = useState("");
  const seen = useScreen<Shown<SectionScreen>>(`${about}/screens/section${around}`, job);
  const answered = useScreen<Shown<AnswerScreen>>(`${about}/answer`, job).screen?.screen ?? null;
  const screen = seen.screen?.screen ?? null;
  const found = screen && placeIn(screen, askedLine, askedPlace);
  const wanting = screen !== null && screen.left_out !== "" && (found === null || found.atEnd);
  useEffect(() => {
    const [line, place] = [askedLine ?? screen?.line, askedPlace ?? screen?.station];
    if (wanting && line && place) setAround(`?${new URLSearchParams({ line, station: place })}`);
  }, [wanting, askedLine, askedPlace]);
  if (!screen || !found)
    return (
      <Page title="Section" back={to("job", job)}>
        {seen.ready && <p class="answer">{screen?.empty || NOTHING}</p>}
        <Stands seen={seen} />
      </Page>
    );
  const { line, section, before, after } = found;
  const address = (place: string) => to("job", job, "section", line.line, place);
  const table = TABLE[section.source];
  const next = answered?.lines.flatMap(({ places }) => places).find((each) => each.table === table && each.key === section.id)?.next_step;
  const open = to("job", job, SHEET[section.source] ?? "read", section.id);
  return (
    <Page
      title={`Section, ${section.name}`}
      back={to("job", job)}
      foot={
        <>
          <nav class="steps" aria-label="Places along the line">
            {before ? <a class="button" href={address(before.id)}>‹ {short(before.name)}</a> : <span />}
            {after ? <a class="button" href={address(after.id)}>{short(after.name)} ›</a> : <span />}
          </nav>
          <a class="button main wide" href={next?.route ? `${to("job", job)}/${next.route}` : open}>
            {next?.route ? next.words : `Open ${section.name}`}
          </a>
        </>
      }
    >
      <Lines lines={screen.lines} chosen={line.line} address={(each) => to("job", job, "section", each)} />
      <p class="answer">{section.says}</p>
      <p>
        <strong>{section.paint}</strong> {line.name}, {section.name}: {verb(section.trust)}.
      </p>
      <SectionDrawn key={`${line.line}/${section.id}`} section={section} ink={line.ink} units={screen.units as Units} />
      {section.because.map((why) => (
        <p>{why}</p>
      ))}
      {section.next_step && <p>Next: {section.next_step}</p>}
      <Stands seen={seen} />
      <h2>Every number here</h2>
      <Numbers told={[...section.told, ...section.holes.map(({ told }) => told)]} />
      {next?.route && (
        <p>
          <a class="button" href={open}>
            Open {section.name}
          </a>
        </p>
      )}
      <p class="quiet">
        {section.sides} {screen.oval_meaning}
      </p>
      {screen.left_out && <p class="quiet">{screen.left_out}</p>}
      <p>{screen.caution}</p>
    </Page>
  );
}

const NOTHING = "There is nothing to show here yet.";

const verb = (trust: string) => (trust === "holds" ? "it holds" : `it is ${trust}`);
const short = (name: string) => name.charAt(0).toUpperCase() + name.slice(1);

/** The section asked for, else the one that the server opens at; null where it is not among those given. */
function placeIn(screen: SectionScreen, askedLine: string | undefined, askedPlace: string | undefined) {
  const line = screen.lines.find((each) => each.line === (askedLine ?? screen.line));
  const wanted = askedPlace ?? (line?.line === screen.line ? screen.station : line?.sections[0]?.id);
  const at = line?.sections.findIndex(({ id }) => id === wanted) ?? -1;
  const section = line?.sections[at];
  if (!line || !section) return null;
  const [before, after] = [line.sections[at - 1], line.sections[at + 1]];
  return { line, section, before, after, atEnd: !before || !after };
}
