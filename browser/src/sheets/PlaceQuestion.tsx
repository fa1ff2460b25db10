/** Where is it? By things that were seen, along a baseline, by tape from two corners, or by coordinates; or not said. */
import { useState } from "preact/hooks";
import type { PositionBody } from "../api/screens";
import { record, type Draft } from "../journal";
import type { Cells } from "../phone/cells";
import { LengthKeys } from "../parts/Keypad";
import { Stepper } from "../parts/Stepper";
import { parseNumber } from "../words/lengths";
import { entriesOf, type Sheet } from "./job";
import { byReceiver, systemFor, useReceiver } from "./receiver";
import { byBaseline, byCoordinates, byTies, byWords, placeShort, thingKey, THING_KINDS, withoutPlace, type ByWords } from "./place";

export interface PlaceProps {
  /** Heading, where it is not the mark that is asked for; "" where one stands above. */
  asks?: string;
  sheet: Sheet;
  cells: Cells;
  /** Name of this place in ties.csv. */
  own: string;
  /** Facts that this question asked for before, and that are not kept yet. */
  before: readonly Draft[];
  /** New cells, and facts that have to stand before the row's. */
  onPlace: (cells: Cells, before: Draft[], done: boolean) => void;
}

type Way = "words" | "baseline" | "ties" | "receiver" | "coordinates";

export function PlaceQuestion(props: PlaceProps) {
  const [way, setWay] = useState<Way>("words");
  const { sheet, cells } = props;
  const receiver = useReceiver();
  const ways: [Way, string, boolean][] = [
    ["words", "By what is seen", true],
    ["baseline", "Along a baseline", (sheet.folded.items.baselines?.size ?? 0) > 0],
    ["ties", "By tape from two corners", (sheet.folded.items.corners?.size ?? 0) > 1],
    ["receiver", "By the receiver's position", receiver !== null],
    ["coordinates", "By coordinates", true],
  ];
  const said = placeShort(cells);
  return (
    <>
      {props.asks !== "" && <h2 class={props.asks ? "" : "question"} tabIndex={-1}>{props.asks ?? "Where is your mark?"}</h2>}
      {said && <p>{said}</p>}
      <div class="choices">
        {ways
          .filter(([, , there]) => there)
          .map(([name, words]) => (
            <button type="button" aria-pressed={way === name} onClick={() => setWay(name)}>
              {words}
            </button>
          ))}
      </div>
      {way === "words" && <Words {...props} />}
      {way === "baseline" && <Baseline {...props} />}
      {way === "ties" && <Ties {...props} />}
      {way === "receiver" && receiver && <Receiver {...props} at={receiver} />}
      {way === "coordinates" && <Coordinates {...props} />}
      <button type="button" class="wide quiet-button" onClick={() => props.onPlace(withoutPlace(cells), [], true)}>
        Do not say where
      </button>
    </>
  );
}

function Words({ sheet, cells, before, onPlace }: PlaceProps) {
  const [made, setMade] = useState(() => rowsOf(before, "things").map(({ key, rows: [row] }) => ({ key, kind: row?.kind ?? "" })));
  const [said, setSaid] = useState<ByWords>({ from: cells.from_thing ?? "", toward: cells.toward_thing ?? "", along: cells.along ?? "" });
  const [adding, setAdding] = useState(false);
  const [tape, setTape] = useState(false);
  const things = [...entriesOf(sheet, "things").map(({ key }) => key), ...made.map(({ key }) => key)];
  const drafts = (list: typeof made): Draft[] =>
    list.map(({ key, kind }) => ({ job: sheet.folded.job, kind: "entry", payload: { table: "things", key, rows: [{ kind }] } }));
  const say = (next: ByWords, list = made) => {
    setSaid(next);
    onPlace(byWords(cells, next), drafts(list), false);
  };
  const pick = (key: string, list = made) => {
    if (key === said.from) say({ ...said, from: "", toward: "" }, list);
    else if (!said.from) say({ ...said, from: key }, list);
    else say({ ...said, toward: key === said.toward ? "" : key }, list);
  };
  const add = (kind: string) => {
    const list = [...made, { key: thingKey(kind, things), kind }];
    setMade(list);
    setAdding(false);
    pick(list[list.length - 1]!.key, list);
  };
  const paces = parseNumber(said.along.replace(/ paces?$/, ""))?.low ?? 0;
  return (
    <>
      <p>{said.from ? `From ${said.from}${said.toward ? ` toward ${said.toward}` : ": toward what?"}` : "From what?"}</p>
      <div class="choices">
        {things.map((key) => (
          <button type="button" aria-pressed={key === said.from || key === said.toward} onClick={() => pick(key)}>
            {key}
          </button>
        ))}
        <button type="button" aria-expanded={adding} onClick={() => setAdding(!adding)}>
          Something else
        </button>
      </div>
      {(adding || things.length === 0) && (
        <div class="choices">
          {THING_KINDS.map((kind) => (
            <button type="button" onClick={() => add(kind)}>
              {kind}
            </button>
          ))}
        </div>
      )}
      {said.from && (
        <>
          <p>How far from it?</p>
          <Stepper label="Paces" shown={/pace/.test(said.along) ? said.along : "no paces"} onStep={(by) => say({ ...said, along: paced(paces + by) })} />
          <div class="choices">
            {[5, 10, 20].map((n) => (
              <button type="button" onClick={() => say({ ...said, along: paced(paces + n) })}>
                {n} more
              </button>
            ))}
            <button type="button" aria-expanded={tape} onClick={() => setTape(!tape)}>
              By tape
            </button>
          </div>
          {tape && <LengthKeys far label="By tape" units={sheet.units} text={/pace/.test(said.along) ? "" : said.along} onText={(along) => say({ ...said, along })} />}
        </>
      )}
    </>
  );
}

/** Rows of a table among facts that are not kept yet. */
function rowsOf(before: readonly Draft[], table: string): { key: string; rows: readonly Cells[] }[] {
  return before.filter(({ payload }) => payload.table === table).map(({ payload }) => ({ key: String(payload.key), rows: payload.rows as unknown as Cells[] }));
}

const paced = (n: number): string => (n > 0 ? `${n} ${n === 1 ? "pace" : "paces"}` : "");

function Baseline({ sheet, cells, onPlace }: PlaceProps) {
  const lines = [...(sheet.folded.items.baselines?.keys() ?? [])];
  const [on, setOn] = useState(cells.baseline ?? lines[0] ?? "");
  const [station, setStation] = useState(cells.station ?? "");
  const [offset, setOffset] = useState(cells.offset ?? "");
  const [left, setLeft] = useState(offset.startsWith("-"));
  const zero = sheet.units === "m" ? "0 m" : "0 in";
  const side = (text: string, isLeft: boolean) => (isLeft && text ? `-${text.replace(/^-/, "")}` : text.replace(/^-/, ""));
  const say = (s: string, o: string) => s && onPlace(byBaseline(cells, on, s, o || zero), [], false);
  return (
    <>
      <div class="choices">
        {lines.map((key) => (
          <button type="button" aria-pressed={key === on} onClick={() => setOn(key)}>
            Baseline {key}
          </button>
        ))}
      </div>
      <p>Along it from its start</p>
      <LengthKeys far label="Along the baseline" units={sheet.units} text={station} onText={(t) => (setStation(t), say(t, offset))} />
      <p>Square off it, to the</p>
      <div class="side-by-side">
        {[true, false].map((isLeft) => (
          <button type="button" aria-pressed={left === isLeft} onClick={() => (setLeft(isLeft), setOffset(side(offset, isLeft)), say(station, side(offset, isLeft)))}>
            {isLeft ? "Left" : "Right"}
          </button>
        ))}
      </div>
      <LengthKeys far label="Off the baseline" units={sheet.units} text={offset.replace(/^-/, "")} onText={(t) => (setOffset(side(t, left)), say(station, side(t, left)))} />
    </>
  );
}

function Ties({ sheet, cells, own, before, onPlace }: PlaceProps) {
  const corners = [...(sheet.folded.items.corners?.keys() ?? [])];
  const [taped, setTaped] = useState<Record<string, string>>(() => {
    const rows = rowsOf(before, "ties").find(({ key }) => key === own)?.rows ?? sheet.folded.tables.ties?.get(own)?.rows ?? [];
    return Object.fromEntries(rows.flatMap(({ corner, distance }) => (corner && distance ? [[corner, distance]] : [])));
  });
  const [at, setAt] = useState("");
  const say = (next: Record<string, string>) => {
    setTaped(next);
    const rows = Object.entries(next).map(([corner, distance]) => ({ corner, distance }));
    if (rows.length < 2) return;
    const supersedes = sheet.folded.tables.ties?.get(own)?.fact?.id ?? null;
    onPlace(byTies(cells, own), [{ job: sheet.folded.job, kind: "entry", payload: { table: "ties", key: own, rows }, supersedes }], false);
  };
  return (
    <>
      <p>{Object.keys(taped).length < 2 ? "Tape from two corners or more." : "Two corners fix it on one side of them; a third says which."}</p>
      <div class="choices">
        {corners.map((corner) => (
          <button type="button" aria-pressed={corner === at} onClick={() => setAt(corner)}>
            {corner} {taped[corner] ?? ""}
          </button>
        ))}
      </div>
      {at && <LengthKeys far key={at} label={`From ${at}`} units={sheet.units} text={taped[at] ?? ""} onText={(t) => say({ ...taped, [at]: t })} />}
    </>
  );
}

/** The place of a GNSS receiver on the staff, taken when it is tapped and not before. */
function Receiver({ sheet, cells, onPlace, at }: PlaceProps & { at: PositionBody }) {
  const next = byReceiver(cells, at);
  const system = next ? systemFor(sheet.folded, Number(next.longitude_deg), Number(next.latitude_deg)) : "";
  if (system === null)
    return <p>This job's places are metres of its own: longitude and latitude cannot be joined to them. Say where by what is seen.</p>;
  const take = async (place: Cells) => {
    // Of the job, so not kept back with the sheet: a place taken and found again tomorrow has to have it.
    if (system) await record({ job: sheet.folded.job, kind: "job", payload: { keys: { crs: system } } });
    onPlace(place, [], false);
  };
  return (
    <>
      <p>It is the place of the receiver that the server listens to: have it stand on your mark.</p>
      <p role="status">{at.words}</p>
      <button type="button" class="wide" disabled={!next} onClick={() => next && void take(next)}>
        Use the receiver's position
      </button>
      {cells.longitude_deg && (
        <p>
          Taken: {cells.longitude_deg}, {cells.latitude_deg}
          {cells.position_sigma_m ? `, one standard deviation ${cells.position_sigma_m} m` : ""}.
        </p>
      )}
    </>
  );
}

function Coordinates({ cells, onPlace }: PlaceProps) {
  const [east, setEast] = useState(cells.easting_m ?? "");
  const [north, setNorth] = useState(cells.northing_m ?? "");
  const say = (e: string, n: string) => {
    setEast(e);
    setNorth(n);
    if (parseNumber(e) && parseNumber(n)) onPlace(byCoordinates(cells, e.trim(), n.trim()), [], false);
  };
  return (
    <>
      <label class="field">
        <span>East, in metres of the job's grid</span>
        <input type="text" inputMode="decimal" value={east} onInput={(e) => say(e.currentTarget.value, north)} />
      </label>
      <label class="field">
        <span>North, in metres of the job's grid</span>
        <input type="text" inputMode="decimal" value={north} onInput={(e) => say(east, e.currentTarget.value)} />
      </label>
    </>
  );
}
