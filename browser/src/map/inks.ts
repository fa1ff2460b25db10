/** The uniform colour code, as in src/plumbmark/data/colours.toml, with the letters of handover/screen_drawn.py. */
export interface Ink {
  readonly colour: string | null;
  readonly letter: string;
  readonly utility: string;
}

const CODE: Readonly<Record<string, readonly [string, string]>> = {
  electric: ["red", "E"],
  lighting: ["red", "L"],
  gas: ["yellow", "G"],
  petroleum: ["yellow", "P"],
  steam: ["yellow", "ST"],
  communications: ["orange", "C"],
  water: ["blue", "W"],
  fire: ["blue", "F"],
  irrigation: ["purple", "I"],
  reclaimed: ["purple", "R"],
  sewer: ["green", "S"],
  storm: ["green", "SD"],
};

export const NO_INK: Ink = { colour: null, letter: "?", utility: "utility unknown" };

export function inkOf(utility: unknown): Ink {
  const code = typeof utility === "string" && Object.hasOwn(CODE, utility) ? CODE[utility] : undefined;
  return code ? { colour: code[0], letter: code[1], utility: utility as string } : NO_INK;
}

/** What a colour of paint stands for, in words beside it. */
export const PAINT: readonly (readonly [string, string])[] = [
  ["red", "Red: electric, lighting"],
  ["yellow", "Yellow: gas, petroleum, steam"],
  ["orange", "Orange: communications"],
  ["blue", "Blue: water, fire"],
  ["green", "Green: sewer, storm"],
  ["purple", "Purple: reclaimed, irrigation"],
  ["pink", "Pink: survey, not known"],
  ["white", "White: where is to be dug"],
];
