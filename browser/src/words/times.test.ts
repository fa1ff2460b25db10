import { expect, test } from "vitest";
import { asWritten, clockWords, fieldOf, spoken, waitingWords } from "./times";

test("days near by are named by their distance", () => {
  const now = new Date(2026, 10, 25, 23, 50);
  expect(spoken(new Date(2026, 10, 25, 7, 0), now)).toBe("07:00");
  expect(spoken(new Date(2026, 10, 26, 7, 0), now)).toBe("tomorrow 07:00");
  expect(spoken(new Date(2026, 10, 24, 7, 0), now)).toBe("yesterday 07:00");
  expect(spoken(new Date(2026, 10, 27, 7, 0), now)).toBe("Friday 27 November 07:00");
  expect(spoken(new Date(2024, 4, 7, 17, 0), now)).toBe("Tuesday 7 May 2024 17:00");
});

test("a time is told by the clock it was written by", () => {
  const now = new Date(2026, 10, 25, 12, 0);
  expect(asWritten("2026-11-26T07:00:00-09:30", now)).toBe("tomorrow 07:00");
  expect(asWritten("2026-11-26T07:00:00Z", now)).toBe("tomorrow 07:00");
  expect(asWritten("soon", now)).toBe("soon");
});

test("counts and clocks in words", () => {
  expect([waitingWords(1), waitingWords(3)]).toEqual(["1 entry waits on this phone", "3 entries wait on this phone"]);
  expect(clockWords(720)).toBe("This phone’s clock is 12 minutes behind the server’s.");
  expect(clockWords(-7200)).toBe("This phone’s clock is 2 hours ahead of the server’s.");
});

test("a time goes into its field and an unreadable one does not", () => {
  expect(fieldOf(new Date(2026, 10, 25, 7, 5).toISOString())).toBe("2026-11-25T07:05");
  expect(fieldOf("soon")).toBe("");
});
