/** The route's answer for one place, once the server has it; types as in src/plumbmark/model/screen_answer.py. */
import { useScreen } from "../api/useScreen";
import { useWaiting } from "../journal";
import type { Said, Trust } from "../phone/sentence";
import type { Interval } from "../words/lengths";

interface Band {
  readonly value_m: number;
  readonly low_m: number;
  readonly high_m: number;
}

export interface PlaceAnswer {
  readonly table: string;
  readonly key: string;
  readonly sentence: string;
  readonly trust: Trust;
  readonly depth: Band;
  readonly beside: Band;
  readonly chance: string;
  readonly because: readonly string[];
  readonly next_step: { readonly words: string; readonly route: string } | null;
  readonly next_words: string;
}

export interface Question {
  readonly id: string;
  readonly words: string;
  readonly table: string;
  readonly key: string;
  readonly choices: readonly { readonly answer: string; readonly words: string; readonly route: string }[];
}

export interface AnswerScreen {
  readonly state: string;
  readonly state_words: string;
  readonly expiry: string;
  readonly lines: readonly { readonly places: readonly PlaceAnswer[] }[];
  readonly questions: readonly Question[];
}

export interface Served {
  /** Null until the server has answered with all that was saved here, and where it is gone. */
  readonly place: PlaceAnswer | null;
  readonly questions: readonly Question[];
  /** What the server is at, in its words; "" where it is gone. */
  readonly state: string;
  readonly expiry: string;
}

/** The server's answer at one entry; nothing of it while anything of the job waits on this phone. */
export function useServed(job: string, table: string, key: string): Served {
  const seen = useScreen<AnswerScreen>(key ? `/api/jobs/${encodeURIComponent(job)}/answer` : "", job);
  const waits = useWaiting().some((fact) => fact.job === job);
  return servedOf(seen.fresh && !waits ? seen.screen : null, table, key);
}

export function servedOf(screen: AnswerScreen | null, table: string, key: string): Served {
  if (!screen) return { place: null, questions: [], state: "", expiry: "" };
  const places = screen.lines.flatMap((line) => line.places);
  const upToDate = screen.state === "answered";
  return {
    place: (upToDate && places.find((each) => each.table === table && each.key === key)) || null,
    questions: screen.questions.filter((each) => each.table === table && each.key === key),
    state: screen.state_words,
    expiry: screen.expiry,
  };
}

const interval = (band: Band): Interval => ({ value: band.value_m, low: band.low_m, high: band.high_m });

/** The server's answer in the form of the phone's, to be shown the same. */
export function saidOf(place: PlaceAnswer): Said {
  return {
    estimate: { shift: interval(place.beside), depth: interval(place.depth), single: NaN, within: NaN, trust: place.trust },
    unlikely: false,
    answer: place.sentence,
    deep: "",
    because: [place.chance, ...place.because].filter(Boolean),
    next: { action: "none", words: place.next_words },
  };
}
