/** Sending what waits here, in order and once each, and fetching what others wrote. */
import type { FactsOut, FactsTaken } from "../api/screens";
import { asked, getJson, Gone, postJson, Refused } from "../api/client";
import { alone, database, setSetting, setting, told, type KeptFact } from "./db";
import type { Chain, Fact } from "./fact";
import { afterRecord } from "./record";

/** How sending stands, for people. `files` is how many photographs and plans wait here; `wrong` what the server
 * refused, in its own words; `behindS` how far this device's clock is behind the server's. */
export interface SyncState {
  reached: boolean | null;
  files: number;
  wrong: string;
  behindS: number;
}

let state: SyncState = { reached: null, files: 0, wrong: "", behindS: 0 };
export const syncState = (): SyncState => state;

const BATCH = 100;
const PAGE = 500;
const MOST_TEXT = 2 ** 22; // of a file of rows that is read here; the server takes as much in one request
const [FILE_MS, WEAK_BYTES_PER_MS] = [20_000, 20]; // a file is given up where less than 20 kB/s get through
const WAITS_MS = [2_000, 5_000, 15_000, 60_000];

const wrong = { entries: "", files: "" };
let queued: Promise<void> | null = null;
let filing: Promise<void> | null = null;

/** Send and fetch now, one tab at a time. Never throws: what could not be done is in `syncState`. */
export async function sync(): Promise<void> {
  queued ??= alone("sync", async () => {
    queued = null; // what is written down from here on needs another turn
    enter({ files: (await unsent()).length });
    try {
      wrong.entries = await sent();
      await fetched();
      enter({ reached: true });
    } catch (reason) {
      if (reason instanceof Gone) enter({ reached: false });
      else wrong.entries = said(reason);
      if (reason instanceof Refused) enter({ reached: true });
    }
    enter({ wrong: wrong.entries || wrong.files });
  });
  await queued;
  if (!state.reached) return;
  // Beside the entries: a photograph may take minutes where signal is weak, and what is written meanwhile overtakes it.
  filing ??= alone("files", async () => {
    wrong.files = await sendFiles().catch(said);
    filing = null;
    enter({ wrong: wrong.entries || wrong.files });
  });
  await filing;
}

const said = (reason: unknown): string => (reason instanceof Refused ? reason.message : String(reason));

/** The facts of this device that the server does not hold yet, in their order. */
export async function waiting(): Promise<Fact[]> {
  const chain = await setting<Chain | null>("chain", null);
  if (!chain) return [];
  const from = await setting("sent-to", 1);
  return (await own(chain.device, from, Number.MAX_SAFE_INTEGER)).map(({ fact }) => fact);
}

/** Every fact of this device from one number to another. */
async function own(device: string, from: number, to: number): Promise<KeptFact[]> {
  const range = IDBKeyRange.bound([device, from], [device, to]);
  return (await database()).getAllFromIndex("facts", "chain", range);
}

async function sent(): Promise<string> {
  const chain = await setting<Chain | null>("chain", null);
  if (!chain) return "";
  for (;;) {
    const from = await setting("sent-to", 1);
    const batch = bounded((await own(chain.device, from, from + BATCH - 1)).map(({ fact }) => fact));
    if (batch.length === 0) return "";
    const body = { device: chain.device, now: new Date().toISOString(), facts: batch };
    const taken = await postJson<FactsTaken>("/api/facts", body);
    await setSetting("sent-to", taken.expected_seq);
    enter({ behindS: Math.round((taken.clock_offset_s ?? 0) / 60) * 60 });
    // A server that was put back from an older copy asks for earlier facts again, and its order is another.
    if (taken.expected_seq < from) {
      await setSetting("fetched-to", 0);
      await filesAnew();
    } else if (taken.expected_seq < from + batch.length) {
      const refused = taken.receipts.find((receipt) => receipt.taken === "refused");
      return refused?.why || "The server did not take an entry and did not say why.";
    }
  }
}

/** As many facts as fit into one request, one at least. */
function bounded(facts: Fact[]): Fact[] {
  let size = 0;
  return facts.filter((fact, i) => (size += JSON.stringify(fact).length) < MOST_TEXT / 4 || i === 0);
}

/** Send the files that wait here; one that is refused keeps no other back. Gives what there is to say. */
async function sendFiles(): Promise<string> {
  const db = await database();
  let wrong = "";
  for (const key of await unsent()) {
    const file = (await db.get("blobs", key))!;
    try {
      await asked(`/api/blobs/${key}`, { method: "PUT", body: file.data }, FILE_MS + Math.ceil(file.data.size / WEAK_BYTES_PER_MS));
      await db.put("blobs", { ...file, sent: true });
      enter({ files: (await unsent()).length });
    } catch (reason) {
      if (reason instanceof Gone) return wrong; // too weak a signal: it waits
      wrong ||= `a photograph or plan was not taken (${said(reason)})`;
    }
  }
  return wrong;
}

/** Hashes of the files that the server does not hold yet. */
async function unsent(): Promise<string[]> {
  const keys: string[] = [];
  let cursor = await (await database()).transaction("blobs").store.openCursor();
  for (; cursor; cursor = await cursor.continue()) if (!cursor.value.sent) keys.push(cursor.value.sha256);
  return keys;
}

/** Have every file sent again: the server may have lost it. One that it has costs it nothing. */
async function filesAnew(): Promise<void> {
  const db = await database();
  for (const key of await db.getAllKeys("blobs")) {
    const file = await db.get("blobs", key);
    if (file) await db.put("blobs", { ...file, sent: false });
  }
}

async function fetched(): Promise<void> {
  for (let more = true; more; ) {
    const after = await setting("fetched-to", 0);
    const page = await getJson<FactsOut>(`/api/facts?after=${after}&limit=${PAGE}`);
    more = page.more;
    if (page.facts.length === 0) return;
    const writing = (await database()).transaction("facts", "readwrite");
    const facts = page.facts.map(({ fact, order, late }) => ({ fact: fact as Fact, order, late }));
    const kept = facts.map((each) => writing.store.put(each));
    await Promise.all([...kept, writing.done]);
    await setSetting("fetched-to", page.last_order);
    for (const { fact } of facts) await fileText(fact).catch(() => null); // fetched when it is asked for, else
  }
}

/** The text of a file of rows that a job was brought in with; null where the fact names no such file or it is not here. */
export async function fileText(fact: Fact): Promise<string | null> {
  const { name, sha256, size } = fact.payload;
  if (fact.kind !== "file" || typeof name !== "string" || typeof sha256 !== "string") return null;
  if (!/^[^/]+\.(csv|toml)$/.test(name) || Number(size) > MOST_TEXT) return null;
  const db = await database();
  const here = await db.get("blobs", sha256);
  if (here) return here.data.text();
  const data = await (await asked(`/api/blobs/${sha256}`, {})).blob();
  await db.put("blobs", { sha256, data, sent: true });
  return data.text();
}

function enter(part: Partial<SyncState>): void {
  const next = { ...state, ...part };
  const changed = JSON.stringify(next) !== JSON.stringify(state);
  state = next;
  if (changed) told();
}

/** Keep sending: after each entry, on signal, when the page is looked at, and with growing waits while it fails. */
export function keepSending(): void {
  let failures = 0;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const again = async () => {
    await sync();
    clearTimeout(timer);
    failures = state.reached ? 0 : failures + 1;
    const wait = state.reached ? 30_000 : WAITS_MS[Math.min(failures, WAITS_MS.length) - 1]!;
    timer = setTimeout(() => void again(), wait * (1 + Math.random() / 4));
  };
  const now = () => void again();
  addEventListener("online", now);
  addEventListener("focus", now);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && now());
  afterRecord(now);
  sendNow = now;
  now();
}

let sendNow: () => void = () => undefined;
export const send = (): void => sendNow();

/** Every fact of a job that this device knows: the server's in its order, then those that wait here. */
export async function factsOf(job: string): Promise<KeptFact[]> {
  const kept = await (await database()).getAllFromIndex("facts", "job", job);
  return kept.sort((a, b) => (a.order ?? Infinity) - (b.order ?? Infinity) || a.fact.seq - b.fact.seq);
}

export async function jobsHere(): Promise<string[]> {
  const jobs = new Set<string>();
  const db = await database();
  let cursor = await db.transaction("facts").store.index("job").openKeyCursor(null, "nextunique");
  while (cursor) {
    jobs.add(cursor.key as string);
    cursor = await cursor.continue();
  }
  return [...jobs];
}
