/** Which facts show: those that nobody took back or corrected, the later of two where devices disagree. The same as
 * `exchange/journal/shown.py`, which tells the rules; tests/browser/fold_vectors.json holds the two together. */
import type { Fact } from "../journal/fact";

/** One thing that was said: the fact that said it first, what shows in its place, and what also wants to. */
export interface Shown {
  root: Fact;
  fact: Fact;
  others: Fact[];
}

/** What counts: while a job is frozen facts wait, but for who was told of it; reopening takes them in. */
export function takenIn(facts: Fact[]): { counted: Fact[]; late: Fact[]; frozen: Fact | null } {
  const counted: Fact[] = [];
  let late: Fact[] = [];
  let frozen: Fact | null = null;
  for (const fact of facts)
    if (fact.kind === "reopen") {
      counted.push(...late, fact);
      late = [];
      frozen = null;
    } else if (frozen && fact.kind !== "told") late.push(fact);
    else {
      counted.push(fact);
      if (fact.kind === "freeze") frozen = fact;
    }
  return { counted, late, frozen };
}

export function shown(facts: Fact[]): Shown[] {
  const place = new Map(facts.map(({ id }, i) => [id, i]));
  const parent = facts.map((fact, i) => superseded(fact, i, facts, place));
  const corrections: number[][] = facts.map(() => []);
  const removes: number[][] = facts.map(() => []);
  for (const [i, at] of parent.entries()) if (at !== null) (facts[i]!.kind === "remove" ? removes : corrections)[at]!.push(i);
  const denied: boolean[] = facts.map(() => false);
  const leaves: number[][] = facts.map(() => []);
  for (let i = facts.length - 1; i >= 0; i -= 1) {
    denied[i] = removes[i]!.some((remove) => !denied[remove]); // what supersedes a fact comes after it
    if (facts[i]!.kind === "remove") continue;
    leaves[i] = corrections[i]!.flatMap((correction) => leaves[correction]!);
    if (leaves[i]!.length === 0 && !denied[i]) leaves[i] = [i];
  }
  const found: Shown[] = [];
  for (const [i, root] of facts.entries()) {
    const standing = [...leaves[i]!].sort((a, b) => a - b).map((at) => facts[at]!);
    const last = standing.pop();
    if (parent[i] === null && last) found.push({ root, fact: last, others: standing });
  }
  return found;
}

function superseded(fact: Fact, i: number, facts: Fact[], place: Map<string, number>): number | null {
  const at = fact.supersedes === null ? undefined : place.get(fact.supersedes);
  if (at === undefined || at >= i) return null;
  return fact.kind === "remove" || fact.kind === facts[at]!.kind ? at : null;
}
