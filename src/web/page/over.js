// What is over a picture on request, and beside it: evidence of its trails, radiants, great circles, names of stars. And the grids by
// which a neighbouring frame is turned into its place.
import { state, frame, itemsOf, onChange, changed } from "./state.js";

/** @typedef {[number, number]} Point */
/** @typedef {[number, number, number]} Taken where a label begins, and its width */
/**
 * @typedef {{trail: number|null, candidate: number|null, length_deg: number|null, path: string|null, miss_deg: Point|null,
 *   evidence: string[], doubts: string[], circle: Point[]}} TrailFacts
 */
/**
 * @typedef {{facts: import("./state.js").Facts|null, pointing: boolean, trails: TrailFacts[], stars: {name: string, at: Point}[],
 *   radiants: {shower: string, at: Point|null, towards: Point, away_deg: number}[]}} Over
 */
/** @typedef {{columns: number, rows: number, nodes: (Point|null)[]|null}} Grid */
/** @typedef {(name: string, attributes: Record<string, string|number>) => SVGElement} Svg */

/** @type {Map<string, Over>} */
const overs = new Map();
/** @type {Map<string, Grid>} */
const grids = new Map();
/** As many frames are kept; the page asks again for others. */
const MOST = 200;
/** How long a frame is shown before more is asked for than its picture, in milliseconds. */
const SETTLED = 60;
/** Where most labels may be, as far below their place, in CSS pixels. */
const SHIFTS = [0, 16, -16];
/** Width of a letter of a label, and how far apart lines are, in CSS pixels. */
const [LETTER, LINE] = [8, 14];
/** Room for labels at the edge of the picture. */
const EDGE = 26;
/** How far a mark keeps from another, and where it may move to along the edge, in CSS pixels. */
const CLEAR = 28;
const ALONG = [0, 32, -32, 64, -64, 96, -96, 128, -128];

/** A frame with the trails it has now. @param {import("./state.js").Frame} f */
const keyOf = (f) => `${f.id}:${itemsOf(f).map((t) => `${t.trail ?? ""}c${t.candidate ?? ""}${t.is ?? ""}${t.shower ?? ""}`).join()}`;

/** What is known over the picture of a frame, once it came. @param {import("./state.js").Frame} f */
export const overOf = (f) => overs.get(keyOf(f));

/** @param {import("./state.js").Frame} shown @param {import("./state.js").Frame} other */
export const gridOf = (shown, other) => grids.get(`${shown.id}/${other.id}`);

/**
 * @template T
 * @param {Map<string, T>} map
 * @param {string} key
 * @param {string} address
 * @param {(answer: T) => void} [took]
 */
async function ask(map, key, address, took) {
  if (map.has(key)) return;
  try {
    const answer = await fetch(address);
    if (!answer.ok) return;
    const known = await answer.json();
    map.set(key, known);
    took?.(known);
    if (map.size > MOST) map.delete(/** @type {string} */ (map.keys().next().value));
    changed("over");
  } catch {
    // The stream of changes says that framefall has ended.
  }
}

/** @type {number|undefined} */
let waits;

function settle() {
  clearTimeout(waits);
  waits = setTimeout(() => {
    const f = frame();
    ask(overs, keyOf(f), `over/${f.id}`, (over) => over.facts && state.facts.set(f.id, over.facts));
    for (const other of [state.frames[state.at - 1], state.frames[state.at + 1]]) {
      if (other) ask(grids, `${f.id}/${other.id}`, `turned/${f.id}/${other.id}`);
    }
  }, SETTLED);
}

/**
 * A label that keeps clear of those before it, within the stage; none where there is no room near its place.
 * @param {Svg} svg
 * @param {Taken[]} taken
 * @param {Point} size of the stage
 * @param {string} words
 * @param {number} x
 * @param {number} y
 * @param {string} kind
 * @param {number[]} [shifts] where it may be, as far below its place
 */
function label(svg, taken, [wide, high], words, x, y, kind, shifts = SHIFTS) {
  const room = words.length * LETTER;
  const isFree = (/** @type {number} */ at) => x > 2 && x + room < wide && at > 12 && at < high - 4
    && !taken.some(([tx, ty, tw]) => x < tx + tw && tx < x + room && Math.abs(ty - at) < LINE);
  const at = shifts.map((shift) => y + shift).find(isFree);
  if (at === undefined) return null;
  taken.push([x, at, room]);
  const text = svg("text", { x, y: at, class: kind });
  text.textContent = words;
  return text;
}

/**
 * The shapes over the picture of the frame that is shown.
 * @param {(point: Point) => Point} onScreen
 * @param {(vector: Point) => Point} turned a direction of the picture on the screen
 * @param {Point} size of the stage
 * @param {Svg} svg
 */
export function overShapes(onScreen, turned, [wide, high], svg) {
  const over = overOf(frame());
  /** @type {SVGElement[]} */
  const shapes = [];
  /** @type {Taken[]} */
  const taken = [];
  if (!over) return shapes;
  if (state.shows.circles) {
    for (const facts of over.trails) {
      if (facts.circle.length < 2) continue;
      const points = facts.circle.map((p) => onScreen(p).map((v) => v.toFixed(1)).join()).join(" ");
      shapes.push(svg("polyline", { points, class: "halo" }), svg("polyline", { points, class: "circle" }));
    }
  }
  if (state.shows.radiants) {
    /** @type {Point[]} */
    const marks = [];
    // The strongest finds room first.
    const rate = (/** @type {string} */ code) => over.facts?.radiants.find((r) => r[0] === code)?.[3] ?? 0;
    const radiants = [...over.radiants].sort((a, b) => rate(b.shower) - rate(a.shower));
    for (const { shower, at } of radiants) {
      if (!at) continue;
      const [cx, cy] = onScreen(at);
      marks.push([cx, cy]);
      shapes.push(svg("circle", { cx, cy, r: 9, class: "halo" }), svg("circle", { cx, cy, r: 9, class: "radiant" }));
      const code = label(svg, taken, [wide, high], shower, cx + 13, cy + 5, "radiant");
      if (code) shapes.push(code);
    }
    for (const { shower, at, towards, away_deg: away } of radiants) {
      if (at) continue;
      const [dx, dy] = turned(towards);
      const reach = Math.min((wide / 2 - EDGE) / Math.max(Math.abs(dx), 1e-6), (high / 2 - EDGE) / Math.max(Math.abs(dy), 1e-6));
      const isAtSide = Math.abs(Math.abs(dx * reach) - wide / 2 + EDGE) < 1;
      const place = (/** @type {number} */ along) => /** @type {Point} */ (
        [wide / 2 + dx * reach + (isAtSide ? 0 : along), high / 2 + dy * reach + (isAtSide ? along : 0)]);
      // Beside another mark or its words it moves along the edge, until there is room for its own.
      for (const along of ALONG) {
        const [x, y] = place(along);
        const isAbove = y < high / 2;
        const isTaken = marks.some(([mx, my]) => Math.hypot(mx - x, my - y) < CLEAR)
          || taken.some(([tx, ty, tw]) => x > tx - 16 && x < tx + tw + 16 && Math.abs(ty - 4 - y) < 16);
        if (isTaken || x < 8 || x > wide - 8 || y < 8 || y > high - 8) continue;
        const words = label(svg, taken, [wide, high], `${shower} ${away}°`, Math.min(Math.max(x - 30, 6), wide - 76), isAbove ? y + 26 : y - 14, "radiant", isAbove ? [0, 16] : [0, -16]);
        if (!words) continue;
        marks.push([x, y]);
        const points = [[14, 0], [-5, 7], [-5, -7]].map(([a, b]) => `${(x + a * dx - b * dy).toFixed(1)},${(y + a * dy + b * dx).toFixed(1)}`).join(" ");
        shapes.push(svg("polygon", { points, class: "radiant" }), words);
        break;
      }
    }
  }
  if (state.shows.names) {
    for (const star of over.stars) {
      const [x, y] = onScreen(star.at);
      const name = label(svg, taken, [wide, high], star.name, x + 9, y - 5, "star");
      if (name) shapes.push(svg("circle", { cx: x, cy: y, r: 6, class: "star" }), name);
    }
  }
  return shapes;
}

onChange((what) => {
  if (what.has("place") || what.has("stated")) settle();
});
