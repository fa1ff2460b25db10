/** What screens use of the journal. */
import { useEffect, useState } from "preact/hooks";
import { folded, type Folded } from "../fold/fold";
import { onChange, setSetting, setting } from "./db";
import type { Fact } from "./fact";
import { factsOf, fileText, jobsHere, syncState, waiting, type SyncState } from "./sync";

/** The value that `load` gives, again after each change of the journal; null until there is one. */
export function useKept<T>(load: () => Promise<T>, depends: unknown[]): T | null {
  const [value, setValue] = useState<T | null>(null);
  useEffect(() => {
    let wanted = true;
    let turn = 0;
    const read = () => {
      const mine = (turn += 1);
      void load().then((read) => wanted && mine === turn && setValue(() => read));
    };
    read();
    const stop = onChange(read);
    return () => {
      wanted = false;
      stop();
    };
  }, depends);
  return value;
}

/** What the job holds now, as far as this device knows; null while it is being read. */
export function useJob(job: string): Folded | null {
  return useKept(() => jobNow(job), [job]);
}

export async function jobNow(job: string): Promise<Folded> {
  const kept = await factsOf(job);
  const texts = new Map<string, string>();
  for (const { fact } of kept) {
    const text = await fileText(fact).catch(() => null);
    if (text !== null) texts.set(fact.id, text);
  }
  return folded(job, kept, texts);
}

export function useJobs(): Folded[] | null {
  return useKept(async () => Promise.all((await jobsHere()).map(jobNow)), []);
}

export function useWaiting(): Fact[] {
  return useKept(waiting, []) ?? [];
}

export function useSync(): SyncState {
  return useKept(async () => syncState(), []) ?? syncState();
}

/** A setting of this device and how to change it. `null` while it is being read. */
export function useSetting<T>(name: string, otherwise: T): [T | null, (value: T) => void] {
  const kept = useKept(() => setting(name, otherwise), [name]);
  const [given, setGiven] = useState<T | null>(null); // at once, so that quick typing loses no letter
  const change = (next: T) => {
    setGiven(() => next);
    void setSetting(name, next);
  };
  return [given ?? kept, change];
}
