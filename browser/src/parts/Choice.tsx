/** Answers of which one is tapped: large, in words, no hue. */

export interface Answer<T> {
  readonly value: T;
  readonly words: string;
  readonly quiet?: string;
}

interface ChoiceProps<T> {
  answers: readonly Answer<T>[];
  /** The answer given before, when a question is opened again. */
  chosen?: T | undefined;
  onChoose: (value: T) => void;
  label: string;
}

export function Choice<T>({ answers, chosen, onChoose, label }: ChoiceProps<T>) {
  return (
    <div class="choice-list" role="group" aria-label={label}>
      {answers.map((answer) => (
        <button type="button" aria-pressed={chosen === answer.value} onClick={() => onChoose(answer.value)}>
          <span>{answer.words}</span>
          {answer.quiet && <span class="choice-quiet">{answer.quiet}</span>}
        </button>
      ))}
    </div>
  );
}
