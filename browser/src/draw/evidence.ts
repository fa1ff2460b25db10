/** What ties a signal to its line, as facts: the key `identity` of the line, a list. */
import type { Folded } from "../fold/fold";
import type { Draft } from "../journal";
import type { IdentityCheck, WhichLine } from "./types";

/** The words of `inference/identity.py`, which tests/browser/test_section.py holds against these. */
export const EVIDENCE: Record<string, string> = {
  connected: "The transmitter was connected to it.",
  "followed-to-fitting": "The signal was followed to a fitting that was seen.",
  "second-setup-agrees": "A second hook-up gave the same line.",
  exposed: "It was exposed and seen.",
};

/** What is written down for a line by what this device knows; by the server's words where it does not know the line. */
export function evidenceOf(folded: Folded, { line, evidence }: WhichLine): string[] {
  const item = folded.items.lines?.get(line);
  const list = item ? item.keys.identity : Object.keys(EVIDENCE).filter((each) => evidence.includes(EVIDENCE[each]!));
  return Array.isArray(list) ? list.filter((each): each is string => typeof each === "string") : [];
}

export function withEvidence(folded: Folded, line: WhichLine, evidence: string): Draft {
  return said(folded, line, [...evidenceOf(folded, line).filter((each) => each !== evidence), evidence]);
}

export function withoutEvidence(folded: Folded, line: WhichLine, evidence: string): Draft {
  return said(folded, line, evidenceOf(folded, line).filter((each) => each !== evidence));
}

function said({ job }: Folded, { line }: WhichLine, identity: string[]): Draft {
  const keys = { identity: identity.length > 0 ? identity : null };
  return { job, kind: "item", payload: { table: "lines", key: line, keys } };
}

/** Checks that were neither ticked nor became evidence on this device, also before the server knows. */
export function openChecks(folded: Folded, line: WhichLine, checks: readonly IdentityCheck[]): IdentityCheck[] {
  const known = evidenceOf(folded, line);
  return checks.filter(({ id, evidence }) => folded.ticks.get(id) !== true && !(evidence && known.includes(evidence)));
}

/** About how long a check takes. */
export function timeWords(seconds: number): string {
  if (seconds < 60) return `About ${seconds} s.`;
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? `About ${minutes} min.` : `About ${Math.round(minutes / 60)} h.`;
}
