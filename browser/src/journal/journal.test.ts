import "fake-indexeddb/auto";
import { Blob as NodeBlob } from "node:buffer";
import { readFileSync } from "node:fs";
import { beforeEach, expect, test, vi } from "vitest";
import { canonicalJson, FactError, factHash, sha256, type Json } from "./canonical";

interface Vector {
  value: Json;
  text: string;
  sha256: string;
}

// One browser profile per test: the modules keep the opened database.
async function fresh() {
  vi.resetModules();
  const { IDBFactory } = await import("fake-indexeddb");
  globalThis.indexedDB = new IDBFactory();
  const locks = new Map<string, Promise<unknown>>();
  const request = async (name: string, options: unknown, work?: (lock: unknown) => Promise<unknown>) => {
    const run = (work ?? options) as (lock: unknown) => Promise<unknown>;
    const before = locks.get(name) ?? Promise.resolve();
    const mine = before.catch(() => null).then(() => run({}));
    locks.set(name, mine);
    return mine;
  };
  Object.defineProperty(navigator, "locks", { value: { request }, configurable: true });
  return import(".");
}

interface ServerState {
  facts: { fact: Record<string, Json> & { id: string; seq: number; device: string }; order: number; late: boolean }[];
  broken: boolean;
  loseAnswer: boolean;
  refuses: string;
  files: Set<string>;
  weak: boolean;
  refusesFile: string;
}

/** A server in a few lines that keeps the rules of the API: chains without gaps, once each. */
function server(): ServerState {
  const state: ServerState = { facts: [], broken: false, loseAnswer: false, refuses: "", files: new Set(), weak: false, refusesFile: "" };
  const lastSeq = (device: string) => Math.max(0, ...state.facts.filter(({ fact }) => fact.device === device).map(({ fact }) => fact.seq));
  vi.stubGlobal("fetch", async (path: string, init: RequestInit) => {
    if (state.broken) throw new TypeError("no network");
    if (init.method === "PUT") {
      if (state.weak) throw new TypeError("given up");
      const hash = path.split("/").at(-1)!;
      if (hash === state.refusesFile) return Response.json({ error: { what: "it is too large", findings: [] } }, { status: 413 });
      state.files.add(hash);
      return Response.json({});
    }
    if (init.method === "POST") {
      const body = JSON.parse(init.body as string) as { device: string; facts: ServerState["facts"][0]["fact"][] };
      const receipts = body.facts.map((fact) => {
        if (state.facts.some((held) => held.fact.id === fact.id)) return { id: fact.id, taken: "already there", why: "" };
        if (state.refuses) return { id: fact.id, taken: "refused", why: state.refuses };
        if (fact.seq !== lastSeq(body.device) + 1) return { id: fact.id, taken: "refused", why: "a gap in the chain" };
        state.facts.push({ fact, order: state.facts.length + 1, late: false });
        return { id: fact.id, taken: "stored", why: "" };
      });
      if (state.loseAnswer) throw new TypeError("answer lost");
      return Response.json({ receipts, expected_seq: lastSeq(body.device) + 1, clock_offset_s: 0 });
    }
    const after = Number(new URL(path, "http://localhost").searchParams.get("after"));
    const facts = state.facts.filter(({ order }) => order > after).slice(0, 500);
    return Response.json({ facts, last_order: facts.at(-1)?.order ?? after, more: false });
  });
  return state;
}

const reading = (key: string, depth: string) => ({
  job: "alder-17",
  kind: "entry" as const,
  payload: { table: "readings", key, rows: [{ line: "E1", depth }] },
});

beforeEach(() => void vi.unstubAllGlobals());

test("the server writes the same bytes and hashes", async () => {
  const vectors = JSON.parse(readFileSync("../tests/exchange/canonical_vectors.json", "utf8")) as Vector[];
  expect(vectors.length).toBeGreaterThan(5);
  for (const { value, text, sha256: expected } of vectors) {
    expect(canonicalJson(value)).toBe(text);
    expect(await sha256(new TextEncoder().encode(text))).toBe(expected);
  }
});

test("what two programs might write differently is refused", () => {
  for (const bad of [0.5, NaN, Infinity, 2 ** 53 + 2, "\ud800", { ü: 1 }, undefined as unknown as Json])
    expect(() => canonicalJson(bad)).toThrow(FactError);
  expect(canonicalJson({ b: [1, null, -0], a: "\u001f\u007f\u2028ü😀\"\\" })).toBe('{"a":"\\u001f\u007f\u2028ü😀\\"\\\\","b":[1,null,0]}');
});

test("facts made at the same moment form one chain, and each one's hash is of its content", async () => {
  const { record, waiting } = await fresh();
  server().broken = true;
  await Promise.all(Array.from({ length: 20 }, (_, i) => record(reading(String(i), "3 ft"))));
  const chain = await waiting();
  expect(chain.map(({ seq }) => seq)).toEqual(Array.from({ length: 20 }, (_, i) => i + 1));
  for (const [i, fact] of chain.entries()) {
    expect(fact.prev).toBe(i ? chain[i - 1]!.hash : "");
    expect(fact.hash).toBe(await factHash(fact as never));
  }
});

test("what waits is sent once each when the server is back, in order", async () => {
  const { record, sync, syncState, waiting } = await fresh();
  const state = server();
  state.broken = true;
  for (let i = 0; i < 250; i += 1) await record(reading(String(i), "3 ft"));
  await sync();
  expect([syncState().reached, (await waiting()).length, state.facts.length]).toEqual([false, 250, 0]);
  state.broken = false;
  await sync();
  expect([syncState().reached, (await waiting()).length, state.facts.length]).toEqual([true, 0, 250]);
  await sync();
  expect(state.facts.length).toBe(250);
});

test("an answer lost on the way doubles nothing", async () => {
  const { record, sync, waiting } = await fresh();
  const state = server();
  await record(reading("1", "3 ft"));
  state.loseAnswer = true;
  await sync();
  expect([state.facts.length, (await waiting()).length]).toEqual([1, 1]);
  state.loseAnswer = false;
  await sync();
  expect([state.facts.length, (await waiting()).length]).toEqual([1, 0]);
});

test("a server put back from an older copy is given again what it lost", async () => {
  const { record, sync, jobNow } = await fresh();
  const state = server();
  for (let i = 0; i < 5; i += 1) await record(reading(String(i), "3 ft"));
  await sync();
  state.facts.splice(2);
  await record(reading("5", "4 ft"));
  await sync();
  expect(state.facts.map(({ fact }) => fact.seq)).toEqual([1, 2, 3, 4, 5, 6]);
  expect((await jobNow("alder-17")).tables.readings!.size).toBe(6);
});

test("what is refused stays here and is told in the server's words", async () => {
  const { record, sync, syncState, waiting } = await fresh();
  const state = server();
  await record(reading("1", "3 ft"));
  state.refuses = "this job is another's";
  await sync();
  expect([syncState().wrong, (await waiting()).length]).toEqual(["this job is another's", 1]);
  state.refuses = "";
  await sync();
  expect([syncState().wrong, (await waiting()).length]).toEqual(["", 0]);
});

const photo = (bytes: string) => new NodeBlob([bytes], { type: "image/jpeg" }) as unknown as Blob;

test("a photograph that weak signal does not let through keeps no entry back", async () => {
  const { keepFile, record, sync, syncState, waiting } = await fresh();
  const state = server();
  state.weak = true;
  const kept = await keepFile(photo("meter"));
  await record(reading("1", "3 ft"));
  await sync();
  expect([state.facts.length, (await waiting()).length, state.files.size]).toEqual([1, 0, 0]);
  expect(syncState()).toMatchObject({ reached: true, files: 1, wrong: "" });
  state.weak = false;
  await sync();
  expect([...state.files]).toEqual([kept.sha256]);
  expect(syncState().files).toBe(0);
});

test("a file that is refused is told and keeps no other back", async () => {
  const { keepFile, record, sync, syncState } = await fresh();
  const state = server();
  const [one, other] = [await keepFile(photo("one")), await keepFile(photo("other"))];
  state.refusesFile = one.sha256;
  await record(reading("1", "3 ft"));
  await sync();
  expect([state.facts.length, [...state.files]]).toEqual([1, [other.sha256]]);
  expect(syncState().wrong).toContain("it is too large");
});

test("a server put back from an older copy is given the files again too", async () => {
  const { keepFile, record, sync } = await fresh();
  const state = server();
  const { sha256 } = await keepFile(photo("meter"));
  await record(reading("1", "3 ft"));
  await sync();
  state.facts.length = 0;
  state.files.clear();
  await record(reading("2", "3 ft"));
  await sync();
  expect([...state.files]).toEqual([sha256]);
});
