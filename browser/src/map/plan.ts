/** The map: a flat plan in the job's own grid, with no tiles. What it holds is handed to it; what is tapped it tells. */
import "ol/ol.css";
import Feature from "ol/Feature";
import OlMap from "ol/Map";
import View from "ol/View";
import type { Coordinate } from "ol/coordinate";
import LineString from "ol/geom/LineString";
import MultiPoint from "ol/geom/MultiPoint";
import OlPoint from "ol/geom/Point";
import Polygon from "ol/geom/Polygon";
import { defaults } from "ol/interaction/defaults";
import ImageLayer from "ol/layer/Image";
import VectorLayer from "ol/layer/Vector";
import Projection from "ol/proj/Projection";
import ImageCanvas from "ol/source/ImageCanvas";
import VectorSource from "ol/source/Vector";
import CircleStyle from "ol/style/Circle";
import Fill from "ol/style/Fill";
import Stroke from "ol/style/Stroke";
import Style from "ol/style/Style";
import type { Item } from "./items";
import { distance, roundLength, type Path, type Point } from "./plane";
import { itemStyle, label, shadesNow, type Shades } from "./styles";
import type { Affine } from "./underlay";
import { length, type Units } from "../words/lengths";

export interface Picture {
  readonly image: ImageBitmap;
  readonly place: Affine;
}

/** A numbered note at a place. */
export interface Note {
  readonly number: number;
  readonly place: Point;
}

export interface PlanEvents {
  /** A tap on the plan. */
  onTap: (at: Point, tapped: { item: string; note: number }) => void;
  /** The plan was moved, turned or zoomed. */
  onMoved: (view: { resolution: number; turnedDeg: number; middle: Point; shows: (at: Point) => boolean }) => void;
}

const GRID = new Projection({ code: "the job's own grid", units: "m", getPointResolution: (resolution) => resolution });
const FINEST_M = 0.0002;
const COARSEST_M = 20;
const REACH_PX = 22;
/** How far above its place the sign of a note stands. */
const SIGN_PX = 26;

const pair = (at: Coordinate): Point => [at[0]!, at[1]!];
const open = (path: Path): Coordinate[] => path.map(([x, y]) => [x, y]);

export class Plan {
  private readonly map: OlMap;
  private readonly view = new View({ projection: GRID, center: [0, 0], resolution: 0.03, minResolution: FINEST_M, maxResolution: COARSEST_M, constrainRotation: false });
  private readonly sources = { grid: new VectorSource(), under: new VectorSource(), items: new VectorSource(), draft: new VectorSource(), notes: new VectorSource() };
  private readonly pictures: ImageLayer<ImageCanvas>;
  private placed: readonly Picture[] = [];
  private notes: readonly Note[] = [];
  private shades: Shades = shadesNow();
  private picked = "";
  private readonly watches: (() => void)[] = [];

  constructor(
    target: HTMLElement,
    private readonly units: Units,
    events: PlanEvents,
  ) {
    const { grid, under, items, draft, notes } = this.sources;
    this.pictures = new ImageLayer({ source: this.pictureSource() });
    this.map = new OlMap({
      target,
      view: this.view,
      controls: [],
      interactions: defaults({ keyboard: false, doubleClickZoom: false, altShiftDragRotate: false }),
      layers: [
        this.pictures,
        new VectorLayer({ source: grid, style: () => new Style({ stroke: new Stroke({ color: this.shades.faint, width: 1 }) }) }),
        new VectorLayer({ source: under, style: () => new Style({ stroke: new Stroke({ color: this.shades.edge, width: 1.5 }), image: new CircleStyle({ radius: 3, fill: new Fill({ color: this.shades.edge }) }) }) }),
        new VectorLayer({ source: items, declutter: true, style: (feature, resolution) => itemStyle(feature, resolution, this.shades, this.picked) }),
        new VectorLayer({ source: notes, style: (feature) => this.noteStyle(String(feature.get("words"))) }),
        new VectorLayer({ source: draft, style: (feature) => this.draftStyle(feature.get("what") as string, String(feature.get("words") ?? "")) }),
      ],
    });
    this.map.on("click", ({ pixel, coordinate }) => events.onTap(pair(coordinate), this.tapped(pixel)));
    const told = () => {
      this.drawGrid();
      this.drawNotes();
      const turnedDeg = ((this.view.getRotation() * 180) / Math.PI + 360) % 360;
      events.onMoved({ resolution: this.resolution(), turnedDeg, middle: this.middle(), shows: (at) => this.shows(at) });
    };
    this.map.on("moveend", told);
    this.watchShades();
  }

  close(): void {
    this.watches.forEach((stop) => stop());
    this.map.setTarget(undefined);
    this.map.dispose();
  }

  setItems(items: readonly Item[]): void {
    const features = items.flatMap((item) => [
      ...(item.rings.length ? [new Feature({ geometry: new Polygon(item.rings.map(open)), item, part: "area" })] : []),
      ...(item.path.length > 1 ? [new Feature({ geometry: new LineString(open(item.path)), item, part: "path" })] : []),
      ...(item.path.length === 1 ? [new Feature({ geometry: new OlPoint([...item.path[0]!]), item, part: "point" })] : []),
    ]);
    refill(this.sources.items, features);
  }

  setNotes(notes: readonly Note[]): void {
    this.notes = notes;
    this.drawNotes();
  }

  /** Points tapped so far and the cross; whether they are joined, each leg with its length, and the path closes. */
  setDraft(points: Path, cross: Point, closes: boolean, joined: boolean): void {
    const features = [];
    if (joined && points.length > 1) {
      const path = closes && points.length > 2 ? [...points, points[0]!] : points;
      features.push(new Feature({ geometry: new LineString(open(path)), what: "path" }));
      for (const [i, to] of points.slice(1).entries()) {
        const from = points[i]!;
        const middle = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
        features.push(new Feature({ geometry: new OlPoint(middle), what: "words", words: length(distance(from, to), this.units) }));
      }
    }
    if (points.length) features.push(new Feature({ geometry: new MultiPoint(open(points)), what: "points" }));
    features.push(new Feature({ geometry: new OlPoint([...cross]), what: "cross" }));
    refill(this.sources.draft, features);
  }

  setPictures(pictures: readonly Picture[]): void {
    this.placed = pictures;
    this.pictures.setSource(this.pictureSource());
  }

  setUnder(paths: readonly Path[]): void {
    refill(
      this.sources.under,
      paths.map((path) => new Feature(path.length > 1 ? new LineString(open(path)) : new OlPoint([...path[0]!]))),
    );
  }

  pick(id: string): void {
    this.picked = id;
    this.sources.items.changed();
  }

  /** Look at a box, with room round it. */
  fit([west, south, east, north]: readonly [number, number, number, number]): void {
    const size = this.map.getSize() ?? [360, 360];
    this.view.fit([west, south, east, north], { size, padding: [36, 60, 44, 24], minResolution: 0.002 });
  }

  middle(): Point {
    return pair(this.view.getCenter() ?? [0, 0]);
  }

  lookAt(at: Point): void {
    if (!this.shows(at)) this.view.setCenter([...at]);
  }

  zoom(by: number): void {
    this.view.adjustZoom(by);
  }

  turn(byDeg: number): void {
    this.view.adjustRotation((byDeg * Math.PI) / 180);
  }

  northUp(): void {
    this.view.setRotation(0);
  }

  /** Metres that a pixel covers. */
  resolution(): number {
    return this.view.getResolution() ?? 0.03;
  }

  what(at: Point): { item: string; note: number } {
    return this.tapped(this.map.getPixelFromCoordinate([...at]));
  }

  private shows(at: Point): boolean {
    const [x = -1, y = -1] = this.map.getPixelFromCoordinate([...at]) ?? [];
    const [width = 0, height = 0] = this.map.getSize() ?? [];
    return x >= 12 && y >= 12 && x <= width - 12 && y <= height - 12;
  }

  /** What is meant by a tap: the sign of a note, the nearest point, else a line, else an area. */
  private tapped(pixel: number[] | null): { item: string; note: number } {
    if (!pixel) return { item: "", note: 0 };
    const found = this.map.getFeaturesAtPixel(pixel, { hitTolerance: REACH_PX });
    const far = (feature: (typeof found)[number]) => {
      const nearest = (feature.getGeometry() as LineString).getClosestPoint(this.map.getCoordinateFromPixel(pixel));
      const [x = 0, y = 0] = this.map.getPixelFromCoordinate(nearest);
      return Math.hypot(x - pixel[0]!, y - pixel[1]!);
    };
    const rank = { point: 0, path: REACH_PX, area: 2 * REACH_PX } as const;
    const ranked = found
      .filter((feature) => feature.get("item"))
      .map((feature) => ({ id: (feature.get("item") as Item).id, far: far(feature) + rank[feature.get("part") as keyof typeof rank] }))
      .sort((a, b) => a.far - b.far);
    return { item: ranked[0]?.id ?? "", note: this.noteAt(pixel) };
  }

  /** The first number of the sign at a pixel, 0 where there is none. */
  private noteAt(pixel: number[]): number {
    for (const feature of this.sources.notes.getFeatures()) {
      const [x = 0, y = 0] = this.map.getPixelFromCoordinate((feature.getGeometry() as OlPoint).getCoordinates()) ?? [];
      const wide = 14 + 5 * String(feature.get("words")).length;
      if (Math.abs(pixel[0]! - x) < wide && Math.abs(pixel[1]! - y + SIGN_PX) < 16) return (feature.get("notes") as number[])[0]!;
    }
    return 0;
  }

  private noteStyle(words: string): Style[] {
    const { text, ground } = this.shades;
    const said = label(words, this.shades);
    said.setFill(new Fill({ color: ground }));
    said.setStroke(undefined as never);
    said.setFont("700 16px system-ui, sans-serif");
    said.setOffsetY(-SIGN_PX);
    said.setBackgroundFill(new Fill({ color: text }));
    said.setBackgroundStroke(new Stroke({ color: ground, width: 2 }));
    said.setPadding([4, 7, 3, 7]);
    return [new Style({ text: said, image: new CircleStyle({ radius: 3, fill: new Fill({ color: text }), stroke: new Stroke({ color: ground, width: 1 }) }) })];
  }

  private draftStyle(what: string, words: string): Style[] {
    const { text, ground } = this.shades;
    if (what === "words") {
      const said = label(words, this.shades);
      said.setBackgroundFill(new Fill({ color: ground }));
      said.setPadding([2, 4, 1, 4]);
      return [new Style({ text: said })];
    }
    if (what === "path") return [new Style({ stroke: new Stroke({ color: ground, width: 7 }) }), new Style({ stroke: new Stroke({ color: text, width: 3 }) })];
    if (what === "points") return [new Style({ image: new CircleStyle({ radius: 6, fill: new Fill({ color: ground }), stroke: new Stroke({ color: text, width: 3 }) }) })];
    return [crossStyle(ground, 7), crossStyle(text, 3)];
  }

  /** Notes whose numbers would lie over each other share one sign. */
  private drawNotes(): void {
    const groups: { at: Point; notes: number[] }[] = [];
    const near = 30 * this.resolution();
    for (const { number, place } of this.notes) {
      const group = groups.find(({ at, notes }) => distance(at, place) < near * (0.6 + 0.4 * notes.length));
      if (group) group.notes.push(number);
      else groups.push({ at: place, notes: [number] });
    }
    const words = (notes: number[]) => (notes.length > 3 ? `${notes[0]}, ${notes[1]} …` : notes.join(", "));
    refill(
      this.sources.notes,
      groups.map(({ at, notes }) => new Feature({ geometry: new OlPoint([...at]), notes, words: words(notes) })),
    );
  }

  /** Lines every round length, so that an empty plan has a scale too. */
  private drawGrid(): void {
    const size = this.map.getSize();
    if (!size) return;
    const [west, south, east, north] = this.view.calculateExtent(size) as [number, number, number, number];
    const step = roundLength(Math.max(east - west, north - south) / 5, this.units);
    const lines: LineString[] = [];
    for (let x = Math.ceil(west / step) * step; x <= east; x += step) lines.push(new LineString([[x, south], [x, north]]));
    for (let y = Math.ceil(south / step) * step; y <= north; y += step) lines.push(new LineString([[west, y], [east, y]]));
    refill(this.sources.grid, lines.map((line) => new Feature(line)));
  }

  private pictureSource(): ImageCanvas {
    return new ImageCanvas({
      ratio: 1,
      projection: GRID,
      canvasFunction: ([west = 0, , , north = 0], resolution, pixelRatio, [width = 1, height = 1]) => {
        const canvas = document.createElement("canvas");
        [canvas.width, canvas.height] = [width, height];
        const drawing = canvas.getContext("2d")!;
        const dark = luma(this.shades.ground) < 0.5;
        const m = pixelRatio / resolution;
        for (const { image, place } of this.placed) {
          drawing.setTransform(place.a * m, -place.d * m, place.b * m, -place.e * m, (place.c - west) * m, (north - place.f) * m);
          drawing.globalAlpha = dark ? 0.45 : 0.75;
          drawing.drawImage(image, 0, 0);
        }
        return canvas;
      },
    });
  }

  private watchShades(): void {
    const again = () => {
      this.shades = shadesNow();
      for (const source of Object.values(this.sources)) source.changed();
      this.setPictures(this.placed);
    };
    const watch = new MutationObserver(again);
    watch.observe(document.documentElement, { attributes: true, attributeFilter: ["data-light"] });
    const dark = matchMedia("(prefers-color-scheme: dark)");
    dark.addEventListener("change", again);
    this.watches.push(() => watch.disconnect(), () => dark.removeEventListener("change", again));
  }
}

/** A cross that leaves its middle open, so that what is under it can be seen. */
function crossStyle(color: string, width: number): Style {
  return new Style({
    renderer: ([x, y], { context, pixelRatio }) => {
      const [u, v] = [x as number, y as number];
      context.strokeStyle = color;
      context.lineWidth = width * pixelRatio;
      context.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
        context.moveTo(u + dx * 5 * pixelRatio, v + dy * 5 * pixelRatio);
        context.lineTo(u + dx * 20 * pixelRatio, v + dy * 20 * pixelRatio);
      }
      context.stroke();
    },
  });
}

function refill(source: VectorSource, features: Feature[]): void {
  source.clear(true);
  source.addFeatures(features);
  source.changed();
}

/** How light a grey is, from 0 to 1. */
function luma(colour: string): number {
  const digits = (/^#([0-9a-f]+)/i.exec(colour)?.[1] ?? "fff").match(colour.length < 7 ? /./g : /../g)!;
  return parseInt(digits[1]!, 16) / (colour.length < 7 ? 15 : 255);
}
