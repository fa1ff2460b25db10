/** How each kind of thing is drawn. Hues are those of the utilities' colour code; letters and words say the same. */
import type { FeatureLike } from "ol/Feature";
import CircleStyle from "ol/style/Circle";
import Fill from "ol/style/Fill";
import RegularShape from "ol/style/RegularShape";
import Stroke from "ol/style/Stroke";
import Style from "ol/style/Style";
import Text from "ol/style/Text";
import { LAYERS, type Item } from "./items";

export interface Shades {
  readonly ground: string;
  readonly text: string;
  readonly edge: string;
  readonly faint: string;
  readonly hues: Readonly<Record<string, string>>;
}

const HUES = ["red", "yellow", "orange", "blue", "purple", "green", "pink"];

/** Shades of the page as it is shown now, by day or by night. */
export function shadesNow(): Shades {
  const style = getComputedStyle(document.documentElement);
  const shade = (name: string) => style.getPropertyValue(`--${name}`).trim();
  const hues = Object.fromEntries(HUES.map((name) => [name, shade(name)]));
  return { ground: shade("ground"), text: shade("text"), edge: shade("edge"), faint: shade("faint"), hues: { ...hues, white: "#ffffff" } };
}

type Part = "area" | "path" | "point";

/** The style of a feature that carries an item: `part` says which of its shapes it is. */
export function itemStyle(feature: FeatureLike, resolution: number, shades: Shades, picked: string): Style[] {
  const item = feature.get("item") as Item;
  const part = feature.get("part") as Part;
  const zIndex = 10 * LAYERS.indexOf(item.layer) + (part === "area" ? 0 : 5);
  const styles = part === "area" ? area(item, shades) : part === "path" ? path(item, resolution, shades) : point(item, shades);
  if (item.id === picked && part !== "area") styles.unshift(halo(part, shades));
  for (const style of styles) style.setZIndex(zIndex);
  return styles;
}

const hueOf = (item: Item, { hues, text }: Shades) => (item.ink?.colour && hues[item.ink.colour]) || (item.colour && hues[item.colour]) || text;

function area(item: Item, shades: Shades): Style[] {
  if (item.layer === "dig") return [new Style({ fill: new Fill({ color: seeThrough(shades.edge, 0.15) }), stroke: new Stroke({ color: shades.text, width: 3 }), text: label(item.label, shades) })];
  const thin = item.layer === "second" ? new Stroke({ color: shades.text, width: 1, lineDash: [3, 5] }) : new Stroke({ color: shades.text, width: 1 });
  return [new Style({ fill: new Fill({ color: seeThrough(hueOf(item, shades), item.layer === "second" ? 0.12 : 0.28) }), stroke: thin })];
}

function path(item: Item, resolution: number, shades: Shades): Style[] {
  const hue = hueOf(item, shades);
  const wide = item.widthM / resolution;
  if (item.layer === "dig") {
    if (item.rings.length) return [];
    const outer = new Style({ stroke: new Stroke({ color: shades.text, width: Math.max(wide, 4) + 5, lineCap: "butt" }) });
    const inner = new Style({ stroke: new Stroke({ color: shades.faint, width: Math.max(wide, 4), lineCap: "butt" }), text: label(item.label, shades) });
    return [outer, inner];
  }
  if (item.layer === "record") {
    const sure = new Style({ stroke: new Stroke({ color: seeThrough(hue, 0.1), width: Math.max(wide, 1), lineCap: "butt" }) });
    const line = new Style({ stroke: new Stroke({ color: hue, width: 2, lineDash: [14, 5, 3, 5] }), text: along(item.ink?.letter ?? "?", shades, "400 15px system-ui, sans-serif", 170) });
    const casing = new Style({ stroke: new Stroke({ color: shades.text, width: 3.5, lineDash: [14, 5, 3, 5] }) });
    return wide > 0 ? [sure, casing, line] : [casing, line];
  }
  if (item.layer === "line") {
    const letter = new Style({ stroke: new Stroke({ color: hue, width: 4 }), text: along(item.ink?.letter ?? "?", shades, "700 17px system-ui, sans-serif", 140) });
    return [new Style({ stroke: new Stroke({ color: shades.text, width: 7 }) }), letter];
  }
  if (item.layer === "second") return [new Style({ stroke: new Stroke({ color: hue, width: 2, lineDash: [3, 5] }), text: along(item.ink?.letter ?? "?", shades, "700 17px system-ui, sans-serif", 140) })];
  if (item.layer === "baseline") return [new Style({ stroke: new Stroke({ color: shades.text, width: 1.5, lineDash: [24, 4, 4, 4] }), text: along(item.label, shades, "400 14px system-ui, sans-serif") })];
  return [new Style({ stroke: new Stroke({ color: shades.edge, width: 1.5, lineDash: [2, 6] }) })];
}

function point(item: Item, shades: Shades): Style[] {
  const { text, ground } = shades;
  const hue = hueOf(item, shades);
  const said = label(item.label, shades, 14);
  const edge = new Stroke({ color: text, width: 2 });
  const none = "none" as const;
  switch (item.layer) {
    case "reading":
      return [new Style({ image: new RegularShape({ points: 4, radius: 8, radius2: 0, angle: Math.PI / 4, stroke: edge, declutterMode: none }), text: said })];
    case "paint":
      return [new Style({ image: new CircleStyle({ radius: 6, fill: new Fill({ color: hue }), stroke: edge, declutterMode: none }) })];
    case "to-paint":
      return [new Style({ image: new CircleStyle({ radius: 4, fill: new Fill({ color: ground }), stroke: new Stroke({ color: text, width: 1.5 }), declutterMode: none }) })];
    case "hole":
      return [new Style({ image: new CircleStyle({ radius: 9, fill: new Fill({ color: ground }), stroke: edge, declutterMode: none }), text: said })];
    case "corner":
      return [new Style({ image: new RegularShape({ points: 3, radius: 8, fill: new Fill({ color: ground }), stroke: edge, declutterMode: none }), text: said })];
    default: {
      const fill = new Fill({ color: item.colour ? hue : text });
      return [new Style({ image: new RegularShape({ points: 4, radius: 9, angle: Math.PI / 4, fill, stroke: edge, declutterMode: none }), text: label(item.label, shades, 17) })];
    }
  }
}

function halo(part: Part, { edge }: Shades): Style {
  if (part === "path") return new Style({ stroke: new Stroke({ color: seeThrough(edge, 0.6), width: 20 }) });
  return new Style({ image: new CircleStyle({ radius: 18, stroke: new Stroke({ color: edge, width: 5 }), declutterMode: "none" }) });
}

export function label(words: string, { text, ground }: Shades, offsetX = 0): Text {
  return new Text({
    text: words,
    font: "600 15px system-ui, sans-serif",
    fill: new Fill({ color: text }),
    stroke: new Stroke({ color: ground, width: 4 }),
    textAlign: offsetX ? "left" : "center",
    offsetX,
    overflow: true,
  });
}

function along(words: string, { text, ground }: Shades, font: string, repeat?: number): Text {
  const fill = new Fill({ color: text });
  return new Text({ text: words, font, fill, stroke: new Stroke({ color: ground, width: 5 }), placement: "line", textBaseline: "middle", declutterMode: "none", ...(repeat ? { repeat } : {}) });
}

function seeThrough(colour: string, share: number): string {
  const long = /^#[0-9a-f]{3}$/i.test(colour) ? colour.replace(/[0-9a-f]/gi, "$&$&") : colour; // a build may shorten it
  return long + Math.round(share * 255).toString(16).padStart(2, "0");
}
