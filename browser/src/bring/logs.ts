/** Asking the server about a log, and having it taken in. */
import { asked } from "../api/client";
import type { LogLook, LogMapping, LogTaken } from "../api/screens";

const LOG_MS = 60_000;

function form(file: File, job: string, mapping: LogMapping | null, by: string): FormData {
  const made = new FormData();
  made.append("file", file, file.name);
  made.append("job", job);
  if (by) made.append("by", by);
  if (mapping) made.append("mapping", JSON.stringify(mapping));
  return made;
}

/** The log as it is understood under a mapping; without one as it is guessed, or was confirmed before. */
export async function look(file: File, job: string, mapping: LogMapping | null): Promise<LogLook> {
  return (await asked("/api/logs/look", { method: "POST", body: form(file, job, mapping, "") }, LOG_MS)).json() as Promise<LogLook>;
}

export async function take(file: File, job: string, mapping: LogMapping, by: string): Promise<LogTaken> {
  return (await asked("/api/logs/take", { method: "POST", body: form(file, job, mapping, by) }, LOG_MS)).json() as Promise<LogTaken>;
}

/** A mapping with one column meaning something else; the unit is asked anew with the field. */
export function withColumn(mapping: LogMapping, column: string, field: string, unit: string): LogMapping {
  const columns = mapping.columns.filter((each) => each.column !== column);
  return { ...mapping, columns: [...columns, { column, field, unit }] };
}

export function withAnswer(mapping: LogMapping, id: string, answer: string): LogMapping {
  return { ...mapping, answers: { ...mapping.answers, [id]: answer } };
}

const UNITS: Record<string, string> = { m: "m", ft: "ft", in: "in", cm: "cm", mm: "mm", ma: "mA", deg: "degrees", hz: "Hz" };

/** A cell as people say it: `null_offset_in` and "2" → "null offset 2 in". */
export function cellWords(column: string, cell: string): string {
  const words = column.split("_");
  const unit = words.length > 1 ? UNITS[words.at(-1)!] : undefined;
  return [...(unit ? words.slice(0, -1) : words), cell, ...(unit ? [unit] : [])].join(" ");
}
