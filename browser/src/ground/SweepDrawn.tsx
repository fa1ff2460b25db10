/** One method of a sweep on the ground: how likely a line is noticed in greys, what was not swept dotted, walks as arrows. */
import { path } from "../draw/geometry";
import type { Cited } from "../draw/types";
import type { Units } from "../words/lengths";
import { chance } from "../words/lengths";
import { cellAt, cellsOf, shaded, type Cells } from "./chances";
import { Digs, Ground, hatchFill, Sign, Swatch, WalkLine } from "./Ground";
import { spread, type Shape, type View } from "./ground";
import type { Grid, SweepMethod, SweepScreen } from "./types";

const TAP = "Tap the ground for the chance there; tap a walk, a number or a letter for what it is.";
const MAP = "worked out from the passes of this method";

export function SweepDrawn({ screen, method }: { screen: SweepScreen; method: SweepMethod }) {
  if (!screen.extent) return null;
  const maps = method.maps.map(cellsOf);
  const levels = maps.map(shaded);
  return (
    <Ground
      extent={screen.extent}
      units={screen.units as Units}
      says={`${method.says} Shaded by how often a line is noticed; gaps and passes stand below in words.`}
      otherwise={TAP}
      shapes={(view) => shapesOf(method, view)}
      ofGround={(place) => toldAt(maps, place)}
    >
      {(view) => (
        <>
          {levels.map(({ levels: each, unswept }) => (
            <>
              {each.map(({ level, runs }) => (
                <path class="cells" style={{ fillOpacity: level.shade }} d={runs.map((run) => path(run.map(view.px), true)).join("")} />
              ))}
              <path fill={hatchFill("unswept")} shape-rendering="crispEdges" d={unswept.map((run) => path(run.map(view.px), true)).join("")} />
            </>
          ))}
          {screen.ground.map((ring) => (
            <path class="searched" d={path(ring.map(view.px), true)} />
          ))}
          <Digs view={view} digs={screen.digs} />
          {method.walks.map(({ path: course }) => (
            <WalkLine view={view} course={course} name="walk" />
          ))}
          {method.further.map(({ path: course }) => (
            <WalkLine view={view} course={course} name="walk-on" />
          ))}
          {levels.flatMap(({ levels: each }) =>
            each.map(({ level, at }) => at && <Mark at={view.px(at)} words={level.mark} />),
          )}
          {signsOf(method, view).map(({ at, of, name, square }) => (
            <Sign at={at} square={square} {...(at.y === of.y ? {} : { of })}>
              {name}
            </Sign>
          ))}
        </>
      )}
    </Ground>
  );
}

/** Numbers of the passes to walk, then letters of the gaps, none upon another. */
function signsOf({ further, gaps }: SweepMethod, view: View) {
  const all = [
    ...further.map(({ path: course, words }, i) => ({ of: startOf(view, course), name: String(i + 1), square: false, told: { name: "still to walk", words } })),
    ...gaps.map(({ name, place, words }) => ({ of: view.px(place), name, square: true, told: { name: `gap ${name}`, words } })),
  ];
  const places = spread(all.map(({ of }) => of));
  return all.map((sign, i) => ({ ...sign, at: places[i]! }));
}

/** A further pass has its number before its start, where it covers nothing of the pass. */
function startOf(view: View, course: readonly Grid[]) {
  const [a, b] = course.map(view.px);
  if (!a || !b) return { x: 0, y: 0 };
  const long = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  return { x: a.x - (14 * (b.x - a.x)) / long, y: a.y - (14 * (b.y - a.y)) / long };
}

function Mark({ at, words }: { at: { x: number; y: number }; words: string }) {
  return (
    <text class="level" x={at.x} y={at.y + 5} text-anchor="middle">
      {words}
    </text>
  );
}

function toldAt(maps: readonly Cells[], place: Grid): Cited[] {
  const cell = maps.map((cells) => cellAt(cells, place)).find((each) => each !== null);
  if (!cell) return [];
  const swept = cell.swept ? "swept: no line through here, whichever way it runs, is heard less than half as strong as from straight above" : "not swept: a line that runs one way or another would be missed";
  return [
    { name: "a line here is noticed", words: chance(cell.chance / 100), source: MAP },
    { name: "this spot", words: swept, source: MAP },
  ];
}

function shapesOf(method: SweepMethod, view: View): Shape[] {
  const walks = [...method.walks.map((walk) => ({ ...walk, name: "walked" })), ...method.further.map((walk) => ({ ...walk, name: "still to walk" }))];
  return [
    ...walks.map(({ path: course, words, name }, i) => ({ key: `walk/${i}`, outline: course.map(view.px), told: [{ name, words, source: method.method }] })),
    ...signsOf(method, view).map(({ at, name, told }) => ({ key: `sign/${name}`, outline: [at], told: [{ ...told, source: MAP }] })),
  ];
}

/** The levels that the map shows, by their numbers, and what is hatched. */
export function SweepLegend({ method }: { method: SweepMethod }) {
  const levels = method.maps.map((map) => shaded(cellsOf(map)));
  const found = [...new Map(levels.flatMap(({ levels: each }) => each).map(({ level }) => [level.number, level])).values()].sort((a, b) => a.number - b.number);
  return (
    <ul class="legend" aria-label="How often a line there is noticed">
      {found.map(({ number, mark, words, shade }) => (
        <li>
          <Swatch fill="none" shade={shade} />
          <span>
            {number}, written {mark}: a line there is noticed {words}.
          </span>
        </li>
      ))}
      {levels.some(({ unswept }) => unswept.length > 0) && (
        <li>
          <Swatch fill={hatchFill("unswept")} />
          <span>Dotted, not swept: a line that runs one way or another would be missed.</span>
        </li>
      )}
      {method.walks.length > 0 && (
        <li>
          <Swatch fill="none" edge={false}>
            <path class="walk" d="M2 15H42" />
          </Swatch>
          <span>Walked.</span>
        </li>
      )}
      {method.further.length > 0 && (
        <li>
          <Swatch fill="none" edge={false}>
            <path class="walk-on" d="M2 15H42" />
          </Swatch>
          <span>Still to walk.</span>
        </li>
      )}
    </ul>
  );
}
