/** Times in words, by this device's clock and zone. */

const CLOCK = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });
const DAY = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long" });

/** "14:03", "tomorrow 07:00", "Friday 27 November 07:00". */
export function spoken(time: Date, now: Date): string {
  const days = Math.round((midnight(time) - midnight(now)) / 86_400_000);
  const named = new Map([[0, ""], [1, "tomorrow "], [-1, "yesterday "]]);
  const day = time.getFullYear() === now.getFullYear() ? DAY.format(time) : `${DAY.format(time)} ${time.getFullYear()}`;
  return `${named.get(days) ?? `${day} `}${CLOCK.format(time)}`;
}

/** A time as it was written down, by the clock of where it was written, wherever this device is. */
export function asWritten(iso: string, now: Date): string {
  const time = new Date(iso.replace(/(Z|[+-]\d\d:?\d\d)$/, ""));
  return Number.isNaN(time.getTime()) ? iso : spoken(time, now);
}

/** What a field of kind `datetime-local` holds for a time. */
export function fieldOf(iso: string): string {
  const time = new Date(iso);
  if (Number.isNaN(time.getTime())) return "";
  return new Date(time.getTime() - time.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
}

function midnight(time: Date): number {
  return new Date(time.getFullYear(), time.getMonth(), time.getDate()).getTime();
}

/** "1 entry waits on this phone", "3 entries wait on this phone". */
export function waitingWords(count: number): string {
  return count === 1 ? "1 entry waits on this phone" : `${count} entries wait on this phone`;
}

/** "This phone's clock is 12 minutes behind the server's." */
export function clockWords(behindS: number): string {
  const minutes = Math.round(Math.abs(behindS) / 60);
  const [count, unit] = minutes < 120 ? [minutes, "minute"] : minutes < 2880 ? [Math.round(minutes / 60), "hour"] : [Math.round(minutes / 1440), "day"];
  return `This phone’s clock is ${count} ${unit}${count === 1 ? "" : "s"} ${behindS > 0 ? "behind" : "ahead of"} the server’s.`;
}
