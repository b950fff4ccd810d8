// The night as a map: altitude curves, every frame on their axis of time, and a strip of frames to scroll.
import { state, frame, framesOfAct, goTo, mapOf, marksOf, onChange, changed, timeOf } from "./state.js";

/** @param {string} id */
const by = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const lane = by("lane");
const laneView = /** @type {HTMLCanvasElement} */ (document.getElementById("lane-view"));
const strip = by("strip");
const mapBox = by("map");
/** Width of a frame in the strip, height of strip and lane, in CSS pixels. */
const [STEP, HIGH, LANE_HIGH] = [12, 44, 34];
/** The lane is an overview of all frames: with what is stated it is drawn again after so many milliseconds, not with each key. */
const LANE_REST = 300;
/** Frames of a tile of the strip: each tile is drawn when it comes near, so that scrolling draws nothing. */
const TILE = 64;
/** @typedef {{looked: boolean|null, chosen: boolean|null, trails: {is?: string}[], found: {class?: string}[]}} Marked */
/** @type {import("./state.js").SkyMap|undefined} */
let shown;
/** The drawing of it. */
let drawn = "";
/** The place of a time in the lane, in CSS pixels. */
let placeOf = (/** @type {number} */ ms) => ms;
/** @type {Record<string, string>} */
const colours = {};

function readColours() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ["quiet", "rule", "c0", "c1", "c2"]) {
    colours[name] = style.getPropertyValue(`--${name}`).trim();
  }
}

/**
 * @param {HTMLCanvasElement} canvas
 * @param {number} cssWidth
 * @param {number} cssHeight
 */
function prepared(canvas, cssWidth, cssHeight) {
  const ratio = devicePixelRatio || 1;
  const [w, h] = [Math.round(cssWidth * ratio), Math.round(cssHeight * ratio)];
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
    canvas.style.width = `${cssWidth}px`;
    canvas.style.height = `${cssHeight}px`;
  }
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.clearRect(0, 0, cssWidth, cssHeight);
  return context;
}

/**
 * The marks of a frame in a column: looked at (a bar below), trails (strokes in the middle), candidates (dots there), chosen (a square
 * above).
 * @param {CanvasRenderingContext2D} c
 * @param {Marked} f
 * @param {number} x
 * @param {number} wide
 * @param {number} top
 */
function marks(c, f, x, wide, top) {
  if (f.looked !== null) {
    c.fillStyle = f.looked ? colours.quiet : colours.rule;
    c.fillRect(x, top + 24, wide, f.looked ? 8 : 3);
  }
  const meteors = f.trails.filter((t) => t.is === "meteor").length;
  if (meteors) {
    c.fillStyle = colours.c0;
    c.fillRect(x, top + 11, Math.max(wide, 2), 11);
  } else if (f.trails.length) {
    c.fillStyle = colours.c1;
    c.fillRect(x, top + 16, Math.max(wide, 2), 6);
  } else if (f.found.length) {
    c.fillStyle = f.found.some((t) => t.class === "meteor") ? colours.c0 : colours.c1;
    c.fillRect(x, top + 14, Math.max(wide, 2), 3);
    c.fillRect(x, top + 19, Math.max(wide, 2), 3);
  }
  if (f.chosen !== null) {
    c.fillStyle = c.strokeStyle = colours.c2;
    const side = Math.max(Math.min(wide, 7), 3);
    if (f.chosen) c.fillRect(x, top + 2, side, 7);
    else c.strokeRect(x + 0.5, top + 2.5, side - 1, 6);
  }
}

/** The way from a time to its place in the lane. @param {import("./state.js").SkyMap} map */
function laneScale(map) {
  const [, [left, right, whole, height]] = drawingOf(map);
  const box = /** @type {Element} */ (mapBox.firstElementChild).getBoundingClientRect();
  const scale = Math.min(box.width / whole, box.height / height);
  const start = (box.width - whole * scale) / 2 + left * scale;
  const perMs = ((right - left) * scale) / (map.span_ms[1] - map.span_ms[0]);
  return (/** @type {number} */ ms) => start + (ms - map.span_ms[0]) * perMs;
}

/** @param {import("./state.js").SkyMap} map */
const drawingOf = (map) => map.drawings[mapBox.clientWidth < 600 ? 1 : 0];

/** The map of the frame that is shown; whether it is another than before. */
function drawMap() {
  const map = mapOf(frame()) ?? state.maps[0];
  const svg = map ? drawingOf(map)[0] : "";
  if (map === shown && svg === drawn) return false;
  [shown, drawn] = [map, svg];
  mapBox.replaceChildren(...new DOMParser().parseFromString(svg, "text/html").body.children);
  return true;
}

/** Every frame of the map's sessions, on its axis of time. */
function drawLane() {
  laneDue = 0;
  lane.hidden = !shown;
  if (!shown) return;
  placeOf = laneScale(shown);
  const c = prepared(laneView, mapBox.clientWidth, LANE_HIGH);
  const sessions = new Set(shown.sessions);
  for (const f of state.frames) {
    if (f.start_ms === null || f.session === null || !sessions.has(f.session)) continue;
    const x = placeOf(f.start_ms);
    marks(c, f, x, Math.max(placeOf(f.start_ms + (f.exposure_s ?? 1) * 1000) - x, 1), 0);
  }
}

/** @typedef {{canvas: HTMLCanvasElement, isNear: boolean, isOld: boolean}} Tile */
/** @type {Tile[]} */
let tiles = [];
const near = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    const tile = tiles[Number(/** @type {HTMLElement} */ (entry.target).dataset.tile)];
    tile.isNear = entry.isIntersecting;
    if (!tile.isNear) [tile.canvas.width, tile.isOld] = [0, true];
  }
  drawTiles();
}, { root: strip, rootMargin: "0px 100%" });

/** The run that is shaded in the strip. */
let runShown = "";
let laneDue = 0;

function makeTiles() {
  tiles = Array.from({ length: Math.ceil(state.frames.length / TILE) }, (_, k) => {
    const canvas = document.createElement("canvas");
    canvas.dataset.tile = String(k);
    canvas.style.width = `${Math.min(TILE, state.frames.length - k * TILE) * STEP}px`;
    near.observe(canvas);
    return { canvas, isNear: false, isOld: true };
  });
  by("strip-tiles").replaceChildren(...tiles.map((tile) => tile.canvas));
}

/** Draws the tiles that are near and not drawn yet, or all that are near. */
function drawTiles(isAll = false) {
  const run = new Set(state.runFrom === null ? [] : framesOfAct().map((f) => f.id));
  tiles.forEach((tile, k) => {
    tile.isOld ||= isAll;
    if (!tile.isNear || !tile.isOld) return;
    tile.isOld = false;
    const frames = state.frames.slice(k * TILE, (k + 1) * TILE);
    const c = prepared(tile.canvas, frames.length * STEP, HIGH);
    frames.forEach((f, at) => {
      if (run.has(f.id)) {
        c.fillStyle = colours.rule;
        c.fillRect(at * STEP, 0, STEP, HIGH);
      }
      marks(c, f, at * STEP + 2, STEP - 4, 4);
    });
  });
}

/** Points at the frame that is shown, in the lane and in the strip. */
function pointAt() {
  const f = frame();
  const [left, right] = [state.at * STEP, (state.at + 1) * STEP];
  if (left < strip.scrollLeft + 3 * STEP || right > strip.scrollLeft + strip.clientWidth - 3 * STEP) {
    strip.scrollLeft = left - strip.clientWidth / 2;
  }
  by("strip-at").style.transform = `translateX(${left}px)`;
  by("lane-at").hidden = f.start_ms === null;
  if (f.start_ms !== null) by("lane-at").style.transform = `translateX(${placeOf(f.start_ms)}px)`;
  strip.setAttribute("aria-valuenow", String(state.at + 1));
  strip.setAttribute("aria-valuemax", String(state.frames.length));
  strip.setAttribute("aria-valuetext", `${f.file}, ${timeOf(f)}, ${marksOf(f)}`);
}

function drawLegend() {
  /** @type {Marked} */
  const none = { looked: null, chosen: null, trails: [], found: [] };
  /** @type {[string, Marked, number][]} */
  const rows = [
    ["not looked at yet", { ...none, looked: false }, -18],
    ["looked at", { ...none, looked: true }, -21],
    ["meteor", { ...none, trails: [{ is: "meteor" }] }, -10],
    ["other trail", { ...none, trails: [{ is: "other" }] }, -12],
    ["found: meteor", { ...none, found: [{ class: "meteor" }] }, -11],
    ["found: other light", { ...none, found: [{ class: "other-light" }] }, -11],
    ["chosen", { ...none, chosen: true }, 1],
    ["not chosen", { ...none, chosen: false }, 1],
  ];
  by("legend").replaceChildren(
    ...rows.map(([words, f, top]) => {
      const item = document.createElement("li");
      const canvas = document.createElement("canvas");
      canvas.setAttribute("aria-hidden", "true");
      marks(prepared(canvas, 12, 14), f, 2, 8, top);
      item.append(canvas, words);
      return item;
    }),
  );
}

lane.addEventListener("click", (event) => {
  if (!shown) return;
  const { sessions } = shown;
  const x = event.clientX - lane.getBoundingClientRect().left;
  let best = -1;
  let distance = Infinity;
  state.frames.forEach((f, at) => {
    if (f.start_ms === null || f.session === null || !sessions.includes(f.session)) return;
    const away = Math.abs(placeOf(f.start_ms) - x);
    if (away < distance) [best, distance] = [at, away];
  });
  if (best >= 0) goTo(best);
});
by("strip-tiles").addEventListener("click", (event) => {
  goTo(Math.floor((event.clientX - by("strip-tiles").getBoundingClientRect().left) / STEP));
});
// Their sizes change with the window, and with bars to scroll beside them.
const sizes = new ResizeObserver(() => changed("page"));
sizes.observe(mapBox);
sizes.observe(by("stage"));
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => changed("page"));

onChange((what) => {
  if (!tiles.length) makeTiles();
  const isAnew = what.has("page") || !colours.quiet;
  if (isAnew) {
    readColours();
    drawLegend();
  }
  const isOtherMap = drawMap();
  if (isAnew || isOtherMap) drawLane();
  else if (what.has("stated")) laneDue ||= setTimeout(drawLane, LANE_REST);
  const run = state.runFrom === null ? "" : `${state.runFrom} to ${state.at}`;
  if (isAnew || what.has("stated") || run !== runShown) drawTiles(true);
  runShown = run;
  if (isAnew || isOtherMap || what.has("place") || what.has("stated")) pointAt();
});
