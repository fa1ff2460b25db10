/** Frequencies as people say and type them; files hold hertz. */

/** "33000" → "33 kHz", "500" → "500 Hz". What is no number stays as it is. */
export function hertzWords(hertz: string): string {
  const value = Number(hertz);
  if (!hertz.trim() || !Number.isFinite(value)) return hertz;
  return value >= 1000 ? `${value / 1000} kHz` : `${value} Hz`;
}

/** "8 kHz" → "8000"; "" where no number with its unit was typed. Counted in digits, so that nothing is rounded. */
export function hertzOf(text: string): string {
  const found = /^\s*(\d{1,6})(?:[.,](\d{1,3}))?\s*(k?hz)\s*$/i.exec(text);
  if (!found) return "";
  const [, whole = "", part = "", unit = ""] = found;
  if (unit.toLowerCase() === "hz") return part ? `${Number(whole)}.${part}` : String(Number(whole));
  return String(Number(whole + part.padEnd(3, "0")));
}
