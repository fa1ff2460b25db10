/** What is where, what is still open? A plan in the job's own grid that needs no tiles and no server. */
import "../map/map.css";
import { useState } from "preact/hooks";
import type { Shown } from "../api/screens";
import type { Seen } from "../api/useScreen";
import { Stands } from "../draw/Stands";
import { CrossPanel } from "../map/CrossPanel";
import { DRAWN } from "../map/drawn";
import { DrawChoice, DrawQuestions, drawnSoFar } from "../map/DrawPanel";
import { namedFact } from "../map/facts";
import { PAINT } from "../map/inks";
import type { SiteScreen } from "../map/items";
import { Everything, Notes } from "../map/Notes";
import { Picked } from "../map/Picked";
import type { Picture, Plan } from "../map/plan";
import { PlanView } from "../map/PlanView";
import { crossWords, measured } from "../map/said";
import { UnderPanel } from "../map/UnderPanel";
import { usePlan } from "../map/usePlan";
import { useSite, type Site } from "../map/useSite";
import { useTools, type Tool, type Tools } from "../map/useTools";
import { useUnder } from "../map/useUnder";
import { Answer } from "../parts/Answer";
import { Page } from "../parts/Page";
import { to, type ScreenProps } from "../router";
import { THING_KINDS } from "../sheets/place";

const TOOLS: readonly (readonly [Tool, string])[] = [
  ["see", "Something seen"],
  ["draw", "Draw"],
  ["paint", "Paint put down"],
  ["measure", "Measure"],
  ["under", "Lay under"],
];
const KINDS = [...THING_KINDS, "other"];

/** What a panel puts under the thumb. */
type Foot = { words: string; act: () => void } | null;

export default function SiteOf({ job }: ScreenProps) {
  const { site, seen } = useSite(job);
  if (!site) return <p class="loading">…</p>;
  return <OnSite site={site} seen={seen} />;
}

function OnSite({ site, seen }: { site: Site; seen: Seen<Shown<SiteScreen>> }) {
  const { job, folded, items, units, screen } = site;
  const [plan, setPlan] = useState<Plan | null>(null);
  const [preview, setPreview] = useState<Picture | null>(null);
  const [foot, setFoot] = useState<Foot>(null);
  const tools = useTools(site, plan);
  const under = useUnder(folded);
  const all = usePlan(plan, site, tools, under, preview, seen.fresh);
  const { tool, cross, points } = tools;
  const item = items.find(({ id }) => id === tools.picked) ?? null;
  const looking = tool === "look";
  return (
    <Page title="Site" back={to("job", job)} foot={looking ? <Read job={job} /> : <ToolFoot tools={tools} foot={foot} />}>
      <div class={looking ? "site" : "site busy"}>
        {looking && (
          <div class="site-answer">
            <Open site={site} ready={seen.ready} />
          </div>
        )}
        <div class="site-plan">
          <PlanView
            units={units}
            says={`Plan of the site. ${items.length} things on it, all of them in the list below it. Arrow keys move the cross, Enter acts there, plus and minus zoom.`}
            onReady={setPlan}
            onTap={tools.act}
            onMoved={({ shows, middle }) => tools.setCross((at) => (shows(at) || points.length > 0 ? at : middle))}
            onKey={tools.key}
            onAll={all}
          />
          <div class="site-said" role="status">
            <p>{tools.said || soFar(site, tools)}</p>
            <p class="quiet">{crossWords(cross, site)}</p>
          </div>
        </div>
        <div class="site-do">
          {looking && item && <Picked site={site} item={item} onMove={() => tools.setTool("move")} onGone={tools.setSaid} />}
          {looking && (
            <div class="site-tools" role="group" aria-label="What to do on the plan">
              {TOOLS.map(([name, words]) => (
                <button type="button" onClick={() => tools.choose(name)}>
                  {words}
                </button>
              ))}
              <TakeBack site={site} tools={tools} />
            </div>
          )}
          <InHand site={site} tools={tools} />
          {tool === "under" && (
            <UnderPanel site={site} cross={cross} points={points} onPreview={setPreview} onFoot={setFoot} onDone={(words) => tools.choose("look", words)} />
          )}
          <CrossPanel site={site} cross={cross} step={tools.step} onStep={tools.setStep} onCross={tools.goTo} />
          {looking && (
            <>
              {under.missing.length > 0 && <p class="quiet">Not on this phone yet: {under.missing.join(", ")}.</p>}
              <Notes job={job} notes={screen?.notes ?? []} picked={tools.note} onShow={({ number, place }) => place && tools.show([place[0]!, place[1]!], { note: number })} />
              <Everything site={site} onPick={({ id }, at) => tools.show(at, { item: id })} />
              <Stands seen={seen} />
              {screen && <p>{screen.caution}</p>}
            </>
          )}
        </div>
      </div>
    </Page>
  );
}

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
  if (items.length === 0) return <Answer words={screen?.empty || empty} />;
  const things = folded.tables.things?.size ?? 0;
  return <p class="answer">{screen?.says ?? `Not answered yet. ${things} ${things === 1 ? "thing" : "things"} seen.`}</p>;
}

function soFar(site: Site, { tool, points, what }: Tools): string {
  if (tool === "measure") return points.length > 1 ? measured(points, site) : "Tap two points or more.";
  return tool === "draw" && what ? drawnSoFar(what, points, site) : "";
}

/** The questions of the tool in hand. */
function InHand({ site, tools }: { site: Site; tools: Tools }) {
  const { tool, what, asking, kind, colour, snap, points } = tools;
  if (tool === "move") return <p class="question">Tap where it is, or move the cross there.</p>;
  if (tool === "see" || tool === "paint")
    return (
      <>
        {tool === "see" && <Kinds kind={kind} onKind={tools.setKind} />}
        {(tool === "paint" || kind === "paint") && <Colours colour={colour} onColour={tools.setColour} />}
        <div class="choices">
          <TakeBack site={site} tools={tools} />
        </div>
      </>
    );
  if (tool === "draw" && what && asking) return <DrawQuestions site={site} what={what} answers={tools.answers} onAnswers={tools.setAnswers} />;
  if (tool !== "draw" && tool !== "measure") return null;
  return (
    <>
      {tool === "draw" && <DrawChoice what={what} onWhat={tools.drawNext} />}
      <div class="choices">
        <button type="button" disabled={points.length === 0} onClick={tools.lastBack}>
          Last point back
        </button>
        <button type="button" aria-pressed={snap} onClick={() => tools.setSnap(!snap)}>
          Snap: {snap ? "on" : "off"}
        </button>
      </div>
    </>
  );
}

function TakeBack({ site: { last }, tools }: { site: Site; tools: Tools }) {
  return (
    <button type="button" disabled={last.length === 0} onClick={() => void tools.undo()}>
      {last[0] ? `Take back ${namedFact(last[0])}` : "Take back"}
    </button>
  );
}

function Read({ job }: { job: string }) {
  return (
    <a class="button main wide" href={to("job", job, "read")}>
      New reading
    </a>
  );
}

const AT_CROSS: Readonly<Record<Tool, string>> = {
  look: "",
  see: "Put it at the cross",
  paint: "Put the paint at the cross",
  draw: "Add the cross as a point",
  measure: "Measure from the cross",
  under: "Take the cross as the point",
  move: "Put it at the cross",
};

function ToolFoot({ tools, foot }: { tools: Tools; foot: Foot }) {
  const { tool, what, points, asking, cross, kind } = tools;
  const ready = tool === "draw" && what !== null && (points.length >= DRAWN[what].least || asking);
  const ends = tool === "see" || tool === "paint" || tool === "measure";
  return (
    <>
      {foot && (
        <button type="button" class="main wide" onClick={foot.act}>
          {foot.words}
        </button>
      )}
      {ready && (
        <button type="button" class="main wide" onClick={() => void tools.finish(points)}>
          {asking ? `Keep the ${DRAWN[what].words.toLowerCase()}` : "Done"}
        </button>
      )}
      <div class="foot-two">
        {!asking && (tool !== "draw" || what) && (
          <button type="button" class={ready || foot ? "" : "main"} onClick={() => tools.act(cross)}>
            {tool === "see" ? `Put the ${kind} at the cross` : AT_CROSS[tool]}
          </button>
        )}
        <button type="button" onClick={() => tools.choose("look")}>
          {ends ? "Done" : "Leave it"}
        </button>
      </div>
    </>
  );
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
