/** Drawing by taps: what, then the points, then how wide and how deep, in words. */
import "../sheets/sheets.css";
import { useState } from "preact/hooks";
import { UTILITIES } from "../parts/Owners";
import { LengthKeys } from "../parts/Keypad";
import { length } from "../words/lengths";
import { DRAWN, SURE, type Answers, type Asked, type What } from "./drawn";
import { pathLength, type Path } from "./plane";
import type { Site } from "./useSite";

interface ChooseProps {
  what: What | null;
  onWhat: (what: What) => void;
}

export function DrawChoice({ what, onWhat }: ChooseProps) {
  return (
    <div class="kinds" role="group" aria-label="What is drawn?">
      {(Object.keys(DRAWN) as What[]).map((each) => (
        <button type="button" aria-pressed={what === each} onClick={() => onWhat(each)}>
          {DRAWN[each].words}
        </button>
      ))}
    </div>
  );
}

export function drawnSoFar(what: What, points: Path, site: Site): string {
  const { least, how } = DRAWN[what];
  if (points.length === 0) return how;
  const far = points.length > 1 ? ` ${length(pathLength(points), site.units)} so far.` : "";
  const more = Math.max(0, least - points.length);
  return `${points.length} ${points.length === 1 ? "point" : "points"}.${far}${more ? ` ${more} more at least.` : " Tap on, or “Done”."}`;
}

const QUESTION: Readonly<Record<Asked, string>> = {
  width: "How wide will it be?",
  diameter: "How wide is the hole of the bore?",
  depth: "How deep?",
  utility: "What does it carry?",
  source: "Where is it from?",
  sure: "How well does the record know its place?",
};

interface FormProps {
  site: Site;
  what: What;
  answers: Answers;
  onAnswers: (answers: Answers) => void;
}

/** What is asked after the points; everything may be left out: not known stays not known. */
export function DrawQuestions({ site, what, answers, onAnswers }: FormProps) {
  const { asks } = DRAWN[what];
  const [at, setAt] = useState<Asked>(asks[0] ?? "depth");
  const set = (name: Asked, text: string) => onAnswers({ ...answers, [name]: text });
  const next = () => setAt(asks[asks.indexOf(at) + 1] ?? at);
  const depth = what === "record" ? "How deep does it say, to the middle?" : what === "bore" ? "How deep, to the middle of the bore?" : QUESTION.depth;
  return (
    <>
      <div class="choices" role="group" aria-label="Questions">
        {asks.map((name) => (
          <button type="button" aria-pressed={name === at} onClick={() => setAt(name)}>
            {name === "sure" ? "how sure" : name}
            {answers[name] ? `: ${name === "sure" ? SURE.find(([, sigma]) => sigma === answers.sure)?.[0] : answers[name]}` : ""}
          </button>
        ))}
      </div>
      <h2 class="question">{at === "depth" ? depth : QUESTION[at]}</h2>
      {at === "utility" ? (
        <div class="kinds">
          {UTILITIES.map((utility) => (
            <button type="button" aria-pressed={answers.utility === utility} onClick={() => (set("utility", utility), next())}>
              {utility}
            </button>
          ))}
        </div>
      ) : at === "source" ? (
        <label class="field">
          <span>Whose drawing, which sheet, of when</span>
          <input type="text" value={answers.source ?? ""} autocomplete="off" onInput={(e) => set("source", e.currentTarget.value)} />
        </label>
      ) : at === "sure" ? (
        <div class="kinds">
          {SURE.map(([words, sigma]) => (
            <button type="button" aria-pressed={answers.sure === sigma} onClick={() => set("sure", sigma)}>
              {words}
            </button>
          ))}
        </div>
      ) : (
        <LengthKeys key={at} units={site.units} text={answers[at] ?? ""} label={QUESTION[at]} onText={(text, done) => (set(at, text), done && next())} />
      )}
    </>
  );
}
