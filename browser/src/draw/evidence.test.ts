import { describe, expect, it } from "vitest";
import { folded as foldedOf } from "../fold/fold";
import { evidenceOf, openChecks, timeWords, withEvidence, withoutEvidence } from "./evidence";
import type { IdentityCheck, WhichLine } from "./types";

const line: WhichLine = {
  line: "E1",
  name: "E1",
  identity: "likely",
  headline: "",
  evidence: ["The transmitter was connected to it."],
  against: [],
  checks: [],
  longer: [],
};
const check = (id: string, evidence: IdentityCheck["evidence"]): IdentityCheck => ({ id, evidence, words: "", proves: "", not_proves: "", seconds: 30, go: null });

function job(identity: string[] | null, ticked: string[] = []) {
  const folded = foldedOf("a", []);
  if (identity) folded.items.lines = new Map([["E1", { key: "E1", keys: { identity }, fact: null }]]);
  for (const step of ticked) folded.ticks.set(step, true);
  return folded;
}

describe("evidence", () => {
  it("is added to what is known and taken out again, once each", () => {
    const known = job(["connected"]);
    const keys = (draft: { payload: Record<string, unknown> }) => draft.payload.keys;
    expect(keys(withEvidence(known, line, "exposed"))).toEqual({ identity: ["connected", "exposed"] });
    expect(keys(withEvidence(known, line, "connected"))).toEqual({ identity: ["connected"] });
    expect(keys(withoutEvidence(known, line, "connected"))).toEqual({ identity: null });
  });

  it("that the server tells of is not lost by a device that does not know the line yet", () => {
    expect(evidenceOf(job(null), line)).toEqual(["connected"]);
    expect(withEvidence(job(null), line, "exposed").payload).toMatchObject({ key: "E1", keys: { identity: ["connected", "exposed"] } });
    expect(evidenceOf(job([]), line)).toEqual([]);
  });

  it("and ticks close their checks before the server knows", () => {
    const checks = [check("which:E1:off", null), check("which:E1:followed", "followed-to-fitting"), check("which:E1:sign", null)];
    const open = openChecks(job(["followed-to-fitting"], ["which:E1:off"]), line, checks);
    expect(open.map(({ id }) => id)).toEqual(["which:E1:sign"]);
  });

  it("takes a time that is told in round words", () => {
    expect([20, 240, 3600].map(timeWords)).toEqual(["About 20 s.", "About 4 min.", "About 1 h."]);
  });
});
