import { expect, test } from "vitest";
import { kept, ticked } from "./steps";

const [gear, , , connect] = kept.steps as [(typeof kept.steps)[number], never, never, (typeof kept.steps)[number]];

test("a tick of this device counts at once, and back", () => {
  expect(ticked([gear], new Map([["gear", true]]))[0]!.state).toBe("ticked by hand");
  expect(ticked([{ ...gear, state: "ticked by hand" }], new Map([["gear", false]]))[0]!.state).toBe("open");
});

test("what the data tick, no hand unticks; where the data say no, no tick counts", () => {
  expect(ticked([{ ...gear, state: "done" }], new Map([["gear", false]]))[0]!.state).toBe("done");
  expect(ticked([{ ...connect, may_tick: false }], new Map([["connect", true]]))[0]!.state).toBe("open");
});
