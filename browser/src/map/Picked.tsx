/** What was tapped on the plan: its words, its numbers with where they came from, and what can be done with it. */
import { Numbers } from "../draw/Drawing";
import { record } from "../journal";
import { to } from "../router";
import type { Item } from "./items";
import { Photos } from "./Photos";
import type { Site } from "./useSite";

interface Props {
  site: Site;
  item: Item;
  onMove: () => void;
  onGone: (said: string) => void;
}

export function Picked({ site, item, onMove, onGone }: Props) {
  const { job, folded } = site;
  const [table, key] = tableOf(item);
  const entry = folded.tables[table]?.get(key);
  const movable = entry !== undefined && entry.rows.length === 1 && (table === "things" || table === "marks");
  const take = async () => {
    const supersedes = item.fact?.id ?? null;
    if (table) await record({ job, kind: "entry", payload: { table, key, rows: [] }, supersedes });
    else if (item.layer === "dig" || item.layer === "record") {
      const file = item.layer === "dig" ? "dig" : "records";
      await record({ job, kind: "shape", payload: { file, key, feature: "" }, supersedes });
    } else await record({ job, kind: "item", payload: { table: `${item.layer}s`, key, keys: null }, supersedes });
    onGone(`${key} was taken away.`);
  };
  const sheet = SHEETS[table];
  return (
    <section class="notice" aria-label="What was tapped">
      <p>
        <strong>{item.words}</strong>
      </p>
      {item.told.length > 0 && <Numbers told={item.told} />}
      {(table === "things" || table === "marks") && <Photos key={item.id} site={site} of={table === "things" ? "thing" : "mark"} name={key} />}
      <div class="choices">
        {sheet && (
          <a class="button" href={to("job", job, sheet, key)}>
            Open it
          </a>
        )}
        {movable && (
          <button type="button" onClick={onMove}>
            Move it
          </button>
        )}
        {REMOVABLE.has(item.layer) && (
          <button type="button" onClick={() => void take()}>
            Take it away
          </button>
        )}
      </div>
    </section>
  );
}

const SHEETS: Readonly<Record<string, string>> = { readings: "read", profiles: "walk", side_readings: "side", test_holes: "hole" };
const REMOVABLE = new Set(["thing", "paint", "dig", "record", "baseline", "corner"]);
const TABLES: Readonly<Record<string, string>> = { thing: "things", paint: "marks", hole: "test_holes", reading: "readings" };

/** Table and key of the rows behind an item; "" where it is no row. */
export function tableOf({ layer, key }: Item): [string, string] {
  if (layer === "reading" && key.includes("/")) return key.split("/", 2) as [string, string];
  return [TABLES[layer] ?? "", key];
}
