/** Rows of a CSV file as texts, as the server's reader takes them (a `sep=;` line, quotes, either line end). */
export type Row = Record<string, string>;

export function rowsOf(text: string): Row[] {
  let body = text.replace(/^\ufeff/, "");
  let comma = ",";
  const told = /^"?sep=(.)"?\r?\n/i.exec(body);
  if (told) {
    comma = told[1]!;
    body = body.slice(told[0].length);
  }
  const [header = [], ...rows] = cellsOf(body, comma);
  return rows
    .filter((cells) => cells.some((cell) => cell.trim() !== ""))
    .map((cells) => Object.fromEntries(header.map((name, i) => [name.trim(), cells[i] ?? ""])));
}

function cellsOf(text: string, comma: string): string[][] {
  const rows: string[][] = [];
  let row: string[] = [];
  let cell = "";
  let quoted = false;
  for (let i = 0; i < text.length; i += 1) {
    const letter = text[i]!;
    if (quoted) {
      if (letter !== '"') cell += letter;
      else if (text[i + 1] === '"') cell += text[(i += 1)];
      else quoted = false;
    } else if (letter === '"' && cell === "") quoted = true;
    else if (letter === comma || letter === "\n" || letter === "\r") {
      row.push(cell);
      cell = "";
      if (letter === comma) continue;
      if (letter === "\r" && text[i + 1] === "\n") i += 1;
      rows.push(row);
      row = [];
    } else cell += letter;
  }
  if (cell !== "" || row.length > 0) rows.push([...row, cell]);
  return rows;
}
