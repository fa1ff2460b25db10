/** A screen's JSON from the server, kept on this device so that it can be shown with its time when the server is gone. */
import { useEffect, useState } from "preact/hooks";
import { database, onChange } from "../journal/db";
import { send } from "../journal/sync";
import { getJson, Gone, Refused } from "./client";

export interface Seen<T> {
  /** Null where it was never seen on this device. */
  screen: T | null;
  /** When the server gave it, by this device's clock. */
  at: string;
  /** Whether the server gave it just now. */
  fresh: boolean;
  /** What the server says is wrong, in its words. */
  wrong: string;
  /** Whether anything is known yet. */
  ready: boolean;
}

/**
 * The JSON at `path`: first as kept, then from the server, then again whenever the journal changes or the server
 * tells of a change of `job`. An empty path asks for nothing.
 */
export function useScreen<T>(path: string, job = ""): Seen<T> {
  const [seen, setSeen] = useState<Seen<T>>({ screen: null, at: "", fresh: false, wrong: "", ready: false });
  useEffect(() => {
    if (path === "") return;
    let wanted = true;
    let asking = false;
    let again = false;
    const enter = (part: Partial<Seen<T>>) => wanted && setSeen((before) => ({ ...before, ...part }));
    const ask = async (): Promise<void> => {
      if (asking) return void (again = true);
      asking = true;
      try {
        const screen = await getJson<T>(path);
        const at = new Date().toISOString();
        enter({ screen, at, fresh: true, wrong: "", ready: true });
        if (job) revived(job);
        if (unfinished(screen)) later();
        else await keep(path, at, screen);
      } catch (reason) {
        // A job that waits here is not known there yet.
        const quiet = reason instanceof Gone || (reason instanceof Refused && reason.status === 404);
        enter({ fresh: false, ready: true, wrong: quiet ? "" : (reason as Error).message });
      }
      asking = false;
      if (again && wanted) {
        again = false;
        await ask();
      }
    };
    let pause = FIRST_PAUSE_MS;
    let timer = 0;
    // What is worked out beside the answer is told by no event: it is asked for again, ever less often.
    const later = () => {
      clearTimeout(timer);
      if (wanted) timer = window.setTimeout(() => void ask(), pause);
      pause = Math.min(2 * pause, LAST_PAUSE_MS);
    };
    const begin = async () => {
      const kept = await (await database()).get("screens", path);
      if (kept) enter({ screen: kept.json as T, at: kept.at, ready: true });
      await ask();
    };
    void begin();
    const stops = [onChange(() => void ask()), ...(job ? [onLive(job, () => void ask())] : [])];
    return () => {
      wanted = false;
      clearTimeout(timer);
      stops.forEach((stop) => stop());
    };
  }, [path, job]);
  return seen;
}

const [FIRST_PAUSE_MS, LAST_PAUSE_MS] = [400, 3_000];
/** How often screens that are kept ahead are asked for, each time twice as long after the last. */
const TRIES = 7;

/** Whether part of a screen is still being worked out: it is shown, and takes the place of no whole one that was kept. */
const unfinished = (json: unknown): boolean => Boolean((json as { note?: string } | null)?.note);

async function keep(path: string, at: string, json: unknown): Promise<void> {
  await (await database()).put("screens", { path, at, json });
}

/** Keep screens that were not opened, one after the other, for when the server is gone. */
export async function keepScreens(paths: string[]): Promise<void> {
  let left = paths;
  for (let tries = 1; left.length > 0 && tries <= TRIES; tries += 1) {
    const again: string[] = [];
    for (const path of left)
      try {
        const json = await getJson<unknown>(path);
        if (unfinished(json)) again.push(path);
        else await keep(path, new Date().toISOString(), json);
      } catch (reason) {
        if (reason instanceof Gone) return; // else: this one has nothing to show yet
      }
    left = again;
    if (left.length > 0) await new Promise((resume) => setTimeout(resume, FIRST_PAUSE_MS * 2 ** tries));
  }
}

// --- one stream per job, shared by all that listen, while the page is looked at ---------------------------

interface Stream {
  source: EventSource | null;
  listeners: Set<() => void>;
}

const streams = new Map<string, Stream>();

// A browser opens six connections to one server: pages in the background would use them up.
document.addEventListener("visibilitychange", () => {
  for (const [job, stream] of streams) {
    stream.source?.close();
    stream.source = document.visibilityState === "visible" ? opened(job, stream.listeners) : null;
  }
});

function opened(job: string, listeners: Set<() => void>): EventSource {
  const source = new EventSource(`/api/jobs/${encodeURIComponent(job)}/live`);
  for (const event of ["state", "answer"]) source.addEventListener(event, () => listeners.forEach((each) => each()));
  source.addEventListener("state", send); // what another device wrote is fetched now, not at the next turn
  return source;
}

/** Open the stream of a job again where it ended for good: one that was asked for before the server knew the job. */
function revived(job: string): void {
  const stream = streams.get(job);
  if (stream?.source?.readyState === EventSource.CLOSED) stream.source = opened(job, stream.listeners);
}

function onLive(job: string, listen: () => void): () => void {
  let stream = streams.get(job);
  if (!stream) {
    const listeners = new Set<() => void>();
    stream = { source: opened(job, listeners), listeners };
    streams.set(job, stream);
  }
  const { listeners } = stream;
  listeners.add(listen);
  return () => {
    listeners.delete(listen);
    if (listeners.size > 0) return;
    streams.get(job)?.source?.close();
    streams.delete(job);
  };
}
