/** The route's answer for one place, once the server has it with all that was saved here. */
import type { AnswerScreen, PlaceAnswer, Question, Shown } from "../api/screens";
import { useScreen } from "../api/useScreen";
import { useWaiting } from "../journal";
import type { Said } from "../phone/sentence";
import type { Interval } from "../words/lengths";

export interface Served {
  /** Null until the server has answered with all that was saved here, and where it is gone. */
  readonly place: PlaceAnswer | null;
  readonly questions: readonly Question[];
  /** What the server is at, in its words; "" where it is gone. */
  readonly state: string;
  /** What the answer stands on and what ends it, in words. */
  readonly expiry: string;
}

const NOTHING: Served = { place: null, questions: [], state: "", expiry: "" };

/** The server's answer at one entry; nothing of it while anything of the job waits on this phone. */
export function useServed(job: string, table: string, key: string): Served {
  const seen = useScreen<Shown<AnswerScreen>>(key ? `/api/jobs/${encodeURIComponent(job)}/answer` : "", job);
  const waits = useWaiting().some((fact) => fact.job === job);
  return seen.fresh && !waits && seen.screen ? servedOf(seen.screen, table, key) : NOTHING;
}

export function servedOf({ standing, screen }: Shown<AnswerScreen>, table: string, key: string): Served {
  if (!screen) return { ...NOTHING, state: standing.words };
  // a first answer knows the newest facts while the whole of the route is still being solved
  const whole = standing.state === "answered" || standing.answered_order === standing.order;
  const places = screen.lines.flatMap((line) => line.places);
  return {
    place: (whole && places.find((each) => each.table === table && each.key === key)) || null,
    questions: screen.questions.filter((each) => each.table === table && each.key === key),
    state: standing.words,
    expiry: standing.state === "answered" ? screen.expiry : standing.words,
  };
}

const interval = (band: PlaceAnswer["depth"]): Interval => ({ value: band.value_m, low: band.low_m, high: band.high_m });

/** The server's answer in the form of the phone's, to be shown the same. */
export function saidOf(place: PlaceAnswer): Said {
  const [answer = "", ...rest] = place.sentence.split(/(?<=\.) /);
  const deep = rest.filter((words) => words.includes(" to the middle of it"));
  const name = place.trust[0]!.toUpperCase() + place.trust.slice(1);
  return {
    estimate: { shift: interval(place.beside), depth: interval(place.depth), single: NaN, within: NaN, trust: place.trust },
    unlikely: false,
    answer,
    deep: deep.join(" "),
    because: [...rest.filter((words) => !deep.includes(words)), `${name}: mark within 4 in (10 cm) and depth within a tenth ${place.chance}.`, ...place.because],
    next: { action: "none", words: place.next_words },
  };
}
