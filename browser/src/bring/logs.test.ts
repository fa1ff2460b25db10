import { expect, test } from "vitest";
import { cellWords, withAnswer, withColumn } from "./logs";

const MAPPING = { use: "readings", part: "", columns: [{ column: "D", field: "depth", unit: "m" }], answers: {} };

test("a column is put right without touching the others, and its unit with it", () => {
  const more = withColumn(MAPPING, "I", "current", "ma");
  expect(more.columns).toHaveLength(2);
  expect(withColumn(more, "D", "depth", "ft").columns).toEqual([
    { column: "I", field: "current", unit: "ma" },
    { column: "D", field: "depth", unit: "ft" },
  ]);
  expect(withAnswer(withAnswer(MAPPING, "grid", "local"), "grid", "EPSG:32631").answers).toEqual({ grid: "EPSG:32631" });
});

test("cells are said with their unit behind the number", () => {
  expect([["null_offset_in", "2"], ["current_ma", "43"], ["line", "E1"], ["in", "x"], ["place_words", "by the gate"]].map(([column, cell]) => cellWords(column!, cell!))).toEqual([
    "null offset 2 in", "current 43 mA", "line E1", "in x", "place words by the gate",
  ]);
});
