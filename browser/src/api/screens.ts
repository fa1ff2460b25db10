/** The server's JSON by name, from the types that the build makes of its OpenAPI (`schema.d.ts`). */
import type { components } from "./schema";

type Schemas = components["schemas"];

/** Every screen of a job comes with how the answer behind it stands; null where nothing can be shown yet. */
export interface Shown<T> {
  standing: Schemas["Standing"];
  screen: T | null;
  /** What is still being worked out for it, or why it cannot be; absent in what was kept by an older page. */
  note?: string;
}

export type AnswerScreen = Schemas["AnswerScreen"];
export type CodeBody = Schemas["CodeBody"];
export type DevicesBody = Schemas["DevicesBody"];
export type PositionBody = Schemas["PositionBody"];
export type FactsOut = Schemas["FactsOut"];
export type FactsTaken = Schemas["FactsTaken"];
export type PlaceAnswer = Schemas["PlaceAnswer"];
export type Question = Schemas["Question"];
export type TodayScreen = Schemas["TodayScreen"];
export type Go = Schemas["Go"];
export type GuideScreen = Schemas["GuideScreen"];
export type GuideStep = Schemas["GuideStep"];
export type SaidScreen = Schemas["SaidScreen"];
export type HandoverScreen = Schemas["HandoverScreen"];
export type MarkToPaint = Schemas["MarkToPaint"];
export type PaintedRow = Schemas["PaintedRow"];
export type ImportedBody = Schemas["ImportedBody"];
export type LogLook = Schemas["LogLook"];
export type LogMapping = Schemas["LogMapping"];
export type LogTaken = Schemas["LogTaken"];
