/** The guide's steps as this device knows them: ticked here, and in words before the server was ever reached. */
import type { GuideScreen, GuideStep } from "../api/screens";
import words from "./steps.json";

/** The guide of a job of which nothing is known, word for word as `handover/screen_guide.py` has it. */
export const kept = words as GuideScreen;

/** Steps with the ticks of this device, which the server may not have seen yet; where the data say, no tick counts. */
export function ticked(steps: readonly GuideStep[], ticks: ReadonlyMap<string, boolean>): GuideStep[] {
  return steps.map((step) => {
    const tick = ticks.get(step.id);
    if (step.state === "done" || !step.may_tick || tick === undefined) return step;
    return { ...step, state: tick ? "ticked by hand" : "open" };
  });
}
