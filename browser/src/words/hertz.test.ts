import { expect, test } from "vitest";
import { hertzOf, hertzWords } from "./hertz";

test("frequencies are said in kHz from 1000 Hz on", () => {
  expect(["500", "1000", "32768", "odd", ""].map(hertzWords)).toEqual(["500 Hz", "1 kHz", "32.768 kHz", "odd", ""]);
});

test("a frequency needs its unit and keeps its digits", () => {
  expect(["8 kHz", "32.768kHz", "640 hz", "8,5 kHz", "8", "kHz", "0.5 kHz"].map(hertzOf)).toEqual([
    "8000", "32768", "640", "8500", "", "", "500",
  ]);
});
