/** Does it make sense end to end? */
import { useState } from "preact/hooks";
import type { Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { AlongDrawn } from "../draw/AlongDrawn";
import { notesOf, type HookupOf } from "../draw/along";
import { Lines } from "../draw/Lines";
import { Stands } from "../draw/Stands";
import type { AlongLine, AlongPlace, AlongScreen } from "../draw/types";
import type { Folded } from "../fold/fold";
import { useJob } from "../journal";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import { band, length, type Units } from "../words/lengths";

const SHEET: Record<string, string> = { reading: "read", profile: "walk", side_reading: "side" };
const TABLE: Record<string, string> = { reading: "readings", profile: "profiles", side_reading: "side_readings" };
const NAME: Record<string, string> = { reading: "Reading", profile: "Walk across", side_reading: "Reading from the side" };
const named = ({ source, id }: AlongPlace) => `${NAME[source] ?? source} ${id}`;

export default function Along({ job, rest }: ScreenProps) {
  const seen = useScreen<Shown<AlongScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/along`, job);
  const folded = useJob(job);
  const screen = seen.screen?.screen ?? null;
  const chosen = screen?.lines.some(({ line }) => line === rest[0]) ? rest[0]! : (swapped(screen) ?? screen?.lines[0])?.line;
  const shown = screen?.lines.filter(({ line }) => line === chosen) ?? [];
  if (!screen || !chosen)
    return (
      <Page title="Along the line" back={to("job", job)}>
        {seen.ready && <p class="answer">{screen?.empty || "There is nothing to show here yet."}</p>}
        <Apart screen={screen} job={job} />
        <Stands seen={seen} />
      </Page>
    );
  return (
    <Page title="Along the line" back={to("job", job)} foot={<Next job={job} lines={shown} />}>
      <Lines lines={screen.lines} chosen={chosen} address={(line) => to("job", job, "along", line)} />
      {shown.map((line) => (
        <OneLine key={`${line.line}/${line.from_m}`} job={job} line={line} units={screen.units as Units} hookupOf={hookupsOf(folded)} />
      ))}
      <Stands seen={seen} />
      <Apart screen={screen} job={job} />
      {screen.left_out && <p class="quiet">{screen.left_out}</p>}
      <p>{screen.caution}</p>
    </Page>
  );
}

const swapped = (screen: AlongScreen | null): AlongLine | undefined => screen?.lines.find(({ swaps }) => swaps.length > 0);

/** A swap is settled first; else the place that can be leaned on least is opened, else a further reading. */
function Next({ job, lines }: { job: string; lines: readonly AlongLine[] }) {
  const swap = lines.flatMap(({ swaps }) => swaps)[0];
  if (swap)
    return (
      <a class="button main wide" href={to("job", job, "which", lines[0]!.line)}>
        Which line is it at readings {swap.before} and {swap.after}?
      </a>
    );
  return (
    <a class="button main wide" href={to("job", job, "section", lines[0]!.line)}>
      Look at the place that can be leaned on least
    </a>
  );
}

function OneLine({ job, line, units, hookupOf }: { job: string; line: AlongLine; units: Units; hookupOf: HookupOf }) {
  const [says = "", ...others] = line.says;
  const [first, after] = firstSentence(says);
  const links = ({ source, id }: AlongPlace) => (
    <span class="choices">
      <a class="button" href={to("job", job, "section", line.line, id)}>
        Section
      </a>
      <a class="button" href={to("job", job, SHEET[source] ?? "read", id)}>
        Open
      </a>
    </span>
  );
  const notes = notesOf(line);
  return (
    <section>
      <p class="answer">{first}</p>
      {[after, ...others].filter(Boolean).map((words) => (
        <p>{words}</p>
      ))}
      <AlongDrawn line={line} units={units} hookupOf={hookupOf} name={named} links={links} />
      {notes.length > 0 && (
        <ol>
          {notes.map(({ words, cause }) => (
            <li>
              {words} {cause}
            </li>
          ))}
        </ol>
      )}
      {line.slopes.map(({ words }) => (
        <p>{words}</p>
      ))}
      {line.slope && <p>{line.slope}</p>}
      {line.seconds.map(({ words }) => (
        <p>{words}</p>
      ))}
      {line.holes.map(({ told }) => (
        <p>
          {sentence(told.words)} <span class="quiet">{told.source}</span>
        </p>
      ))}
      <Table line={line} units={units} />
      <p class="quiet">{line.direction}</p>
    </section>
  );
}

/** The hook-up of a row, as it was written down; "" where none is named. */
function hookupsOf(folded: Folded | null): HookupOf {
  return ({ source, id }) => folded?.tables[TABLE[source] ?? ""]?.get(id)?.rows[0]?.setup ?? "";
}

/** The first sentence is read in two seconds; what follows it stands below. */
function firstSentence(words: string): [string, string] {
  const end = words.indexOf(". ");
  return end < 0 ? [words, ""] : [words.slice(0, end + 1), words.slice(end + 2)];
}

const sentence = (words: string) => words.charAt(0).toUpperCase() + words.slice(1) + (words.endsWith(".") ? "" : ".");

/** The drawing once more for those who do not see it; shown to all at a tap and in print. */
function Table({ line, units }: { line: AlongLine; units: Units }) {
  const [open, setOpen] = useState(false);
  return (
    <>
      <p>
        <button type="button" class="no-print" aria-expanded={open} onClick={() => setOpen(!open)}>
          {open ? "Hide the table" : `All ${line.places.length} places in a table`}
        </button>
      </p>
      <div class={open ? "" : "twin"}>
        <table class="table-twin">
          <caption class="hidden">{line.name}, place by place</caption>
          <thead>
            <tr>
              <th scope="col">Place</th>
              <th scope="col">Along</th>
              <th scope="col">Depth to the middle</th>
              <th scope="col">Current</th>
            </tr>
          </thead>
          <tbody>
            {line.places.map((place) => (
              <tr>
                <th scope="row">{named(place)}</th>
                <td>{length(place.chainage_m, units)}</td>
                <td>
                  {length(place.depth_m.value, units, place.depth_m.high - place.depth_m.low)} ({band(place.depth_m, units)}), {place.trust}
                </td>
                <td>{place.told.find(({ name }) => name === "current")?.words ?? "not known"}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </>
  );
}

/** Places known by words that are measured from no other: how far along they are nobody knows. */
function Apart({ screen, job }: { screen: AlongScreen | null; job: string }) {
  if (!screen?.apart?.length) return null;
  return (
    <section aria-labelledby="apart">
      <h2 id="apart">Not drawn: how far along is not known</h2>
      <ul class="plain rows">
        {screen.apart.map(({ table, id, place, words }) => (
          <li>
            <a class="row-link" href={to("job", job, OPENS[table] ?? "read", id)}>
              <strong>{place || id}</strong>: {words}
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

const OPENS: Record<string, string> = { readings: "read", profiles: "walk", side_readings: "side", test_holes: "hole" };
