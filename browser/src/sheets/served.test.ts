import { expect, it } from "vitest";
import type { AnswerScreen, PlaceAnswer, Shown } from "../api/screens";
import { saidOf, servedOf } from "./served";

const band = { value_m: 0.9, low_m: 0.8, high_m: 1.1, words: "", low_words: "", high_words: "" };
const place = {
  table: "readings",
  key: "7",
  sentence: "Paint 4 in left of your mark. 2 ft 11 in to the middle of it, could be 2 ft 7 in to 3 ft 8 in.",
  trust: "loose",
  depth: band,
  beside: { ...band, value_m: -0.1 },
  chance: "about 9 in 10",
  because: ["What was taken here fits one line alone."],
  next_step: null,
  next_words: "Enough here, go on.",
} as unknown as PlaceAnswer;
const shown = (state: string, answered: number): Shown<AnswerScreen> =>
  ({
    standing: { state, words: "Answered 14:03.", order: 9, answered_order: answered },
    screen: { lines: [{ places: [place] }], questions: [{ id: "slip:7:depth", table: "readings", key: "7" }], expiry: "Today." },
  }) as unknown as Shown<AnswerScreen>;

it("the route's answer takes the phone's place only once it knows all that was sent", () => {
  expect(servedOf(shown("answered", 9), "readings", "7").place).toBe(place);
  expect(servedOf(shown("solving", 8), "readings", "7").place).toBeNull();
  expect(servedOf(shown("findings", 8), "readings", "7").place).toBeNull();
  expect(servedOf(shown("solving", 9), "readings", "7")).toMatchObject({ place, expiry: "Answered 14:03." });
  expect(servedOf(shown("answered", 9), "readings", "7").expiry).toBe("Today.");
  expect(servedOf(shown("answered", 9), "profiles", "7").place).toBeNull();
  expect(servedOf(shown("answered", 9), "readings", "7").questions).toHaveLength(1);
  expect(servedOf({ ...shown("solving", 0), screen: null }, "readings", "7")).toMatchObject({ place: null, state: "Answered 14:03." });
});

it("is shown in the form of the phone's own", () => {
  const said = saidOf(place);
  expect([said.answer, said.deep]).toEqual(["Paint 4 in left of your mark.", "2 ft 11 in to the middle of it, could be 2 ft 7 in to 3 ft 8 in."]);
  expect(said.estimate!.shift).toEqual({ value: -0.1, low: 0.8, high: 1.1 });
  expect(said.because[0]).toBe("Loose: mark within 4 in (10 cm) and depth within a tenth about 9 in 10.");
});
