/** A log as the server understands it, as in model/log.py. */
import type { Finding } from "./Findings";

export interface LogMapping {
  use: string;
  part: string;
  columns: { column: string; field: string; unit: string }[];
  answers: Record<string, string>;
}

export interface LogLook {
  name: string;
  kind: string;
  rows: number;
  parts: string[];
  uses: { value: string; words: string }[];
  fields: { name: string; words: string; units: string[] }[];
  columns: { name: string; samples: string[]; filled: number; field: string; unit: string; why: string }[];
  mapping: LogMapping;
  questions: { id: string; words: string; choices: { value: string; words: string }[]; answer: string; example: string }[];
  remembered: boolean;
  preview: Record<string, string>[];
  findings: Finding[];
}

export interface LogTaken {
  job: string;
  recorded: number;
  already_there: number;
  words: string;
  findings: Finding[];
}
