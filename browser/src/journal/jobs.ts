/** Making a job on this device: no account, no map, no ids asked. */
import { recordAll } from "./record";
import { setting } from "./db";
import { isoLocal, type Draft, type Payload } from "./fact";

/** An id that two phones do not hit on the same day: the date, and five letters or digits at random. */
export function newJobId(now: Date): string {
  const letters = "abcdefghjkmnpqrstuvwxyz23456789"; // none that are taken for each other
  const random = Array.from(crypto.getRandomValues(new Uint8Array(5)), (byte) => letters[byte % letters.length]).join("");
  return `${isoLocal(now).slice(0, 10)}-${random}`;
}

/** Keep a new job with what is known of its ticket; gives its id. */
export async function makeJob(title: string, ticket: Payload): Promise<string> {
  const job = newJobId(new Date());
  const units = await setting("units", "ft-in");
  const drafts: Draft[] = [
    { job, kind: "job", payload: { keys: { title, crs: "local", display_units: units } } },
    { job, kind: "ticket", payload: { keys: ticket } },
  ];
  await recordAll(drafts);
  return job;
}

/** A job for a dig that cannot wait, to be named later. */
export async function makeEmergency(now: Date): Promise<string> {
  const at = now.toLocaleString("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
  return makeJob(`Emergency, ${at}`, { emergency: true, received_at: isoLocal(now) });
}
