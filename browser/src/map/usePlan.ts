/** What the screen knows, handed to the map whenever it changes. */
import { useEffect, useMemo } from "preact/hooks";
import type { Picture, Plan } from "./plan";
import { boxOf } from "./said";
import type { Site } from "./useSite";
import type { Tools } from "./useTools";
import type { Under } from "./useUnder";

/** Gives back how to look at everything. `fresh`: the server's plan is as it is now. */
export function usePlan(plan: Plan | null, site: Site, tools: Tools, under: Under, preview: Picture | null, fresh: boolean): () => void {
  const { items, screen } = site;
  const { tool, points, cross, what, picked, used } = tools;
  const box = useMemo(() => boxOf(items, screen?.extent ?? null), [items, screen]);
  useEffect(() => {
    if (!plan || used.current) return;
    used.current = screen !== null && fresh; // until then what comes in is looked at anew
    plan.fit(box);
    tools.setCross(plan.middle());
  }, [plan, box, fresh]);
  useEffect(() => plan?.setItems(items), [plan, items]);
  useEffect(() => {
    const notes = (screen?.notes ?? []).flatMap(({ number, place }) => (place ? [{ number, place: [place[0]!, place[1]!] as const }] : []));
    plan?.setNotes(tool === "look" ? notes : []);
  }, [plan, screen, tool]);
  useEffect(() => plan?.setPictures(preview ? [...under.pictures, preview] : under.pictures), [plan, under, preview]);
  useEffect(() => plan?.setUnder(under.paths), [plan, under]);
  useEffect(() => plan?.setDraft(points, cross, tool === "draw" && what === "area", tool !== "under"), [plan, points, cross, tool, what]);
  useEffect(() => plan?.pick(picked), [plan, picked]);
  return () => plan?.fit(box);
}
