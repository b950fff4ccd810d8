// The picture, what is drawn over it, and the crosses that draw a trail.
import { state, view, frame, itemsOf, selected, onChange, changed, say } from "./state.js";
import { gridOf, overShapes } from "./over.js";
import { drawTriangle } from "./triangle.js";

const box = /** @type {HTMLElement} */ (document.getElementById("stage"));
const canvas = /** @type {HTMLCanvasElement} */ (document.getElementById("picture"));
const over = /** @type {SVGSVGElement} */ (/** @type {unknown} */ (document.getElementById("over")));
const glass = /** @type {HTMLCanvasElement} */ (document.getElementById("glass"));
const why = /** @type {HTMLElement} */ (document.getElementById("why"));

/** @typedef {{bitmap: ImageBitmap|null, why: string}} Picture */
/** @type {Map<number, Promise<Picture>>} */
const pictures = new Map();
/** @type {Map<number, Picture>} */
const ready = new Map();
/** The most pixels of pictures that are kept decoded, and the fewest pictures. */
const [MOST_PIXELS, FEWEST] = [64e6, 5];
/** Side of the magnifier in CSS pixels, and how much larger it shows a pixel of the preview. */
const [GLASS, LARGER] = [192, 8];
/** Below this scale two by two pixels are not enough for a pixel of the screen: stars would be missed. A better way takes 10 ms more. */
const COARSE = 0.4;
/** Room for the words of a trail, in CSS pixels. */
const LABEL = 150;

/** @param {number} id @returns {Promise<Picture>} */
async function fetched(id) {
  try {
    const answer = await fetch(`picture/${id}`);
    if (!answer.ok) return { bitmap: null, why: `No picture: ${(await answer.json()).problem}` };
    return { bitmap: await createImageBitmap(await answer.blob(), { imageOrientation: "none" }), why: "" };
  } catch {
    return { bitmap: null, why: "No picture: its preview cannot be decoded." };
  }
}

/** Reads a picture, if it is not there yet. @param {number} at @returns {Promise<unknown>|undefined} */
function wanted(at) {
  const f = state.frames[at];
  if (!f) return undefined;
  const known = pictures.get(f.id);
  if (known) {
    // The least recently shown is the first to go.
    pictures.delete(f.id);
    pictures.set(f.id, known);
    return known;
  }
  const coming = fetched(f.id);
  pictures.set(f.id, coming);
  return coming.then((picture) => {
    if (pictures.get(f.id) !== coming) return;
    ready.set(f.id, picture);
    evict();
    if (frame().id === f.id || view.blink === at) changed("picture");
  });
}

/** Reads a picture, and then its neighbours: the one that is looked at is not kept waiting by them. @param {number} at */
async function readAhead(at) {
  const { id } = state.frames[at];
  // What could not be read is tried again: its disk may be connected by now.
  if (ready.get(id)?.bitmap === null && ready.delete(id)) pictures.delete(id);
  await wanted(at);
  if (state.at !== at) return;
  for (const step of [1, 2, -1, 3]) wanted(at + step);
  // Asked for last, so it is the last to go.
  wanted(at);
}

function evict() {
  let pixels = 0;
  for (const p of ready.values()) pixels += p.bitmap ? p.bitmap.width * p.bitmap.height : 0;
  for (const id of [...pictures.keys()]) {
    if (pixels <= MOST_PIXELS || pictures.size <= FEWEST) break;
    const picture = ready.get(id);
    if (!picture || id === frame().id) continue;
    pixels -= picture.bitmap ? picture.bitmap.width * picture.bitmap.height : 0;
    picture.bitmap?.close();
    ready.delete(id);
    pictures.delete(id);
  }
}

/**
 * Stored pixels of the preview to the upright picture, by EXIF orientation.
 * @param {number} orientation
 * @param {number} w
 * @param {number} h
 */
function upright(orientation, w, h) {
  /** @type {Record<number, number[]>} */
  const turns = {
    1: [1, 0, 0, 1, 0, 0], 2: [-1, 0, 0, 1, w, 0], 3: [-1, 0, 0, -1, w, h], 4: [1, 0, 0, -1, 0, h],
    5: [0, 1, 1, 0, 0, 0], 6: [0, 1, -1, 0, h, 0], 7: [0, -1, -1, 0, h, w], 8: [0, -1, 1, 0, 0, w],
  };
  return new DOMMatrix(turns[orientation] ?? turns[1]);
}

/**
 * The picture that is shown, its size, and its way to the screen; null where there is none.
 * @param {number} [at]
 */
export function geometry(at = view.blink ?? state.at) {
  const f = state.frames[at];
  const bitmap = ready.get(f.id)?.bitmap;
  if (!bitmap) return null;
  const [w, h] = [bitmap.width, bitmap.height];
  const turn = upright(f.orientation, w, h);
  const [uw, uh] = f.orientation >= 5 ? [h, w] : [w, h];
  const [bw, bh] = [box.clientWidth, box.clientHeight];
  const scale = Math.min(bw / uw, bh / uh) * view.zoom;
  const place = new DOMMatrix([scale, 0, 0, scale, bw / 2 - view.middle[0] * uw * scale, bh / 2 - view.middle[1] * uh * scale]);
  const toScreen = place.multiply(turn);
  const full = [(f.width_px ?? w) / w, (f.height_px ?? h) / h];
  return { f, bitmap, w, h, toScreen, full, scale };
}

/** @param {[number, number]} point of the full picture @returns {[number, number]} */
function onScreen(point) {
  const g = geometry();
  if (!g) return [0, 0];
  const p = g.toScreen.transformPoint({ x: point[0] / g.full[0], y: point[1] / g.full[1] });
  return [p.x, p.y];
}

/** @param {number} x @param {number} y @returns {[number, number]|null} a point of the full picture */
export function inPicture(x, y) {
  const g = geometry();
  if (!g) return null;
  const p = g.toScreen.inverse().transformPoint({ x, y });
  return [Math.max(0, Math.min(g.w, p.x)) * g.full[0], Math.max(0, Math.min(g.h, p.y)) * g.full[1]];
}

/** @param {string} name @param {Record<string, string|number>} attributes */
function svg(name, attributes) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const key of Object.keys(attributes)) element.setAttribute(key, String(attributes[key]));
  return element;
}

/** @param {[number, number]} a @param {[number, number]} b @param {string} kind */
function line(a, b, kind) {
  const [p, q] = [onScreen(a), onScreen(b)];
  const ends = { x1: p[0], y1: p[1], x2: q[0], y2: q[1] };
  return [svg("line", { ...ends, class: "halo" }), svg("line", { ...ends, class: kind })];
}

/** @param {[number, number]} at */
function cross(at) {
  const [x, y] = onScreen(at);
  return [
    [x - 14, y, x - 3, y], [x + 3, y, x + 14, y], [x, y - 14, x, y - 3], [x, y + 3, x, y + 14],
  ].flatMap(([x1, y1, x2, y2]) => [
    svg("line", { x1, y1, x2, y2, class: "halo" }),
    svg("line", { x1, y1, x2, y2, class: "cross" }),
  ]);
}

/** @param {import("./state.js").Trail} trail @param {boolean} isSelected */
function trailShapes(trail, isSelected) {
  const kind = `trail${isSelected ? " one" : ""}${trail.candidate === undefined ? "" : " found"}`;
  const shapes = line(trail.from, trail.to, kind);
  // Candidates that are hardly meteors would cover the picture with words.
  const words = trail.is ?? (isSelected || trail.class === "meteor" ? `${trail.class}? ${trail.score?.toFixed(2)}` : "");
  if (words) {
    const [x, y] = onScreen(trail.to);
    const isLeft = x > box.clientWidth - LABEL;
    const below = Math.max(14, Math.min(box.clientHeight - 6, y + 4));
    const label = svg("text", { x: isLeft ? x - 8 : x + 8, y: below, ...(isLeft ? { "text-anchor": "end" } : {}) });
    label.textContent = trail.shower ? `${words} ${trail.shower}` : words;
    shapes.push(label);
  }
  return shapes;
}

/** A direction of the stored picture on the screen. @param {[number, number]} vector @returns {[number, number]} */
function turned(vector) {
  const g = geometry();
  if (!g) return [0, 0];
  const m = g.toScreen;
  const [x, y] = [m.a * vector[0] + m.c * vector[1], m.b * vector[0] + m.d * vector[1]];
  const length = Math.hypot(x, y) || 1;
  return [x / length, y / length];
}

/**
 * A neighbouring frame turned into the place of the one that is shown, by a grid of points that show the same stars; whether it could be.
 * @param {CanvasRenderingContext2D} c
 * @param {number} ratio
 */
function drawTurned(c, ratio) {
  if (view.blink === null) return false;
  const [shown, other] = [geometry(state.at), geometry(view.blink)];
  const grid = shown && other ? gridOf(shown.f, other.f) : undefined;
  if (!shown || !other || !grid?.nodes) return false;
  const { columns, rows, nodes } = grid;
  /** @param {number} k @returns {{from: [number, number], to: [number, number]}|null} */
  const node = (k) => {
    const from = nodes[k];
    if (!from) return null;
    const x = ((k % columns) / (columns - 1)) * shown.w;
    const y = (Math.floor(k / columns) / (rows - 1)) * shown.h;
    const p = shown.toScreen.transformPoint({ x, y });
    return { from: [from[0] / other.full[0], from[1] / other.full[1]], to: [p.x * ratio, p.y * ratio] };
  };
  for (let row = 0; row + 1 < rows; row += 1) {
    for (let column = 0; column + 1 < columns; column += 1) {
      const k = row * columns + column;
      const [a, b, d, e] = [node(k), node(k + 1), node(k + columns), node(k + columns + 1)];
      if (a && b && d) drawTriangle(c, other.bitmap, [a, b, d]);
      if (b && d && e) drawTriangle(c, other.bitmap, [b, d, e]);
    }
  }
  return true;
}

function drawOver() {
  /** @type {Element[]} */
  const shapes = [];
  if (geometry()) {
    if (view.blink === null) {
      shapes.push(...overShapes(onScreen, turned, [box.clientWidth, box.clientHeight], svg));
      if (state.shows.trails) itemsOf(frame()).forEach((trail, k) => shapes.push(...trailShapes(trail, k === state.trail)));
    }
    if (view.drawing) {
      const { ends, at } = view.drawing;
      if (ends.length === 1) shapes.push(...line(ends[0], at, "trail one"));
      if (ends.length === 2) shapes.push(...line(ends[0], ends[1], "trail one"));
      for (const end of ends) shapes.push(...cross(end));
      if (ends.length < 2) shapes.push(...cross(at));
    }
  }
  over.replaceChildren(...shapes);
}

function drawGlass() {
  const g = geometry();
  glass.hidden = !view.drawing || !g || view.drawing.ends.length === 2;
  if (!view.drawing || !g || glass.hidden) return;
  const c = /** @type {CanvasRenderingContext2D} */ (glass.getContext("2d"));
  const p = new DOMMatrix(upright(g.f.orientation, g.w, g.h).toString());
  const at = p.transformPoint({ x: view.drawing.at[0] / g.full[0], y: view.drawing.at[1] / g.full[1] });
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.fillStyle = "#000";
  c.fillRect(0, 0, GLASS, GLASS);
  c.imageSmoothingEnabled = false;
  const m = new DOMMatrix([LARGER, 0, 0, LARGER, GLASS / 2 - at.x * LARGER, GLASS / 2 - at.y * LARGER]).multiply(p);
  c.setTransform(m);
  c.drawImage(g.bitmap, 0, 0);
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.strokeStyle = getComputedStyle(document.documentElement).getPropertyValue("--mark");
  c.strokeRect(GLASS / 2 - LARGER / 2, GLASS / 2 - LARGER / 2, LARGER, LARGER);
}

export function draw() {
  const ratio = devicePixelRatio || 1;
  const [w, h] = [Math.round(box.clientWidth * ratio), Math.round(box.clientHeight * ratio)];
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  const c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.clearRect(0, 0, w, h);
  const shown = state.frames[view.blink ?? state.at];
  const picture = ready.get(shown.id);
  why.hidden = !picture || picture.bitmap !== null;
  why.textContent = picture ? picture.why : "";
  canvas.setAttribute("aria-label", picture?.bitmap ? `Picture ${shown.file}` : picture?.why || `Picture ${shown.file} is being read`);
  canvas.dataset.shown = picture ? String(shown.id) : "";
  const g = geometry();
  if (g) {
    c.imageSmoothingEnabled = g.scale * ratio < 3;
    c.imageSmoothingQuality = g.scale * ratio < COARSE ? "medium" : "low";
    const isTurned = drawTurned(c, ratio);
    canvas.dataset.turned = String(isTurned);
    if (!isTurned) {
      c.setTransform(new DOMMatrix([ratio, 0, 0, ratio, 0, 0]).multiply(g.toScreen));
      c.drawImage(g.bitmap, 0, 0);
    }
  }
  drawOver();
  drawGlass();
}

/** @param {number|null} at */
export function blink(at) {
  if (view.blink === at || (at !== null && !state.frames[at])) return;
  view.blink = at;
  if (at !== null) {
    wanted(at);
    const grid = gridOf(frame(), state.frames[at]);
    say(`${state.frames[at].file}${grid?.nodes ? ", turned with the sky" : ", as it is: pointing unknown"}`);
  } else {
    say(frame().file);
  }
  draw();
}

/** @param {number} zoom */
export function zoomTo(zoom) {
  const trail = selected();
  const g = geometry();
  if (view.zoom === 1 && g) {
    const at = view.drawing ? view.drawing.at : trail ? [(trail.from[0] + trail.to[0]) / 2, (trail.from[1] + trail.to[1]) / 2] : null;
    if (at) {
      const p = upright(g.f.orientation, g.w, g.h).transformPoint({ x: at[0] / g.full[0], y: at[1] / g.full[1] });
      const [uw, uh] = g.f.orientation >= 5 ? [g.h, g.w] : [g.w, g.h];
      view.middle = [p.x / uw, p.y / uh];
    }
  }
  view.zoom = Math.max(1, Math.min(32, zoom));
  if (view.zoom === 1) view.middle = [0.5, 0.5];
  draw();
}

/** @param {number} x @param {number} y in shares of what is shown */
export function pan(x, y) {
  view.middle = [
    Math.max(0, Math.min(1, view.middle[0] + x / view.zoom)),
    Math.max(0, Math.min(1, view.middle[1] + y / view.zoom)),
  ];
  draw();
}

export function beginDrawing() {
  const at = inPicture(box.clientWidth / 2, box.clientHeight / 2);
  if (!at) return say("There is no picture to draw on.", true);
  view.drawing = { ends: [], at };
  say("Move the cross with the arrows (finely with Shift), set each end with Enter; or click both ends.");
  draw();
}

/**
 * Moves the cross on the screen by pixels of the preview.
 * @param {number} dx
 * @param {number} dy
 */
export function moveCross(dx, dy) {
  const g = geometry();
  if (!view.drawing || !g) return;
  const [x, y] = onScreen(view.drawing.at);
  view.drawing.at = inPicture(x + dx * g.scale, y + dy * g.scale) ?? view.drawing.at;
  draw();
}

export function setEnd() {
  if (!view.drawing || view.drawing.ends.length === 2) return;
  view.drawing.ends.push([...view.drawing.at]);
  say(view.drawing.ends.length === 1 ? "Now the other end." : "What is it? m meteor, s satellite, a aircraft, o other; Esc to leave it.");
  draw();
}

export function endDrawing() {
  view.drawing = null;
  draw();
}

/** @type {[number, number]|null} */
let dragged = null;
box.addEventListener("pointerdown", (event) => {
  const at = /** @type {[number, number]} */ ([event.offsetX, event.offsetY]);
  if (view.drawing) {
    if (view.drawing.ends.length < 2) {
      view.drawing.at = inPicture(...at) ?? view.drawing.at;
      setEnd();
    }
    return;
  }
  dragged = at;
});
box.addEventListener("pointermove", (event) => {
  if (view.drawing && view.drawing.ends.length < 2) {
    view.drawing.at = inPicture(event.offsetX, event.offsetY) ?? view.drawing.at;
    draw();
  } else if (dragged && view.zoom > 1) {
    pan((dragged[0] - event.offsetX) / box.clientWidth, (dragged[1] - event.offsetY) / box.clientHeight);
    dragged = [event.offsetX, event.offsetY];
  }
});
addEventListener("pointerup", () => (dragged = null));
box.addEventListener("wheel", (event) => {
  event.preventDefault();
  zoomTo(view.zoom * (event.deltaY < 0 ? 1.25 : 0.8));
}, { passive: false });

onChange((what) => {
  // What turns a neighbouring frame may come while it is shown.
  if (what.has("place") || what.has("picture") || what.has("page") || view.blink !== null) draw();
  else drawOver();
  if (what.has("place")) readAhead(state.at);
});
