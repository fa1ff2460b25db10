/** What is still open, numbered as on the plan, and everything on the plan as a list: the same without the plan. */
import type { components } from "../api/schema";
import { to } from "../router";
import { LAYERS, type Item, type Layer, type SiteScreen } from "./items";
import type { Point } from "./plane";
import { placeShort } from "../sheets/place";
import type { Site } from "./useSite";

type SiteNote = components["schemas"]["SiteNote"];

interface NotesProps {
  job: string;
  notes: readonly SiteNote[];
  picked: number;
  onShow: (note: SiteNote) => void;
}

export function Notes({ job, notes, picked, onShow }: NotesProps) {
  if (notes.length === 0) return null;
  return (
    <section aria-labelledby="notes">
      <h2 id="notes">Still open</h2>
      <ol class="site-notes">
        {notes.map((note) => (
          <li id={`note-${note.number}`} aria-current={picked === note.number ? "true" : undefined}>
            <span class="number">{note.number}</span>
            <div>
              <p>
                <strong>{note.title}.</strong> {note.words}
              </p>
              <div class="choices">
                {note.opens && (
                  <a class="button" href={`${to("job", job)}/${note.opens}`} aria-label={`Open note ${note.number}: ${note.title}`}>
                    Open
                  </a>
                )}
                {note.place && (
                  <button type="button" aria-label={`Show note ${note.number} on the plan`} onClick={() => onShow(note)}>
                    Show
                  </button>
                )}
              </div>
            </div>
          </li>
        ))}
      </ol>
    </section>
  );
}

const NAMES: Readonly<Record<Layer, string>> = {
  dig: "Where is to be dug",
  record: "Lines on record",
  pass: "Passes walked",
  baseline: "Baselines",
  second: "Second lines",
  line: "Lines",
  "to-paint": "To be painted",
  paint: "Paint",
  corner: "Corners",
  hole: "Test holes",
  reading: "Readings",
  thing: "Things seen",
};

interface EverythingProps {
  site: Site;
  onPick: (item: Item, at: Point) => void;
}

export function Everything({ site, onPick }: EverythingProps) {
  const { items, screen } = site;
  const layers = [...LAYERS].reverse().filter((layer) => items.some((each) => each.layer === layer));
  const apart = unplaced(site, screen);
  return (
    <>
      {apart.length > 0 && (
        <section aria-labelledby="apart">
          <h2 id="apart">Known by words only, so not drawn</h2>
          <ul class="plain rows">
            {apart.map(({ name, words }) => (
              <li>
                <strong>{name}</strong>: {words}
              </li>
            ))}
          </ul>
        </section>
      )}
      {layers.length > 0 && (
        <details class="more">
          <summary>Everything on the plan, as a list</summary>
          {layers.map((layer) => (
            <>
              <h2>{NAMES[layer]}</h2>
              <ul class="plain rows">
                {items
                  .filter((each) => each.layer === layer)
                  .map((each) => (
                    <li>
                      <button type="button" onClick={() => onPick(each, middleOf(each))}>
                        {each.words}
                      </button>
                    </li>
                  ))}
              </ul>
            </>
          ))}
        </details>
      )}
    </>
  );
}

export const middleOf = ({ path }: Item): Point => path[Math.floor(path.length / 2)]!;

/** Things and readings with no place on the plan: as the server lists them, and those of this phone it does not know yet. */
function unplaced({ folded, items }: Site, screen: SiteScreen | null): { name: string; words: string }[] {
  const drawn = new Set(items.map(({ id }) => id));
  const listed = (screen?.unplaced ?? []).filter(({ table, id }) => (folded.tables[table]?.has(id) ?? true) && !drawn.has(`thing/${id}`));
  const known = new Set(listed.map(({ table, id }) => `${table}/${id}`));
  const own = [...(folded.tables.things?.values() ?? [])]
    .filter(({ key }) => !drawn.has(`thing/${key}`) && !known.has(`things/${key}`))
    .map(({ key, rows: [row] }) => ({ name: key, words: placeShort(row ?? {}) || row?.note || "place not written down" }));
  return [...listed.map(({ words, place }) => ({ name: words, words: place })), ...own];
}
