/** What this device keeps: facts (its own and those pulled), files, the screens as last seen, and its settings. */
import { openDB, type DBSchema, type IDBPDatabase } from "idb";
import type { Fact } from "./fact";

/** A fact on this device. `order` is the server's number of it, null while it waits here. */
export interface KeptFact {
  fact: Fact;
  order: number | null;
  late: boolean;
}

export interface KeptScreen {
  path: string;
  at: string;
  json: unknown;
}

interface Schema extends DBSchema {
  facts: { key: string; value: KeptFact; indexes: { job: string; chain: [string, number] } };
  blobs: { key: string; value: { sha256: string; data: Blob; sent: boolean } };
  screens: { key: string; value: KeptScreen };
  settings: { key: string; value: unknown };
}

export type Database = IDBPDatabase<Schema>;

let opened: Promise<Database> | undefined;

export function database(): Promise<Database> {
  opened ??= openDB<Schema>("plumbmark", 1, {
    upgrade(db) {
      const facts = db.createObjectStore("facts", { keyPath: "fact.id" });
      facts.createIndex("job", "fact.job");
      facts.createIndex("chain", ["fact.device", "fact.seq"], { unique: true });
      db.createObjectStore("blobs", { keyPath: "sha256" });
      db.createObjectStore("screens", { keyPath: "path" });
      db.createObjectStore("settings");
    },
    blocking: (_current, _blocked, event) => (event.target as IDBDatabase).close(), // a newer page wants to open it
  });
  return opened;
}

/** Run `work` alone among all tabs of this device. */
export async function alone<T>(name: string, work: () => Promise<T>): Promise<T> {
  return navigator.locks.request(`plumbmark-${name}`, work) as Promise<T>;
}

export async function setting<T>(name: string, otherwise: T): Promise<T> {
  const held = await (await database()).get("settings", name);
  return held === undefined ? otherwise : (held as T);
}

export async function setSetting(name: string, value: unknown): Promise<void> {
  await (await database()).put("settings", value, name);
  told();
}

// --- telling screens and other tabs that something changed -----------------------------------------------

const listeners = new Set<() => void>();
const channel = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("plumbmark");
if (channel) channel.onmessage = () => listeners.forEach((listen) => listen());

export function told(): void {
  listeners.forEach((listen) => listen());
  channel?.postMessage("");
}

/** Calls `listen` after every change, in whichever tab it happened; gives back how to stop. */
export function onChange(listen: () => void): () => void {
  listeners.add(listen);
  return () => void listeners.delete(listen);
}
