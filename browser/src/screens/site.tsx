/** What is where, what is still open? A plan in the job's own grid that needs no tiles and no server. */
import "../map/map.css";
import { useCallback, useEffect, useMemo, useRef, useState } from "preact/hooks";
import { CrossPanel, STEPS } from "../map/CrossPanel";
import { DRAWN, draftOf, type Answers, type What } from "../map/drawn";
import { DrawChoice, DrawQuestions, drawnSoFar } from "../map/DrawPanel";
import { freeName, namedFact, placeCells, takeBack } from "../map/facts";
import { PAINT } from "../map/inks";
import { Everything, Notes } from "../map/Notes";
import { Picked, tableOf } from "../map/Picked";
import type { Picture, Plan } from "../map/plan";
import { PlanView } from "../map/PlanView";
import { moved, type Point } from "../map/plane";
import { boxOf, crossWords, lineOfColour, measured, snapped } from "../map/said";
import { UnderPanel } from "../map/UnderPanel";
import { useSite, type Site } from "../map/useSite";
import { useUnder } from "../map/useUnder";
import { Stands } from "../draw/Stands";
import { record, recordAll } from "../journal";
import { isoLocal } from "../journal/fact";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import { THING_KINDS, withoutPlace } from "../sheets/place";

type Tool = "look" | "see" | "paint" | "draw" | "measure" | "under" | "move";
const TOOLS: readonly (readonly [Tool, string])[] = [
  ["see", "Something seen"],
  ["draw", "Draw"],
  ["paint", "Paint put down"],
  ["measure", "Measure"],
  ["under", "Lay under"],
];
const KINDS = [...THING_KINDS, "other"];
/** From what step a tap takes a point that is there instead. */
const SNAP_PX = 18;

export default function SiteOf({ job }: ScreenProps) {
  const { site, seen } = useSite(job);
  if (!site) return <p class="loading">…</p>;
  return <OnSite site={site} seen={seen} />;
}

function OnSite({ site, seen }: { site: Site; seen: ReturnType<typeof useSite>["seen"] }) {
  const { job, folded, items, screen, units } = site;
  const [plan, setPlan] = useState<Plan | null>(null);
  const [cross, setCross] = useState<Point>([0, 0]);
  const [tool, setTool] = useState<Tool>("look");
  const [points, setPoints] = useState<readonly Point[]>([]);
  const [picked, setPicked] = useState("");
  const [note, setNote] = useState(0);
  const [said, setSaid] = useState("");
  const [kind, setKind] = useState("meter");
  const [colour, setColour] = useState("red");
  const [what, setWhat] = useState<What | null>(null);
  const [asking, setAsking] = useState(false);
  const [answers, setAnswers] = useState<Answers>({});
  const [snap, setSnap] = useState(true);
  const [step, setStep] = useState<number>(STEPS[units][1]![1]);
  const [preview, setPreview] = useState<Picture | null>(null);
  const [foot, setFoot] = useState<{ words: string; act: () => void } | null>(null);
  const under = useUnder(folded);
  const notes = screen?.notes ?? [];
  const item = items.find(({ id }) => id === picked) ?? null;

  const box = useMemo(() => boxOf(items, screen?.extent ?? null), [items, screen]);
  const all = () => plan?.fit(box);
  const looked = useRef(false);
  useEffect(() => {
    if (!plan || looked.current) return;
    looked.current = screen !== null && seen.fresh; // until then what comes in is looked at anew
    plan.fit(box);
    setCross(plan.middle());
  }, [plan, screen, items, seen.ready]);
  useEffect(() => plan?.setItems(items), [plan, items]);
  useEffect(() => plan?.setNotes(tool === "look" ? notes.flatMap(({ number, place }) => (place ? [{ number, place: [place[0]!, place[1]!] as const }] : [])) : []), [plan, screen, tool]);
  useEffect(() => plan?.setPictures(preview ? [...under.pictures, preview] : under.pictures), [plan, under, preview]);
  useEffect(() => plan?.setUnder(under.paths), [plan, under]);
  useEffect(() => plan?.setDraft(points, cross, tool === "draw" && what === "area", tool !== "under"), [plan, points, cross, tool, what]);
  useEffect(() => plan?.pick(picked), [plan, picked]);
  useEffect(() => {
    if (note) document.getElementById(`note-${note}`)?.scrollIntoView({ block: "center" });
  }, [note]);

  const choose = (next: Tool) => {
    setTool(tool === next ? "look" : next);
    setPoints([]);
    setWhat(null);
    setAsking(false);
    setAnswers({});
    setSaid("");
    setFoot(null);
    scrollTo(0, 0);
  };
  const see = async (at: Point) => {
    const key = freeName(kind, folded.tables.things?.keys() ?? [], site.mine);
    const row: Record<string, string> = { kind, ...placeCells(at), seen_at: isoLocal(new Date()) };
    if (kind === "paint") row.colour = colour;
    await record({ job, kind: "entry", payload: { table: "things", key, rows: [row] } });
    setPicked(`thing/${key}`);
    setSaid(`${key} is on the plan.`);
  };
  const paint = async (at: Point) => {
    const key = freeName("m", folded.tables.marks?.keys() ?? [], site.mine);
    const line = lineOfColour(site, colour);
    const row: Record<string, string> = { ...(line ? { line } : {}), kind: "centre", colour, ...placeCells(at), painted_at: isoLocal(new Date()) };
    await record({ job, kind: "entry", payload: { table: "marks", key, rows: [row] } });
    setPicked(`paint/${key}`);
    setSaid(`Mark ${key} is on the plan${line ? `, of line ${line}` : ", of no line"}.`);
  };
  const move = async (at: Point) => {
    const [table, key] = item ? tableOf(item) : ["", ""];
    const entry = folded.tables[table]?.get(key);
    if (entry) {
      const rows = entry.rows.map((row) => ({ ...withoutPlace(row), ...placeCells(at) }));
      await record({ job, kind: "entry", payload: { table, key, rows }, supersedes: entry.fact?.id ?? null });
      setSaid(`${key} was moved.`);
    }
    setTool("look");
  };
  const add = (at: Point) => {
    if (tool === "draw" && !what) return;
    const most = tool === "draw" ? DRAWN[what!].most : tool === "under" ? 4 : 500;
    const next = [...points.slice(0, most - 1), at]; // the last one is moved once there are enough
    setPoints(next);
    if (tool === "draw" && next.length === most && most <= 2) void finish(next);
  };
  const finish = async (path: readonly Point[]) => {
    if (!what) return;
    if (DRAWN[what].asks.length > 0 && !asking) return setAsking(true);
    const { draft, id } = draftOf(site, what, path, answers);
    await record(draft);
    choose("draw");
    setTool("look");
    setPicked(id);
    setSaid(`${id.split("/")[1]} is on the plan.`);
  };
  const act = (at: Point, tapped = plan?.what(at) ?? { item: "", note: 0 }) => {
    const there = snap && (tool === "draw" || tool === "measure") ? snapped(at, items, points, SNAP_PX * (plan?.resolution() ?? 0)) : at;
    looked.current = true;
    setCross(there);
    setNote(0);
    if (tool === "see") void see(there);
    else if (tool === "paint") void paint(there);
    else if (tool === "move") void move(there);
    else if (tool === "look") {
      setPicked(tapped.note ? "" : tapped.item);
      setNote(tapped.note);
      setSaid("");
    } else if (!asking) add(there);
  };
  const key = useCallback(
    (name: string): boolean => {
      const way: Record<string, number> = { ArrowUp: 0, ArrowRight: 90, ArrowDown: 180, ArrowLeft: 270 };
      if (name in way) {
        const at = moved(cross, way[name]!, step);
        setCross(at);
        plan?.lookAt(at);
      } else if (name === "Enter" || name === " ") act(cross);
      else if (name === "+" || name === "=") plan?.zoom(0.7);
      else if (name === "-") plan?.zoom(-0.7);
      else if (name === "Escape") setTool("look");
      else return false;
      return true;
    },
    [cross, step, plan, tool, points, what, kind, colour, items, snap, asking],
  );
  const show = (at: Point) => {
    setCross(at);
    plan?.lookAt(at);
    document.querySelector(".plan-frame")?.scrollIntoView({ block: "nearest" });
  };
  const undo = async () => {
    const name = site.last[0] && namedFact(site.last[0]);
    await recordAll(takeBack(job, site.last));
    setPicked("");
    setSaid(`Taken back: ${name}.`);
  };

  const back = (
    <button type="button" disabled={site.last.length === 0} onClick={() => void undo()}>
      {site.last[0] ? `Take back ${namedFact(site.last[0])}` : "Take back"}
    </button>
  );
  const least = what ? DRAWN[what].least : 2;
  const atCross = CROSS_WORDS[tool];
  return (
    <Page
      title="Site"
      back={to("job", job)}
      foot={
        tool === "look" ? (
          <a class="button main wide" href={to("job", job, "read")}>
            New reading
          </a>
        ) : (
          <>
            {foot && <button type="button" class="main wide" onClick={foot.act}>{foot.words}</button>}
            {tool === "draw" && what && (points.length >= least || asking) && (
              <button type="button" class="main wide" onClick={() => void finish(points)}>
                {asking ? `Keep the ${DRAWN[what].words.toLowerCase()}` : "Done"}
              </button>
            )}
            <div class="foot-two">
              {atCross && !asking && (tool !== "draw" || what) && (
                <button type="button" class={points.length >= least || foot ? "" : "main"} onClick={() => act(cross)}>
                  {tool === "see" ? `Put the ${kind} at the cross` : atCross}
                </button>
              )}
              <button type="button" onClick={() => choose(tool)}>
                {tool === "see" || tool === "paint" || tool === "measure" ? "Done" : "Leave it"}
              </button>
            </div>
          </>
        )
      }
    >
      <div class={tool === "look" ? "site" : "site busy"}>
        {tool === "look" && (
          <div class="site-answer">
            <Open site={site} ready={seen.ready} />
          </div>
        )}
        <div class="site-plan">
          <PlanView
            units={units}
            says={`Plan of the site. ${items.length} things on it, all of them in the list below it. Arrow keys move the cross, Enter acts there, plus and minus zoom.`}
            onReady={setPlan}
            onTap={act}
            onMoved={({ shows, middle }) => setCross((at) => (shows(at) || points.length > 0 ? at : middle))}
            onKey={key}
            onAll={all}
          />
          <div class="site-said" role="status">
            <p>{said || (tool === "measure" && points.length > 1 ? measured(points, site) : tool === "draw" && what ? drawnSoFar(what, points, site) : "")}</p>
            <p class="quiet">{crossWords(cross, site)}</p>
          </div>
        </div>
        <div class="site-do">
          {tool === "look" && item && <Picked site={site} item={item} onMove={() => setTool("move")} onGone={setSaid} />}
          {tool === "look" && (
            <div class="site-tools" role="group" aria-label="What to do on the plan">
              {TOOLS.map(([name, words]) => (
                <button type="button" onClick={() => choose(name)}>
                  {words}
                </button>
              ))}
              {back}
            </div>
          )}
          {tool === "move" && <p class="question">Tap where {item?.key} is, or move the cross there.</p>}
          {tool === "see" && <Kinds kind={kind} onKind={setKind} />}
          {(tool === "paint" || (tool === "see" && kind === "paint")) && <Colours colour={colour} onColour={setColour} />}
          {(tool === "see" || tool === "paint") && <div class="choices">{back}</div>}
          {tool === "draw" && !asking && <DrawChoice what={what} onWhat={(next) => (setWhat(next), setPoints([]))} />}
          {tool === "draw" && what && asking && <DrawQuestions site={site} what={what} answers={answers} onAnswers={setAnswers} />}
          {(tool === "draw" || tool === "measure") && !asking && (
            <div class="choices">
              <button type="button" disabled={points.length === 0} onClick={() => setPoints(points.slice(0, -1))}>
                Last point back
              </button>
              <button type="button" aria-pressed={snap} onClick={() => setSnap(!snap)}>
                Snap: {snap ? "on" : "off"}
              </button>
            </div>
          )}
          {tool === "under" && (
            <UnderPanel site={site} cross={cross} points={points} onPreview={setPreview} onFoot={setFoot} onDone={(words) => (setTool("look"), setPoints([]), setSaid(words))} />
          )}
          <CrossPanel site={site} cross={cross} step={step} onStep={setStep} onCross={(at) => (setCross(at), plan?.lookAt(at))} />
          {tool === "look" && (
            <>
              {under.missing.length > 0 && <p class="quiet">Not on this phone yet: {under.missing.join(", ")}.</p>}
              <Notes job={job} notes={notes} picked={note} onShow={({ number, place }) => (setNote(number), place && show([place[0]!, place[1]!]))} />
              <Everything site={site} onPick={(each, at) => (setPicked(each.id), setTool("look"), show(at))} />
              <Stands seen={seen} />
              {screen && <p>{screen.caution}</p>}
            </>
          )}
        </div>
      </div>
    </Page>
  );
}

const CROSS_WORDS: Partial<Record<Tool, string>> = {
  see: "Put it at the cross",
  paint: "Put the paint at the cross",
  draw: "Add the cross as a point",
  measure: "Measure from the cross",
  under: "Take the cross as the point",
  move: "Put it at the cross",
};

/** The answer, first: how much is open, and what comes first. */
function Open({ site: { job, screen, items, folded }, ready }: { site: Site; ready: boolean }) {
  const [first] = screen?.notes ?? [];
  const count = screen?.notes.length ?? 0;
  if (first)
    return (
      <>
        <p class="answer">
          {count} {count === 1 ? "thing is" : "things are"} still open. First: {first.title}.
        </p>
        <p>{first.words}</p>
        {first.opens && (
          <p>
            <a class="button" href={`${to("job", job)}/${first.opens}`}>
              Open the first
            </a>
          </p>
        )}
      </>
    );
  const empty = "Nothing is drawn yet. Tap “Something seen” or “Draw”, then the plan. An empty plan does not mean that nothing is there.";
  if (items.length === 0 && !ready) return <p class="answer">…</p>;
  if (items.length === 0) return <p class="answer">{screen?.empty || empty}</p>;
  const things = folded.tables.things?.size ?? 0;
  return <p class="answer">{screen?.says ?? `Not answered yet. ${things} ${things === 1 ? "thing" : "things"} seen.`}</p>;
}

function Kinds({ kind, onKind }: { kind: string; onKind: (kind: string) => void }) {
  return (
    <>
      <p>What is it? Then one tap on the plan for each.</p>
      <div class="kinds" role="group" aria-label="What is it?">
        {KINDS.map((each) => (
          <button type="button" aria-pressed={kind === each} onClick={() => onKind(each)}>
            {each === "paint" ? "others' paint" : each}
          </button>
        ))}
      </div>
    </>
  );
}

function Colours({ colour, onColour }: { colour: string; onColour: (colour: string) => void }) {
  return (
    <div class="kinds wide-words" role="group" aria-label="Colour of the paint">
      {PAINT.map(([name, words]) => (
        <button type="button" aria-pressed={colour === name} onClick={() => onColour(name)}>
          <span class={`swatch swatch-${name}`} /> {words}
        </button>
      ))}
    </div>
  );
}
