/** What the drawn screens hold, from the types that the build makes of the server's OpenAPI. */
import type { components } from "../api/schema";

type Schemas = components["schemas"];

export type AlongLine = Schemas["AlongLine"];
export type AlongPlace = Schemas["AlongPlace"];
export type AlongScreen = Schemas["AlongScreen"];
export type Cited = Schemas["Cited"];
export type IdentityCheck = Schemas["IdentityCheck"];
export type Ink = Schemas["Ink"];
export type Section = Schemas["Section"];
export type SectionLine = Schemas["SectionLine"];
export type SectionScreen = Schemas["SectionScreen"];
export type Standing = Schemas["Standing"];
export type WhichLine = Schemas["WhichLine"];
export type WhichScreen = Schemas["WhichScreen"];
