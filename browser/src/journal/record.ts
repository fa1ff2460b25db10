/** Making facts: sealed into this device's chain and kept here before anything else is done with them. */
import { sha256 } from "./canonical";
import { alone, database, setSetting, setting, told } from "./db";
import { sealed, type Chain, type Draft, type Fact } from "./fact";

/** Keep a fact. Resolves once it is stored on this device; sending it is nobody's wait. */
export async function record(draft: Draft): Promise<Fact> {
  return (await recordAll([draft]))[0]!;
}

/** Keep several facts of which either all or none are stored. */
export async function recordAll(drafts: Draft[]): Promise<Fact[]> {
  const facts = await alone("chain", async () => {
    const db = await database();
    let chain = ((await db.get("settings", "chain")) as Chain | undefined) ?? newChain();
    const by = await setting("name", "");
    const made: Fact[] = [];
    for (const draft of drafts) {
      const fact = await sealed(draft, chain, by, new Date());
      made.push(fact);
      chain = { device: fact.device, seq: fact.seq, hash: fact.hash };
    }
    const writing = db.transaction(["facts", "settings"], "readwrite", { durability: "strict" });
    await Promise.all([
      ...made.map((fact) => writing.objectStore("facts").add({ fact, order: null, late: false })),
      writing.objectStore("settings").put(chain, "chain"),
      writing.done,
    ]);
    return made;
  });
  told();
  recorded?.();
  return facts;
}

let recorded: (() => void) | undefined;

/** What is to happen after each new fact (the sending of it). */
export function afterRecord(work: () => void): void {
  recorded = work;
}

/** Keep a file's bytes, to be sent when there is signal enough for them: its hash, size and kind for that fact. */
export async function keepFile(data: Blob): Promise<{ sha256: string; size: number; media: string }> {
  const hash = await sha256(await data.arrayBuffer());
  const db = await database();
  if (!(await db.get("blobs", hash))) await db.put("blobs", { sha256: hash, data, sent: false });
  return { sha256: hash, size: data.size, media: data.type || "application/octet-stream" };
}

/** This device's name in its facts, made at the first fact. */
export async function deviceId(): Promise<string> {
  return (await setting<Chain | null>("chain", null))?.device ?? "";
}

/** The same, made now where there is none: a phone is paired under the name its facts will have. */
export async function ownDevice(): Promise<string> {
  return alone("chain", async () => {
    const kept = await setting<Chain | null>("chain", null);
    const chain = kept ?? newChain();
    if (!kept) await setSetting("chain", chain);
    return chain.device;
  });
}

function newChain(): Chain {
  void navigator.storage?.persist?.(); // else a full phone may throw the entries away
  return { device: crypto.randomUUID(), seq: 0, hash: "" };
}
