/** Readings that name nobody: a record has to say who took them. */
import type { Entry } from "../fold/fold";
import { recordAll, useSetting, type Draft } from "../journal";
import { Field } from "../parts/Field";
import { Page } from "../parts/Page";
import { to } from "../router";
import { counted, type PartProps } from "./part";

export function Readings({ folded }: PartProps) {
  const { job, tables } = folded;
  const [name, setName] = useSetting("name", "");
  const all = [...(tables.readings?.values() ?? [])];
  const nameless = all.filter(({ rows }) => rows.some(({ by }) => !by));
  const timeless = all.filter(({ rows }) => rows.some(({ taken_at }) => !taken_at));
  const signed = ({ key, rows, fact }: Entry): Draft => ({
    job,
    kind: "entry",
    payload: { table: "readings", key, rows: rows.map((row) => ({ ...row, by: row.by || name!.trim() })) },
    supersedes: fact?.id ?? null,
  });
  if (name === null) return null;
  return (
    <Page
      title="Who took the readings"
      back={to("job", job, "handover")}
      foot={
        nameless.length > 0 && (
          <button type="button" class="main wide" disabled={!name.trim()} onClick={() => void recordAll(nameless.map(signed))}>
            {name.trim() ? `${name.trim()} took them` : "First say your name"}
          </button>
        )
      }
    >
      <p class="answer">{nameless.length === 0 ? "Every reading says who took it." : `${counted(nameless.length, "reading")} named nobody.`}</p>
      {nameless.length > 0 && <p>Readings {nameless.map(({ key }) => key).join(", ")}.</p>}
      <Field label="Your name, as it stands beside what you write down" value={name} change={setName} />
      {timeless.length > 0 && (
        <p>
          When it was taken is not written down of {counted(timeless.length, "reading")} ({timeless.map(({ key }) => key).join(", ")}). Nobody
          can know it afterwards but whoever wrote it elsewhere.
        </p>
      )}
    </Page>
  );
}
