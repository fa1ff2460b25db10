/** What the screens of ground seen from above hold, from the types that the build makes of the server's OpenAPI. */
import type { components } from "../api/schema";

type Schemas = components["schemas"];

export type ClearanceDig = Schemas["ClearanceDig"];
export type ClearanceScreen = Schemas["ClearanceScreen"];
export type DrawnDig = Schemas["DrawnDig"];
export type Extent = Schemas["Extent"];
export type Hatch = Schemas["Hatch"];
export type PlanAnswer = Schemas["PlanAnswer"];
export type PlanChoice = Schemas["PlanChoice"];
export type PlanHookup = Schemas["PlanHookup"];
export type PlanPlace = Schemas["PlanPlace"];
export type PlanQuestions = Schemas["PlanQuestions"];
export type PlanRow = Schemas["PlanRow"];
export type PlanScreen = Schemas["PlanScreen"];
export type SweepMap = Schemas["SweepMap"];
export type SweepMethod = Schemas["SweepMethod"];
export type SweepScreen = Schemas["SweepScreen"];

/** A place in the job's own grid: metres east, metres north. */
export type Grid = readonly number[];
