/** What the site screen knows: the server's plan as last seen, this phone's facts, and whose they are. */
import { useMemo } from "preact/hooks";
import type { Shown } from "../api/screens";
import { useScreen, type Seen } from "../api/useScreen";
import type { Folded } from "../fold/fold";
import { deviceId, setting, useJob, useKept, type Fact } from "../journal";
import type { KeptFact } from "../journal/db";
import { factsOf } from "../journal/sync";
import type { Units } from "../words/lengths";
import { lastOwn } from "./facts";
import { itemsOf, type Item, type SiteScreen } from "./items";

export interface Site {
  readonly job: string;
  readonly folded: Folded;
  readonly units: Units;
  readonly items: readonly Item[];
  readonly screen: SiteScreen | null;
  /** Two digits of this phone for names, "" where nobody else writes in the job. */
  readonly mine: string;
  /** What the next "take back" takes back. */
  readonly last: readonly Fact[];
}

export function useSite(job: string): { site: Site | null; seen: Seen<Shown<SiteScreen>> } {
  const seen = useScreen<Shown<SiteScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/site`, job);
  const folded = useJob(job);
  const own = useKept(async () => ({ kept: await factsOf(job), device: await deviceId(), units: await setting<Units>("units", "ft-in") }), [job]);
  const site = useMemo(() => {
    if (!folded || !own) return null;
    const { kept, device } = own;
    const screen = seen.screen?.screen ?? null;
    const told = folded.keys.job.display_units;
    const units = told === "m" || told === "ft-in" ? told : own.units;
    const items = itemsOf(folded, screen, kept, isBehind(kept, seen.screen?.standing.order ?? 0), units);
    const others = kept.some(({ fact }) => fact.device !== device && fact.device !== "desk");
    return { job, folded, units, items, screen, mine: others ? device.slice(0, 2) : "", last: lastOwn(kept, device) };
  }, [folded, own, seen.screen]);
  return { site, seen };
}

const isBehind = (kept: readonly KeptFact[], order: number) => kept.some((each) => each.order === null || each.order > order);
