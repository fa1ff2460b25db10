/** Where to connect, by three questions: one at a time, none of which needs to be known. */
import "../sheets/sheets.css";
import type { PlanChoice, PlanQuestions } from "./types";
import { Choice } from "../parts/Choice";

export interface Given {
  made_of: string;
  reached: readonly string[];
  bonded: readonly string[];
}

export const NOTHING_GIVEN: Given = { made_of: "", reached: [], bonded: [] };
/** Answers that go with no other one. */
const ALONE = ["nowhere", "nothing", "unknown"];
/** No signal follows it, so it is not asked where to connect. */
export const NO_METAL = "plastic";

export type Step = "made_of" | "reached" | "bonded";
const STEPS: readonly Step[] = ["made_of", "reached", "bonded"];
export const after = (step: Step): Step | undefined => STEPS[STEPS.indexOf(step) + 1];

/** An answer put to the others or taken away. */
export function toggled(answers: readonly string[], answer: string): string[] {
  if (answers.includes(answer)) return answers.filter((each) => each !== answer);
  if (ALONE.includes(answer)) return [answer];
  return [...answers.filter((each) => !ALONE.includes(each)), answer];
}

interface AskingProps {
  questions: PlanQuestions;
  step: Step;
  given: Given;
  onGiven: (given: Given, done: boolean) => void;
}

export function Asking({ questions, step, given, onGiven }: AskingProps) {
  const number = STEPS.indexOf(step) + 1;
  return (
    <div class="sheet">
      <p class="quiet">Question {number} of 3</p>
      <h2 class="question" tabIndex={-1}>
        {questions[`${step}_words`]}
      </h2>
      {step === "made_of" ? (
        <Choice label={questions.made_of_words} answers={questions.made_of.map(({ answer, words }) => ({ value: answer, words }))} chosen={given.made_of} onChoose={(made_of) => onGiven({ ...given, made_of }, true)} />
      ) : (
        <>
          <p>All that are so. {step === "reached" ? "None tapped counts as an end of it." : "None tapped counts as not known."}</p>
          <Several label={questions[`${step}_words`]} answers={questions[step]} given={given[step]} onTap={(answer) => onGiven({ ...given, [step]: toggled(given[step], answer) }, false)} />
        </>
      )}
    </div>
  );
}

function Several({ label, answers, given, onTap }: { label: string; answers: readonly PlanChoice[]; given: readonly string[]; onTap: (answer: string) => void }) {
  return (
    <div class="choice-list several" role="group" aria-label={label}>
      {answers.map(({ answer, words }) => (
        <button type="button" aria-pressed={given.includes(answer)} onClick={() => onTap(answer)}>
          <span class="box" aria-hidden="true">
            {given.includes(answer) && "✓"}
          </span>
          {words}
        </button>
      ))}
    </div>
  );
}
