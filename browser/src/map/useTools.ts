/** What is being done on the plan: the tool in hand, the points tapped so far, the cross, and what was picked. */
import { useRef, useState } from "preact/hooks";
import { recordAll } from "../journal";
import { STEPS } from "./CrossPanel";
import { DRAWN, type Answers, type What } from "./drawn";
import { namedFact, takeBack } from "./facts";
import type { Plan } from "./plan";
import { moved, type Path, type Point } from "./plane";
import { putDrawn, putElsewhere, putPaint, putThing, type Put } from "./putting";
import { snapped } from "./said";
import type { Site } from "./useSite";

export type Tool = "look" | "see" | "paint" | "draw" | "measure" | "under" | "move";

/** From how near a tap is taken for a point that is there. */
const SNAP_PX = 18;
const MOST_POINTS = 500;
const WAY: Readonly<Record<string, number>> = { ArrowUp: 0, ArrowRight: 90, ArrowDown: 180, ArrowLeft: 270 };

export type Tools = ReturnType<typeof useTools>;

export function useTools(site: Site, plan: Plan | null) {
  const [tool, setTool] = useState<Tool>("look");
  const [cross, setCross] = useState<Point>([0, 0]);
  const [points, setPoints] = useState<Path>([]);
  const [picked, setPicked] = useState("");
  const [note, setNote] = useState(0);
  const [said, setSaid] = useState("");
  const [kind, setKind] = useState("meter");
  const [colour, setColour] = useState("red");
  const [what, setWhat] = useState<What | null>(null);
  const [asking, setAsking] = useState(false);
  const [answers, setAnswers] = useState<Answers>({});
  const [snap, setSnap] = useState(true);
  const [step, setStep] = useState<number>(STEPS[site.units][1]![1]);
  const used = useRef(false);

  const choose = (next: Tool, sentence = "") => {
    setTool(next);
    setPoints([]);
    setWhat(null);
    setAsking(false);
    setAnswers({});
    setSaid(sentence);
    scrollTo(0, 0);
  };
  const tell = ({ id, said: sentence }: Put) => {
    setPicked(id);
    setSaid(sentence);
  };
  const finish = async (path: Path) => {
    if (!what) return;
    if (DRAWN[what].asks.length > 0 && !asking) return setAsking(true);
    const put = await putDrawn(site, what, path, answers);
    choose("look");
    tell(put);
  };
  const add = (at: Point) => {
    if (asking || (tool === "draw" && !what)) return;
    const most = tool === "draw" ? DRAWN[what!].most : tool === "under" ? 4 : MOST_POINTS;
    const next = [...points.slice(0, most - 1), at]; // the last one is moved once there are enough
    setPoints(next);
    if (tool === "draw" && next.length === most && most <= 2) void finish(next);
  };
  const pick = (tapped: { item: string; note: number }) => {
    setPicked(tapped.note ? "" : tapped.item);
    setNote(tapped.note);
    setSaid("");
    if (tapped.note) document.getElementById(`note-${tapped.note}`)?.scrollIntoView({ block: "center" });
  };
  /** The tool used at a place: a tap on the plan, or the cross. */
  const act = (at: Point, tapped = plan?.what(at) ?? { item: "", note: 0 }) => {
    const taken = snap && (tool === "draw" || tool === "measure");
    const there = taken ? snapped(at, site.items, points, SNAP_PX * (plan?.resolution() ?? 0)) : at;
    const item = site.items.find(({ id }) => id === picked);
    used.current = true;
    setCross(there);
    if (tool === "look") pick(tapped);
    else if (tool === "see") void putThing(site, kind, colour, there).then(tell);
    else if (tool === "paint") void putPaint(site, colour, there).then(tell);
    else if (tool === "move") void (item && putElsewhere(site, item, there).then((put) => (setTool("look"), tell(put))));
    else add(there);
  };
  const goTo = (at: Point) => {
    setCross(at);
    plan?.lookAt(at);
  };
  const key = (name: string): boolean => {
    const way = WAY[name];
    if (way !== undefined) goTo(moved(cross, way, step));
    else if (name === "Enter" || name === " ") act(cross);
    else if (name === "+" || name === "=") plan?.zoom(0.7);
    else if (name === "-") plan?.zoom(-0.7);
    else if (name === "Escape") choose("look");
    else return false;
    return true;
  };
  const show = (at: Point, { item = "", note: number = 0 }) => {
    setPicked(item);
    setNote(number);
    goTo(at);
    document.querySelector(".plan-frame")?.scrollIntoView({ block: "nearest" });
  };
  const undo = async () => {
    const name = site.last[0] && namedFact(site.last[0]);
    await recordAll(takeBack(site.job, site.last));
    tell({ id: "", said: `Taken back: ${name}.` });
  };
  const lastBack = () => setPoints(points.slice(0, -1));
  const drawNext = (next: What) => (setWhat(next), setPoints([]));
  return {
    ...{ tool, cross, points, picked, note, said, kind, colour, what, asking, answers, snap, step, used },
    ...{ choose, act, finish, goTo, key, show, undo, lastBack, drawNext },
    ...{ setCross, setKind, setColour, setAnswers, setSnap, setStep, setSaid, setTool },
  };
}
