// The night as a map: altitude curves, every frame on their axis of time, and a strip of frames to scroll.
import { state, frame, framesOfAct, goTo, mapOf, marksOf, onChange, timeOf } from "./state.js";

const lane = /** @type {HTMLCanvasElement} */ (document.getElementById("lane"));
const strip = /** @type {HTMLElement} */ (document.getElementById("strip"));
const view = /** @type {HTMLCanvasElement} */ (document.getElementById("strip-view"));
const mapBox = /** @type {HTMLElement} */ (document.getElementById("map"));
const width = /** @type {HTMLElement} */ (document.getElementById("strip-width"));
/** Width of a frame in the strip, in CSS pixels. */
const STEP = 12;
/** @typedef {{looked: boolean|null, chosen: boolean|null, trails: {is?: string}[], found: {class?: string}[]}} Marked */
/** @type {import("./state.js").SkyMap|undefined} */
let shown;
/** The drawing of it. */
let drawn = "";
/** @type {Record<string, string>} */
const colours = {};

function readColours() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ["ink", "quiet", "rule", "card", "c0", "c1", "c2", "alert", "paper"]) {
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

/** @param {import("./state.js").SkyMap} map */
function drawing(map) {
  return map.drawings[mapBox.clientWidth < 600 ? 1 : 0];
}

/** The way from a time to its place in the lane, in CSS pixels. @param {import("./state.js").SkyMap} map */
function laneScale(map) {
  const [left, right, whole, height] = drawing(map).extent;
  const box = /** @type {Element} */ (mapBox.firstElementChild).getBoundingClientRect();
  const scale = Math.min(box.width / whole, box.height / height);
  const start = (box.width - whole * scale) / 2 + left * scale;
  const perMs = ((right - left) * scale) / (map.span_ms[1] - map.span_ms[0]);
  return (/** @type {number} */ ms) => start + (ms - map.span_ms[0]) * perMs;
}

/** Every frame in the lane; the one that is shown is pointed at in a copy of it. */
const allFrames = document.createElement("canvas");
let isLaneOld = true;

/** @param {import("./state.js").SkyMap} map @param {(ms: number) => number} place @param {number} wide */
function drawAllFrames(map, place, wide) {
  const c = prepared(allFrames, wide, 34);
  const sessions = new Set(map.sessions);
  for (const f of state.frames) {
    if (f.start_ms === null || f.session === null || !sessions.has(f.session)) continue;
    const x = place(f.start_ms);
    marks(c, f, x, Math.max(place(f.start_ms + (f.exposure_s ?? 1) * 1000) - x, 1), 0);
  }
  isLaneOld = false;
}

function drawLane() {
  lane.hidden = !shown;
  if (!shown) return;
  lane.style.width = "100%";
  const wide = mapBox.clientWidth;
  const place = laneScale(shown);
  if (isLaneOld) drawAllFrames(shown, place, wide);
  const c = prepared(lane, wide, 34);
  c.drawImage(allFrames, 0, 0, wide, 34);
  const current = frame();
  if (current.start_ms !== null) {
    const x = place(current.start_ms);
    c.fillStyle = colours.ink;
    c.beginPath();
    c.moveTo(x - 5, 0);
    c.lineTo(x + 5, 0);
    c.lineTo(x, 8);
    c.fill();
    c.fillRect(x - 0.5, 0, 1, 34);
  }
}

let waits = false;

export function drawStrip() {
  if (waits) return;
  waits = true;
  requestAnimationFrame(() => {
    waits = false;
    const wide = strip.clientWidth;
    const c = prepared(view, wide, 44);
    const from = strip.scrollLeft;
    const run = new Set(state.runFrom === null ? [] : framesOfAct().map((f) => f.id));
    const first = Math.max(0, Math.floor(from / STEP));
    const end = Math.min(state.frames.length, Math.ceil((from + wide) / STEP));
    for (let at = first; at < end; at += 1) {
      const f = state.frames[at];
      const x = at * STEP - from;
      if (run.has(f.id)) {
        c.fillStyle = colours.rule;
        c.fillRect(x, 0, STEP, 44);
      }
      marks(c, f, x + 2, STEP - 4, 4);
      if (at === state.at) {
        c.strokeStyle = colours.ink;
        c.lineWidth = 2;
        c.strokeRect(x + 1, 1, STEP - 2, 42);
      }
    }
  });
}

function drawMap() {
  const map = mapOf(frame()) ?? state.maps[0];
  const svg = map ? drawing(map).svg : "";
  if (map === shown && svg === drawn) return;
  [shown, drawn] = [map, svg];
  isLaneOld = true;
  const parsed = new DOMParser().parseFromString(svg, "text/html");
  mapBox.replaceChildren(...parsed.body.children);
}

function showCurrent() {
  const [left, right] = [state.at * STEP, (state.at + 1) * STEP];
  if (left < strip.scrollLeft + 3 * STEP || right > strip.scrollLeft + strip.clientWidth - 3 * STEP) {
    strip.scrollLeft = left - strip.clientWidth / 2;
  }
  const f = frame();
  strip.setAttribute("aria-valuenow", String(state.at + 1));
  strip.setAttribute("aria-valuemax", String(state.frames.length));
  strip.setAttribute("aria-valuetext", `${f.file}, ${timeOf(f)}, ${marksOf(f)}`);
}

function drawLegend() {
  const legend = /** @type {HTMLElement} */ (document.getElementById("legend"));
  /** @type {Marked} */
  const none = { looked: null, chosen: null, trails: [], found: [] };
  /** @type {[string, Marked, number][]} */
  const rows = [
    ["looked at", { ...none, looked: true }, -21],
    ["meteor", { ...none, trails: [{ is: "meteor" }] }, -10],
    ["other trail", { ...none, trails: [{ is: "other" }] }, -12],
    ["found: meteor", { ...none, found: [{ class: "meteor" }] }, -11],
    ["found: other light", { ...none, found: [{ class: "other-light" }] }, -11],
    ["chosen", { ...none, chosen: true }, 1],
    ["not chosen", { ...none, chosen: false }, 1],
  ];
  legend.replaceChildren(
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

export function redrawAll() {
  readColours();
  isLaneOld = true;
  width.style.width = `${state.frames.length * STEP}px`;
  drawMap();
  drawLane();
  drawStrip();
  drawLegend();
}

lane.addEventListener("click", (event) => {
  if (!shown) return;
  const { sessions } = shown;
  const place = laneScale(shown);
  const x = event.offsetX;
  let best = -1;
  let distance = Infinity;
  state.frames.forEach((f, at) => {
    if (f.start_ms === null || f.session === null || !sessions.includes(f.session)) return;
    const away = Math.abs(place(f.start_ms) - x);
    if (away < distance) [best, distance] = [at, away];
  });
  if (best >= 0) goTo(best);
});
view.addEventListener("click", (event) => goTo(Math.floor((strip.scrollLeft + event.offsetX) / STEP)));
strip.addEventListener("scroll", drawStrip, { passive: true });
addEventListener("resize", redrawAll);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redrawAll);

onChange((what) => {
  if (what === "place") {
    drawMap();
    showCurrent();
  }
  if (what === "night") redrawAll();
  if (what === "frames") isLaneOld = true;
  if (what === "over") return;
  if (!colours.ink) redrawAll();
  drawLane();
  drawStrip();
});
