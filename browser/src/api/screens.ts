/** What the screens of this folder use of the server's JSON (`src/plumbmark/model/screen_*.py`). */

/** Every screen of a job comes with how the answer behind it stands. */
export interface Shown<T> {
  standing: {
    state: "solving" | "answered" | "nothing to solve yet" | "findings" | "failed";
    words: string;
    answered_at: string | null;
    findings: { where: string; what: string }[];
  };
  screen: T | null;
}

export interface Go {
  words: string;
  route: string;
}

export interface Question {
  id: string;
  words: string;
  table: string;
  key: string;
  choices: { answer: string; words: string; route: string; take_back: string[] }[];
}

export interface PlaceAnswer {
  line: string;
  table: string;
  key: string;
  name: string;
  sentence: string;
  short: string;
  trust: string;
}

export interface AnswerScreen {
  expired: boolean;
  expiry: string;
  lines: { line: string; name: string; headline: string; places: PlaceAnswer[] }[];
  questions: Question[];
  next_step: Go;
  next_gain: string;
  findings: { where: string; what: string }[];
  warnings: { where: string; what: string }[];
  caution: string;
}

export interface TodayScreen {
  headline: string;
  jobs: { job: string; sentence: string }[];
  teaches: string[];
  danger: string;
}
