import { expect, test } from "vitest";
import { isJob } from "./dropped";

test("a zip alone and whatever holds a job.toml is a job", () => {
  expect([["alder.zip"], ["alder/job.toml", "alder/readings.csv"], ["job.toml"]].map(isJob)).toEqual([true, true, true]);
});

test("anything else is logs, also a folder of photographs and a file that only ends like one", () => {
  expect([["log.csv"], ["a.jpg", "b.zip"], ["myjob.toml"], []].map(isJob)).toEqual([false, false, false, false]);
});
