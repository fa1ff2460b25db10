/** What the sheets of a walk, a side reading, a test hole and a sonde share: a number row, the frame, taking back. */
import "./sheets.css";
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { record, type Draft } from "../journal";
import type { Entry } from "../fold/fold";
import { LengthKeys } from "../parts/Keypad";
import { Page } from "../parts/Page";
import { to } from "../router";
import type { Units } from "../words/lengths";
import type { Sheet } from "./job";
import { LineQuestion } from "./LineQuestion";
import { PlaceQuestion } from "./PlaceQuestion";
import { placeShort } from "./place";
import type { Cells } from "../phone/cells";

/** One length at a time: a button for each, the keys below for the one that is open. */
export function Lengths({ units, open, fields, onOpen }: { units: Units; open: string; fields: readonly LengthField[]; onOpen: (name: string) => void }) {
  const field = fields.find((each) => each.name === open);
  const at = fields.findIndex((each) => each.name === open);
  return (
    <>
      <div class="choice-list">
        {fields.map((each) => (
          <button type="button" aria-pressed={each.name === open} onClick={() => onOpen(each.name)}>
            <span>{each.words}</span>
            <span class="choice-quiet">{each.text || "not taken"}</span>
          </button>
        ))}
      </div>
      {field && (
        <LengthKeys
          key={field.name}
          units={units}
          text={field.text}
          label={field.words}
          onText={(text, done) => {
            field.onText(text);
            const next = fields[at + 1];
            if (done && next) onOpen(next.name);
          }}
        />
      )}
    </>
  );
}

export interface LengthField {
  readonly name: string;
  readonly words: string;
  readonly text: string;
  readonly onText: (text: string) => void;
}

interface FrameProps {
  job: string;
  sheet: Sheet;
  title: string;
  line: string;
  sonde?: boolean;
  cells: Cells;
  before: readonly Draft[];
  /** Name that a place tied by tape gets. */
  own: string;
  /** Nothing to be said of the place, where the entry has that of its reading. */
  placed?: string;
  canSave: boolean;
  onLine: (line: string) => void;
  onPlace: (cells: Cells, before: Draft[]) => void;
  onSave: () => Promise<void>;
  children: ComponentChildren;
}

/** The sheet with its line and place as buttons below the question, and Save under the thumb. */
export function Frame(props: FrameProps) {
  const [asked, setAsked] = useState<"" | "line" | "place">("");
  const [busy, setBusy] = useState(false);
  const words = props.sheet.lines.find((each) => each.key === props.line)?.words ?? `${props.line}, utility not said`;
  const save = () => {
    setBusy(true);
    void props.onSave().finally(() => setBusy(false));
  };
  const foot = asked ? (
    <div class="sheet">
      <button type="button" class="main wide" onClick={() => setAsked("")}>
        Go on
      </button>
    </div>
  ) : (
    <div class="sheet">
      <button type="button" class="main wide" disabled={!props.canSave || busy} onClick={save}>
        Save
      </button>
    </div>
  );
  return (
    <Page title={`${props.title}, line ${props.line}`} back={to("job", props.job)} foot={foot}>
      <div class="sheet">
        {asked === "line" && <LineQuestion sheet={props.sheet} line={props.line} sonde={props.sonde ?? false} onLine={(line) => (props.onLine(line), setAsked(""))} />}
        {asked === "place" && <PlaceQuestion sheet={props.sheet} cells={props.cells} own={props.own} before={props.before} onPlace={(cells, before, done) => (props.onPlace(cells, before), done && setAsked(""))} />}
        {!asked && props.children}
        {!asked && (
          <div class="taken">
            <button type="button" onClick={() => setAsked("line")}>
              {words}
            </button>
            {props.placed ? (
              <span>{props.placed}</span>
            ) : (
              <button type="button" onClick={() => setAsked("place")}>
                {placeShort(props.cells) || "place not said"}
              </button>
            )}
          </div>
        )}
      </div>
    </Page>
  );
}

/** Takes an entry back; where it corrected another, that one stands again. */
export function TakeBack({ job, entry, after }: { job: string; entry: Entry | undefined; after: () => void }) {
  const fact = entry?.fact;
  if (!fact) return null;
  const undo = async () => {
    await record({ job, kind: "remove", payload: {}, supersedes: fact.id });
    after();
  };
  return (
    <button type="button" class="wide quiet-button" onClick={() => void undo()}>
      {fact.supersedes ? "Undo the last change" : "Take it back"}
    </button>
  );
}
