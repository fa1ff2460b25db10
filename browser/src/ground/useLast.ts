/** A screen that is made anew after every entry: until it is, the one before stands there and is told to be older. */
import { useRef } from "preact/hooks";
import type { Seen } from "../api/useScreen";
import type { Shown } from "../api/screens";

export function useLast<T>(seen: Seen<Shown<T>>): { screen: T | null; older: boolean } {
  const last = useRef<T | null>(null);
  const now = seen.screen?.screen ?? null;
  if (now !== null) last.current = now;
  const older = now === null && last.current !== null && Boolean(seen.screen?.note);
  return { screen: older ? last.current : now, older };
}

export const OLDER = "What is shown is from before the newest entries.";
