/** A value in its one form, byte for byte as `plumbmark.base.canonical` writes it, so that a hash means something. */

export type Json = string | number | boolean | null | Json[] | { [key: string]: Json };

const MAX_DEPTH = 32;
const HALF_PAIR = /\p{Surrogate}/u;
const ASCII = /^[\x00-\x7f]*$/;

/** Thrown where a value cannot stand in a fact; the message says where and why. */
export class FactError extends Error {}

/** JSON with sorted keys and no white space; decimals, half surrogate pairs and keys beyond ASCII are refused. */
export function canonicalJson(value: Json): string {
  return written(value, "", 0);
}

/** SHA-256 of a fact's canonical JSON without its key `hash`, as 64 hexadecimal digits. */
export async function factHash(fact: Record<string, Json>): Promise<string> {
  const rest = Object.fromEntries(Object.entries(fact).filter(([key]) => key !== "hash"));
  return sha256(new TextEncoder().encode(canonicalJson(rest)));
}

export async function sha256(data: BufferSource): Promise<string> {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", data));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function written(value: Json, where: string, depth: number): string {
  const name = where || "the value";
  if (depth > MAX_DEPTH) throw new FactError(`${name} is nested deeper than ${MAX_DEPTH}`);
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "string") {
    if (HALF_PAIR.test(value)) throw new FactError(`${name} has half of a surrogate pair in it`);
    return JSON.stringify(value); // escapes what Python escapes: the quote, the backslash, what is below U+0020
  }
  if (typeof value === "number") {
    if (!Number.isInteger(value)) throw new FactError(`${name} is a decimal (write a number as the text that was typed)`);
    if (Math.abs(value) > 2 ** 53) throw new FactError(`${name} is beyond 2^53 (write it as text)`);
    return JSON.stringify(value);
  }
  if (Array.isArray(value)) return `[${value.map((each, i) => written(each, `${where}[${i}]`, depth + 1)).join(",")}]`;
  if (typeof value !== "object") throw new FactError(`${name} is of kind ${typeof value}, which a fact cannot hold`);
  const keys = Object.keys(value).sort();
  for (const key of keys) if (!ASCII.test(key)) throw new FactError(`${name} has the key "${key}", and keys are ASCII text`);
  const inside = keys.map((key) => `${JSON.stringify(key)}:${written(value[key]!, where ? `${where}.${key}` : key, depth + 1)}`);
  return `{${inside.join(",")}}`;
}
