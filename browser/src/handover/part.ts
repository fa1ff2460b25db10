/** What every part of the handover is given, and small words they share. */
import type { HandoverScreen, Shown } from "../api/screens";
import type { Seen } from "../api/useScreen";
import type { Folded } from "../fold/fold";
import { spoken } from "../words/times";

export interface PartProps {
  folded: Folded;
  seen: Seen<Shown<HandoverScreen>>;
  /** What the server told, newest or kept; null where it never did. */
  screen: HandoverScreen | null;
}

export const when = (iso: string): string => (Number.isNaN(Date.parse(iso)) ? iso : spoken(new Date(iso), new Date()));

/** "1 mark", "3 marks". */
export const counted = (count: number, noun: string): string => `${count} ${noun}${count === 1 ? "" : "s"}`;
