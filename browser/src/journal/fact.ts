/** What a fact is, as it travels. docs/journal.md tells the payload of each kind. */
import { factHash, FactError, type Json } from "./canonical";

export type FactKind =
  | "job" | "soil" | "ticket" | "item" | "entry" | "shape" | "file" | "remove"
  | "freeze" | "reopen" | "cannot" | "settled" | "tick" | "told";

export type Payload = { [key: string]: Json };

export interface Draft {
  job: string;
  kind: FactKind;
  payload: Payload;
  /** Id of the fact that this one takes the place of. */
  supersedes?: string | null;
}

export type Fact = {
  id: string;
  job: string;
  kind: FactKind;
  payload: Payload;
  at: string;
  by: string;
  device: string;
  seq: number;
  supersedes: string | null;
  prev: string;
  hash: string;
};

/** Where a device's chain ends. */
export interface Chain {
  device: string;
  seq: number;
  hash: string;
}

const JOB_ID = /^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$/;

/** Put a draft at the end of a chain. The server refuses what is refused here, so that no chain gets stuck there. */
export async function sealed(draft: Draft, chain: Chain, by: string, now: Date): Promise<Fact> {
  if (!JOB_ID.test(draft.job)) throw new FactError(`job "${draft.job}" is not an id (letters, digits, . _ -, at most 64)`);
  const fact = {
    id: crypto.randomUUID() as string,
    job: draft.job,
    kind: draft.kind,
    payload: draft.payload,
    at: isoLocal(now),
    by: by.slice(0, 200),
    device: chain.device,
    seq: chain.seq + 1,
    supersedes: draft.supersedes ?? null,
    prev: chain.hash,
  };
  return { ...fact, hash: await factHash(fact) };
}

/** ISO 8601 by this device's clock, with its offset: `2026-11-25T14:03:22+01:00`. */
export function isoLocal(now: Date): string {
  const offset = -now.getTimezoneOffset();
  const two = (n: number) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  const local = new Date(now.getTime() + offset * 60_000).toISOString().slice(0, 19);
  return `${local}${offset < 0 ? "-" : "+"}${two(offset / 60)}:${two(offset % 60)}`;
}
