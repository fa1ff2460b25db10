/** Addresses are what stands behind the `#`, so that every screen opens with no server. */
import type { ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";

/** What every screen is given. `job` is empty on screens of no job; `rest` is what stands behind the screen's name. */
export interface ScreenProps {
  job: string;
  rest: string[];
}

export interface Place extends ScreenProps {
  screen: string;
}

/** The name of the screen's file in `screens/`, by the first word of the address. */
const OWN: Record<string, string> = { "": "today", new: "new", bring: "bring", set: "set", paper: "paper" };

/** The same for `#/job/ID/WORD`. */
const OF_JOB: Record<string, string> = {
  "": "home",
  read: "read",
  walk: "walk",
  side: "side",
  hole: "hole",
  sonde: "sonde",
  site: "site",
  section: "section",
  along: "along",
  which: "which",
  plan: "plan",
  sweep: "sweep",
  clearance: "clearance",
  guide: "guide",
  handover: "handover",
  ticket: "ticket",
};

/** `#/job/alder-17/read/7` → screen `read`, job `alder-17`, rest `["7"]`. An address that leads nowhere: `lost`. */
export function placeOf(hash: string): Place {
  const words = hash.replace(/^#?\/*/, "").split("?")[0]!.split("/").filter(Boolean).map(decoded);
  const [first = "", second = "", third = "", ...rest] = words;
  if (first === "job" && second) {
    const screen = Object.hasOwn(OF_JOB, third) ? OF_JOB[third] : undefined;
    return { screen: screen ?? "lost", job: second, rest };
  }
  const screen = Object.hasOwn(OWN, first) ? OWN[first] : undefined;
  return { screen: screen ?? "lost", job: "", rest: words.slice(1) };
}

/** The address of a screen: `to("job", "alder-17", "read")` → `#/job/alder-17/read`. */
export function to(...words: (string | number)[]): string {
  return "#/" + words.map((word) => encodeURIComponent(String(word))).join("/");
}

export function go(...words: (string | number)[]): void {
  location.hash = to(...words);
}

export function usePlace(): Place {
  const [place, setPlace] = useState(() => placeOf(location.hash));
  useEffect(() => {
    const moved = () => setPlace(placeOf(location.hash));
    addEventListener("hashchange", moved);
    return () => removeEventListener("hashchange", moved);
  }, []);
  return place;
}

type Screen = ComponentType<ScreenProps>;
const files = import.meta.glob<{ default: Screen }>("./screens/*.tsx");

/** The screen's component, loaded when first asked for. */
export async function loaded(screen: string): Promise<Screen> {
  const load = files[`./screens/${screen}.tsx`] ?? files["./screens/lost.tsx"];
  return (await load!()).default;
}

function decoded(word: string): string {
  try {
    return decodeURIComponent(word);
  } catch {
    return word;
  }
}
