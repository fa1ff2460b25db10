/** The answer of one place, largest, then the band, then what it rests on. */
import { CAUTION, type Said } from "../phone/sentence";
import type { Units } from "../words/lengths";
import { Band } from "./Band";

interface SentenceProps {
  said: Said;
  units: Units;
  /** Where the answer comes from: "this reading alone", or the route's, with its time. */
  from: string;
}

export function Sentence({ said, units, from }: SentenceProps) {
  return (
    <section class="sentence" aria-live="polite">
      <p class="answer">{said.answer}</p>
      {said.deep && <p class="answer">{said.deep}</p>}
      <p class="quiet">{from}</p>
      {said.estimate && <Band shift={said.estimate.shift} depth={said.estimate.depth} units={units} />}
      {said.next.words && <p>{said.next.words}</p>}
      {said.because.map((why) => (
        <p>{why}</p>
      ))}
      <p class="quiet">{CAUTION}</p>
    </section>
  );
}
