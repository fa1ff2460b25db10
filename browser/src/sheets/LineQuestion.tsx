/** Which line is it? One of the job's, or a new one; what it carries can be said, and is not asked. */
import { Choice } from "../parts/Choice";
import { record } from "../journal";
import type { Sheet } from "./job";

const UTILITIES = ["electric", "gas", "communications", "water", "sewer", "storm", "reclaimed", "lighting", "steam", "petroleum", "unknown"] as const;

interface LineProps {
  sheet: Sheet;
  line: string;
  sonde?: boolean;
  onLine: (line: string) => void;
}

export function LineQuestion({ sheet, line, sonde = false, onLine }: LineProps) {
  const { job, items } = sheet.folded;
  const fit = sheet.lines.filter((each) => each.sonde === sonde);
  const known = sheet.lines.some((each) => each.key === line);
  const utility = items.lines?.get(line)?.keys.utility;
  const keep = (key: string, carries: string) =>
    record({ job, kind: "item", payload: { table: "lines", key, keys: { utility: carries, ...(sonde ? { signal: "sonde" } : {}) } } });
  const another = () => {
    const letter = sonde ? "S" : "L";
    let n = 1;
    while (items.lines?.has(`${letter}${n}`) || (n === 1 && !known && line === `${letter}1`)) n += 1;
    void keep(`${letter}${n}`, "unknown").then(() => onLine(`${letter}${n}`));
  };
  return (
    <>
      <h2 class="question" tabIndex={-1}>Which line is it?</h2>
      <Choice label="Line" chosen={line} onChoose={onLine} answers={(known ? fit : [...fit, { key: line, words: `${line}, utility not said` }]).map((each) => ({ value: each.key, words: each.words }))} />
      <button type="button" class="wide quiet-button" onClick={another}>
        Another line
      </button>
      <h2>What does {line} carry?</h2>
      <div class="choices">
        {UTILITIES.map((each) => (
          <button type="button" aria-pressed={utility === each} onClick={() => void keep(line, each)}>
            {each === "unknown" ? "not known" : each}
          </button>
        ))}
      </div>
    </>
  );
}
