/** A log of somebody else's making: what its columns are taken for, confirmed once, then taken in. */
import { useEffect, useState } from "preact/hooks";
import { Gone, Refused } from "../api/client";
import type { LogLook, LogMapping, LogTaken } from "../api/screens";
import { send, useSetting } from "../journal";
import { Field } from "../parts/Field";
import { Page } from "../parts/Page";
import { to } from "../router";
import { Columns } from "./Columns";
import { capital, Findings, type Finding } from "./Findings";
import { cellWords, look, take, withAnswer } from "./logs";

export interface Confirmed {
  columns: string;
  mapping: LogMapping;
}

interface LogProps {
  file: File;
  job: string;
  /** "2 of 5", where several logs were brought. */
  count: string;
  /** How the log before it was taken, for one with the same columns. */
  before: Confirmed | null;
  onTaken: (how: Confirmed) => void;
  /** What follows: the next log, or null where this is the last. */
  onNext: (() => void) | null;
}

type Said = { what: string; findings: readonly Finding[] };

export function Log({ file, job, count, before, onTaken, onNext }: LogProps) {
  const [name] = useSetting("name", "");
  const [seen, setSeen] = useState<LogLook | null>(null);
  const [taken, setTaken] = useState<LogTaken | null>(null);
  const [busy, setBusy] = useState(true);
  const [said, setSaid] = useState<Said | null>(null);
  const doing = async (work: () => Promise<void>) => {
    setBusy(true);
    setSaid(null);
    try {
      await work();
    } catch (reason) {
      const what = reason instanceof Gone ? "The server is not reached; bring the log in when it is." : (reason as Error).message;
      setSaid({ what, findings: reason instanceof Refused ? reason.findings : [] });
    }
    setBusy(false);
  };
  const ask = (mapping: LogMapping | null) => doing(async () => setSeen(await look(file, job, mapping)));
  useEffect(() => {
    void doing(async () => {
      const first = await look(file, job, null);
      setSeen(before?.columns === columnsOf(first) ? await look(file, job, before.mapping) : first);
    });
  }, []);
  const open = seen?.questions.filter(({ answer }) => !answer) ?? [];
  const keep = () =>
    doing(async () => {
      setTaken(await take(file, job, seen!.mapping, name ?? ""));
      onTaken({ columns: columnsOf(seen!), mapping: seen!.mapping });
      send();
    });
  if (taken)
    return (
      <Page
        title={file.name}
        back="#/bring"
        foot={
          onNext ? (
            <button type="button" class="main wide" onClick={onNext}>
              Next log
            </button>
          ) : (
            <a class="button main wide" href={to("job", taken.job)}>
              To the job
            </a>
          )
        }
      >
        <p class="answer">{taken.words}</p>
        <Findings what="" findings={taken.findings} />
      </Page>
    );
  return (
    <Page
      title={`${file.name}${count && `, ${count}`}`}
      back="#/bring"
      foot={
        seen && (
          <button type="button" class="main wide" disabled={busy || open.length > 0} onClick={() => void keep()}>
            {busy ? "Reading it …" : open.length > 0 ? `Still to answer: ${open.length}` : `This is right: take ${seen.rows} in`}
          </button>
        )
      }
    >
      <p class="answer">{seen ? `${capital(seen.kind)}.` : busy ? "Reading the log …" : "Not read."}</p>
      {said && <Findings {...said} alarm />}
      {seen && (
        <>
          {seen.remembered && <p>A log with these columns was confirmed before; the same is taken again.</p>}
          <Questions seen={seen} ask={(mapping) => void ask(mapping)} />
          <Columns seen={seen} ask={(mapping) => void ask(mapping)} />
          <Preview seen={seen} />
          <Findings what="" findings={seen.findings} />
        </>
      )}
    </Page>
  );
}

const columnsOf = ({ columns }: LogLook) => columns.map(({ name }) => name).join("\n");

interface AskProps {
  seen: LogLook;
  ask: (mapping: LogMapping) => void;
}

function Questions({ seen, ask }: AskProps) {
  const { mapping } = seen;
  return (
    <>
      {seen.parts.length > 1 && (
        <Asked words="Which part of it?" chosen={mapping.part || seen.parts[0]!} answers={seen.parts.map((part) => [part, part])} pick={(part) => ask({ ...mapping, part, columns: [] })} />
      )}
      {seen.uses.length > 1 && (
        <Asked words="What are its rows?" chosen={mapping.use} answers={seen.uses.map(({ value, words }) => [value, words])} pick={(use) => ask({ ...mapping, use, columns: [] })} />
      )}
      {seen.questions.map(({ id, words, choices, answer, example }) => (
        <Asked
          key={id}
          words={words}
          chosen={answer}
          answers={[...(id === "zone" ? ownClock() : []), ...choices.map((choice): [string, string] => [choice.value, choice.words])]}
          example={example}
          pick={(given) => ask(withAnswer(mapping, id, given))}
        />
      ))}
    </>
  );
}

/** The zone of this device by its name, which knows summer time. */
function ownClock(): [string, string][] {
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  return zone && zone !== "UTC" ? [[zone, `this device's, ${zone}`]] : [];
}

interface AskedProps {
  words: string;
  chosen: string;
  answers: [string, string][];
  example?: string;
  pick: (answer: string) => void;
}

/** A question about the log; one that is open stands in a frame. */
function Asked({ words, chosen, answers, example = "", pick }: AskedProps) {
  const listed = answers.some(([value]) => value === chosen);
  const [typed, setTyped] = useState(listed ? "" : chosen);
  return (
    <div class={chosen ? "" : "notice"} role="group" aria-label={words}>
      <p>
        <strong>{words}</strong>
      </p>
      <div class="choices">
        {answers.map(([value, said]) => (
          <button type="button" aria-pressed={value === chosen} onClick={() => pick(value)}>
            {capital(said)}
          </button>
        ))}
      </div>
      {example && <Field label={answers.length > 0 ? "Or" : "In your words"} value={typed} change={setTyped} hint={`For example ${example}`} />}
      {example && typed.trim() && typed.trim() !== chosen && (
        <button type="button" onClick={() => pick(typed.trim())}>
          It is {typed.trim()}
        </button>
      )}
    </div>
  );
}

function Preview({ seen }: { seen: LogLook }) {
  if (seen.preview.length === 0) return null;
  return (
    <section aria-labelledby="preview">
      <h2 id="preview">As it would be written down</h2>
      <ul class="plain rows">
        {seen.preview.map((row) => (
          <li>
            {Object.entries(row)
              .filter(([, cell]) => cell !== "")
              .map(([column, cell]) => cellWords(column, cell))
              .join(", ")}
          </li>
        ))}
      </ul>
    </section>
  );
}
