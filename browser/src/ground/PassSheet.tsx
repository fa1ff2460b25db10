/** A pass that was walked: what was listened for, from where, to where, what it met. `further` has its ends filled in. */
import "../sheets/sheets.css";
import { useState } from "preact/hooks";
import { setting, type Draft } from "../journal";
import { isoLocal } from "../journal/fact";
import { Choice } from "../parts/Choice";
import { Page } from "../parts/Page";
import type { Cells } from "../phone/cells";
import { go, to } from "../router";
import { TakeBack } from "../sheets/Common";
import { newKey, saveEntry, type Sheet } from "../sheets/job";
import { PlaceQuestion } from "../sheets/PlaceQuestion";
import { byCoordinates, placeShort } from "../sheets/place";
import { length } from "../words/lengths";
import { Digs, Ground } from "./Ground";
import { ANTENNAS, isPlaced, MET, METHODS, passOf, rowsOf, type Pass } from "./pass";
import type { Grid, SweepScreen } from "./types";

type Asked = "method" | "from" | "to" | "met";

/** What was named for both ends of a pass is one fact. */
const eachOnce = (drafts: Draft[]): Draft[] => [...new Map(drafts.map((draft) => [`${draft.payload.table}/${draft.payload.key}`, draft])).values()];

interface PassProps {
  job: string;
  sheet: Sheet;
  /** Key of a pass that was saved; "" for a new one. */
  asked: string;
  /** A pass that was told to be walked. */
  further?: { method: string; course: readonly Grid[] } | undefined;
  /** What there is of the ground, to tap the ends on. */
  screen: SweepScreen | null;
}

export function PassSheet({ job, sheet, asked, further, screen }: PassProps) {
  const old = sheet.folded.tables.passes?.get(asked);
  const [key] = useState(asked || newKey(sheet, "passes"));
  const [pass, setPass] = useState<Pass>(() => (old ? passOf(old.rows) : begun(further)));
  const [before, setBefore] = useState<Draft[]>([]);
  const [open, setOpen] = useState<Asked>(old || further?.method ? "met" : "method");
  const [busy, setBusy] = useState(false);
  const tied = (end: string) => `P${key}-${end}`;
  const say = (cells: Cells) => setPass((now) => ({ ...now, own: { ...now.own, ...cells } }));
  const move = (end: "from" | "to") => (cells: Cells, drafts: Draft[], done: boolean) => {
    setPass((now) => ({ ...now, [end]: cells }));
    setBefore((now) => eachOnce([...now.filter(({ payload }) => payload.key !== tied(end)), ...drafts]));
    if (done) setOpen(end === "from" ? "to" : "met");
  };
  const save = async () => {
    setBusy(true);
    const own = old ? pass.own : { taken_at: isoLocal(new Date()), by: await setting("name", ""), ...pass.own };
    await saveEntry(sheet, "passes", key, rowsOf({ ...pass, own }), before);
    go("job", job, "sweep");
  };
  const next: Record<Asked, Asked | null> = { method: "from", from: "to", to: "met", met: null };
  const whole = Boolean(pass.own.method) && isPlaced(pass.from) && isPlaced(pass.to);
  const on = next[open];
  return (
    <Page
      title={`Sweep, pass ${key}`}
      back={to("job", job, "sweep")}
      foot={
        <div class="sheet">
          {on ? (
            <button type="button" class="main wide" disabled={open === "method" ? !pass.own.method : !isPlaced(pass[open as "from" | "to"])} onClick={() => setOpen(on)}>
              Go on
            </button>
          ) : (
            <button type="button" class="main wide" disabled={!whole || busy} onClick={() => void save()}>
              Save
            </button>
          )}
        </div>
      }
    >
      <div class="sheet">
        {open === "method" && (
          <>
            <h2 class="question" tabIndex={-1}>What did you listen for?</h2>
            <Choice label="What was listened for" answers={METHODS} chosen={pass.own.method} onChoose={(method) => (say({ method }), setOpen(isPlaced(pass.to) ? "met" : "from"))} />
          </>
        )}
        {(open === "from" || open === "to") && (
          <>
            <h2 class="question" tabIndex={-1}>{open === "from" ? "Where did the pass begin?" : "Where did it end?"}</h2>
            {screen?.extent && <OnPlan screen={screen} end={open} cells={pass[open]} onPlace={(cells) => move(open)(cells, [], false)} />}
            <PlaceQuestion
              key={open}
              asks={screen?.extent ? "Or say it" : ""}
              sheet={sheet}
              cells={pass[open]}
              own={tied(open)}
              before={before}
              onPlace={move(open)}
            />
          </>
        )}
        {open === "met" && (
          <>
            <h2 class="question" tabIndex={-1}>What did it meet?</h2>
            <Choice label="What the pass met" answers={MET} chosen={pass.own.signal} onChoose={(signal) => say({ signal })} />
            <p>No signal is a fact about current, not about the ground: it never means that nothing is there.</p>
            <p>The receiver's coils</p>
            <div class="choices" role="group" aria-label="The receiver's coils">
              {ANTENNAS.map(([antenna, words]) => (
                <button type="button" aria-pressed={(pass.own.antenna ?? "") === antenna} onClick={() => say({ antenna })}>
                  {words}
                </button>
              ))}
            </div>
          </>
        )}
        <div class="taken">
          <button type="button" onClick={() => setOpen("method")}>
            {METHODS.find(({ value }) => value === pass.own.method)?.words ?? "what was listened for: not said"}
          </button>
          {(["from", "to"] as const).map((end) => (
            <button type="button" onClick={() => setOpen(end)}>
              {end} {placeShort(pass[end]) || "not said"}
            </button>
          ))}
          {open !== "met" && whole && (
            <button type="button" onClick={() => setOpen("met")}>
              {MET.find(({ value }) => value === pass.own.signal)?.words ?? "what it met: not said"}
            </button>
          )}
        </div>
        {pass.between.length > 0 && <p class="quiet">It goes by {pass.between.length} more places between its ends.</p>}
        <TakeBack job={job} entry={old} after={() => go("job", job, "sweep")} />
      </div>
    </Page>
  );
}

const grid = (place: Grid, sigma = ""): Cells => byCoordinates({}, place[0]!.toFixed(2), place[1]!.toFixed(2), sigma);

function begun(further: PassProps["further"]): Pass {
  if (!further) return { own: {}, from: {}, to: {}, between: [] };
  const { method, course } = further;
  const places = course.map((place) => grid(place));
  return { own: method ? { method } : {}, from: places[0] ?? {}, to: places.at(-1) ?? {}, between: places.slice(1, -1) };
}

/** An end tapped on the ground; how far a finger may be off is kept with it. */
function OnPlan({ screen, end, cells, onPlace }: { screen: SweepScreen; end: "from" | "to"; cells: Cells; onPlace: (cells: Cells) => void }) {
  const [reach, setReach] = useState(0);
  const units = screen.units === "m" ? "m" : "ft-in";
  const here = cells.easting_m && cells.northing_m ? [Number(cells.easting_m), Number(cells.northing_m)] : null;
  return (
    <>
      <Ground
        extent={screen.extent!}
        units={units}
        says="The dig from above. A tap says where; below are other ways to say it."
        otherwise=""
        onPlace={(place, far) => {
          setReach(far);
          onPlace(grid(place, far.toFixed(2)));
        }}
      >
        {(view) => (
          <>
            {screen.ground.map((ring) => (
              <path class="searched" d={`M${ring.map((p) => view.px(p)).map(({ x, y }) => `${x} ${y}`).join("L")}Z`} />
            ))}
            <Digs view={view} digs={screen.digs} />
            {here && <Cross {...view.px(here)} />}
          </>
        )}
      </Ground>
      <p class="quiet" role="status">
        {reach > 0 && here
          ? `${end === "from" ? "Begins" : "Ends"} ${placeShort(cells)}; a finger is good to about ${length(reach, units)} here.`
          : "Tap where on the plan, or say it below."}
      </p>
    </>
  );
}

const Cross = ({ x, y }: { x: number; y: number }) => (
  <>
    <circle class="here-ring" cx={x} cy={y} r="14" />
    <path class="here" d={`M${x - 20} ${y}h14m12 0h14M${x} ${y - 20}v14m0 12v14`} />
  </>
);
