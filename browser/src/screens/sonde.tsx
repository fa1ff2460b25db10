/** A reading over a sonde: depth shown, and the two nulls along the duct. `sonde/4` opens one that was saved. */
import { useState } from "preact/hooks";
import { isoLocal } from "../journal/fact";
import type { Draft } from "../journal";
import { lengthText, type Cells } from "../phone/cells";
import { go, to, type ScreenProps } from "../router";
import { Frame, Lengths, TakeBack } from "../sheets/Common";
import { entriesOf, lineDrafts, newKey, saveEntry, usualLine, useSheet, type Sheet } from "../sheets/job";
import { withLength } from "../sheets/reading";
import { useSaved } from "../sheets/useSaved";
import { useServed } from "../sheets/served";
import { depthFromNulls } from "../sheets/sonde";
import { howDeep } from "../phone/sentence";

export default function SondeScreen({ job, rest }: ScreenProps) {
  const sheet = useSheet(job);
  if (!sheet) return <p class="loading">…</p>;
  return <Sonde key={rest[0] ?? ""} job={job} sheet={sheet} asked={rest[0] ?? ""} />;
}

function Sonde({ job, sheet, asked }: { job: string; sheet: Sheet; asked: string }) {
  const old = sheet.folded.tables.readings?.get(asked);
  const [key] = useState(asked || newKey(sheet, "readings"));
  const [cells, setCells] = useState<Cells>(old?.rows[0] ?? {});
  const [before, setBefore] = useState<Draft[]>([]);
  const [open, setOpen] = useState("depth");
  const line = cells.line ?? usualLine(sheet, "readings", true);
  const served = useServed(job, "readings", old ? key : "");
  const saved = useSaved(sheet, "readings", key, () => (asked ? scrollTo(0, 0) : location.replace(to("job", job, "sonde", key))));
  const save = async () => {
    const row = { line, ...cells, depth_method: "sonde", taken_at: cells.taken_at || isoLocal(new Date()) };
    const fact = await saveEntry(sheet, "readings", key, [row], [...lineDrafts(sheet, line, true), ...before]);
    saved(fact);
  };
  const field = (name: string, words: string) => ({ name, words, text: lengthText(cells, name), onText: (text: string) => setCells((now) => withLength(now, name, text)) });
  const nulls = depthFromNulls(cells);
  return (
    <Frame
      job={job}
      sheet={sheet}
      title={`Sonde ${key}`}
      line={line}
      sonde
      cells={cells}
      own={`S${key}`}
      before={before}
      canSave={["depth", "null_ahead", "null_behind"].some((name) => lengthText(cells, name))}
      onLine={(next) => setCells({ ...cells, line: next })}
      onPlace={(next, drafts) => (setCells(next), setBefore(drafts))}
      onSave={save}
    >
      {served.place ? (
        <p class="answer">{served.place.sentence}</p>
      ) : (
        nulls && (
          <section aria-live="polite">
            <p class="answer">{howDeep(nulls, sheet.units)}</p>
            <p class="quiet">By its two nulls alone, worked out on this phone, were the duct level.</p>
          </section>
        )
      )}
      <h2 class="question">Over the peak of the sonde: what do you read?</h2>
      <Lengths units={sheet.units} open={open} onOpen={setOpen} fields={[field("depth", "Depth shown, in sonde mode"), field("null_ahead", "From your mark to the null ahead"), field("null_behind", "From your mark to the null behind")]} />
      <TakeBack job={job} entry={entriesOf(sheet, "readings").find((each) => each.key === key)} after={() => go("job", job)} />
    </Frame>
  );
}
