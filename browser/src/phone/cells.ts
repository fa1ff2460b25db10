/** The cells of one row, as typed or as a file of the job has them. */

import { parseLength, parseNumber, type Quantity } from "../words/lengths";

/** A column that is not there, or blank, was not taken. */
export type Cells = Readonly<Record<string, string>>;

const SUFFIXES = ["m", "ft", "in", "cm", "mm"] as const;

/** The text of a length with its unit, whichever of its columns holds it; "" where none does. */
export function lengthText(cells: Cells, column: string): string {
  if (cells[column]) return cells[column];
  const unit = SUFFIXES.find((suffix) => cells[`${column}_${suffix}`]);
  return unit ? `${cells[`${column}_${unit}`]} ${unit}` : "";
}

/** A length in metres; null where it was not taken or cannot be read. */
export function lengthOf(cells: Cells, column: string): Quantity | null {
  const text = lengthText(cells, column);
  return text ? parseLength(text) : null;
}

/** A plain number. */
export function numberOf(cells: Cells, column: string): Quantity | null {
  return cells[column] ? parseNumber(cells[column]) : null;
}

export const middle = (q: Quantity): number => (q.low + q.high) / 2;
