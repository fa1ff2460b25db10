/** The dig hatched by what it demands, with lines, zones, test holes and where things come nearest; a tap tells. */
import { path } from "../draw/geometry";
import type { Units } from "../words/lengths";
import { Bands, Digs, Ground, hatchFill, InkLine, Sign } from "./Ground";
import { spread, type Shape, type View } from "./ground";
import type { ClearanceScreen } from "./types";

const TAP = "Tap the drawing: a line, a number, a letter or a part of the dig tells what it is.";

/** Conflicts are lettered through all digs, in order. */
export const letter = (i: number): string => (i < 26 ? String.fromCharCode(65 + i) : `${letter(Math.floor(i / 26) - 1)}${letter(i % 26)}`);

export function ClearanceDrawn({ screen }: { screen: ClearanceScreen }) {
  if (!screen.extent) return null;
  const stretches = screen.digs.flatMap((dig) => dig.stretches);
  const says = [...screen.digs.map((dig) => dig.says), "Hatched by what each part demands; all of it stands below in words."].join(" ");
  return (
    <Ground extent={screen.extent} units={screen.units as Units} says={says} otherwise={TAP} shapes={(view) => shapesOf(screen, view)}>
      {(view) => (
        <>
          <Bands view={view} lines={screen.lines} />
          {stretches.flatMap(({ rings, hatch }) => rings.map((ring) => <path class="demand" fill={hatchFill(hatch)} d={path(ring.map(view.px), true)} />))}
          {!screen.ready && screen.ground.flatMap(({ ground }) => ground.map((ring) => <path fill={hatchFill("broken")} d={path(ring.map(view.px), true)} />))}
          <Digs view={view} digs={screen.ground} />
          {screen.zones.flatMap(({ about_marks }) => about_marks.map((ring) => <path class="zone" d={path(ring.map(view.px), true)} />))}
          {screen.lines.map((line) => (
            <InkLine view={view} ink={line.ink} course={line.path} />
          ))}
          {signsOf(screen, view).map(({ at, of, name, square }) => (
            <Sign at={at} of={of} square={square}>
              {name}
            </Sign>
          ))}
        </>
      )}
    </Ground>
  );
}

const OFF_PX = 46;

/** Letters of conflicts to the left of their places, numbers of holes to the right, none upon another. */
function signsOf(screen: ClearanceScreen, view: View) {
  const conflicts = screen.digs.flatMap((dig) => dig.conflicts);
  const all = [
    ...conflicts.map(({ place }, i) => ({ key: `conflict/${i}`, of: view.px(place), name: letter(i), square: true })),
    ...screen.holes.map(({ number, place }) => ({ key: `hole/${number}`, of: view.px(place), name: String(number), square: false })),
  ];
  const places = spread(all.map(({ of: { x, y }, square }) => ({ x: x + (square ? -OFF_PX : OFF_PX), y: y - OFF_PX / 2 })));
  return all.map((sign, i) => ({ ...sign, at: places[i]! }));
}

function shapesOf(screen: ClearanceScreen, view: View): Shape[] {
  const shapes: Shape[] = [];
  for (const { line, about_marks, words } of screen.zones)
    for (const [i, ring] of about_marks.entries())
      shapes.push({ key: `zone/${line}/${i}`, outline: [...ring, ring[0]!].map(view.px), told: [{ name: `zone of ${line}`, words, source: screen.rule }] });
  for (const { line, name, path: course, says, identity } of screen.lines)
    shapes.push({
      key: `line/${line}`,
      outline: course.map(view.px),
      told: [
        { name, words: says, source: "computed from the readings" },
        { name: "which line?", words: identity, source: "from what was written down of it" },
      ],
    });
  for (const { dig, stretches } of screen.digs)
    for (const [i, { rings, demand, words }] of stretches.entries())
      for (const [k, ring] of rings.entries())
        shapes.push({ key: `part/${dig}/${i}/${k}`, area: true, outline: ring.map(view.px), told: [{ name: `${dig}: ${demand}`, words: words || `${demand}.`, source: "of all lines, records and owners' answers" }] });
  const conflicts = screen.digs.flatMap((each) => each.conflicts);
  const told = new Map(conflicts.map((each, i) => [`conflict/${i}`, each.told.map((cited) => ({ ...cited, name: `${letter(i)}, ${each.name}: ${cited.name}` }))]));
  for (const { number, where, words } of screen.holes)
    told.set(`hole/${number}`, [{ name: `test hole ${number}`, words: where, source: words.join(" ") }]);
  for (const { key, at } of signsOf(screen, view)) shapes.push({ key, outline: [at], told: told.get(key)! });
  return shapes;
}
