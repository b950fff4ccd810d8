// What the page knows: the frames with what is stated about them, and where the photographer is. Every judgement goes to the server, in
// order, and comes back by the stream of changes, in this page and in every other.

/**
 * A stated trail (trail, is, shower), or a candidate that was found (candidate, class, score, light).
 * @typedef {{from: [number, number], to: [number, number], trail?: number, is?: string, shower?: string|null,
 *   candidate?: number, class?: string, score?: number, light?: number|null}} Trail
 */
/**
 * @typedef {{id: number, file: string, start_ms: number|null, exposure_s: number|null, session: number|null, seq: number|null,
 *   width_px: number|null, height_px: number|null, orientation: number,
 *   looked: boolean, chosen: boolean|null, note: string|null, trails: Trail[], found: Trail[]}} Frame
 */
/**
 * @typedef {{dump: string, kind: string|null, camera: string|null, lens: string|null, start_utc: string|null,
 *   time_error_s: number|null, f_number: number|null, iso: number|null, focal_mm: number|null, health: string,
 *   sun_alt_deg: number|null, moon_alt_deg: number|null, moon_lit: number|null, radiants: [string, number, number, number][]}} Facts
 */
/**
 * @typedef {{site: string|null, sessions: number[], span_ms: [number, number],
 *   drawings: [string, [number, number, number, number]][], offsets_ms: [number, number][], hours: string}} SkyMap
 */
/** What the server sends of a frame, and of what is stated about it. */
/**
 * @typedef {[number, string, number|null, number|null, number|null, number|null, number|null, number|null, number]} FrameRow
 * @typedef {[number, number, number, number, number, string, string|null]} TrailRow
 * @typedef {[number, number, number, number, number, string, number, number|null]} FoundRow
 * @typedef {[number, boolean, boolean|null, string|null, TrailRow[], FoundRow[]]} StatedRow
 */

export const state = {
  title: "",
  /** @type {Frame[]} */ frames: [],
  /** @type {SkyMap[]} */ maps: [],
  /** @type {Map<number, Facts>} */ facts: new Map(),
  at: 0,
  trail: 0,
  /** @type {number|null} */ runFrom: null,
  shows: { trails: true, radiants: false, circles: false, names: false },
};

export const view = {
  zoom: 1,
  /** Middle of what is shown, as a share of the upright picture. */
  middle: [0.5, 0.5],
  /** The frame shown instead, while a key is held. */
  /** @type {number|null} */ blink: null,
  /** The crosses while a trail is drawn: in pixels of the full picture. */
  /** @type {{ends: [number, number][], at: [number, number]}|null} */ drawing: null,
};

/** @type {Map<number, number>} */
const places = new Map();
/**
 * What changed: what is stated; which candidates there are; the frame that is shown; its selected trail, or the run; the night's sky; what is known over a
 * picture, or shown over it; the picture itself; the colours or the size of the page.
 * @typedef {"stated"|"found"|"place"|"selected"|"sky"|"over"|"picture"|"page"} Change
 */
/** @type {((what: Set<Change>) => void)[]} */
const listeners = [];
/** @type {Set<Change>} */
let pending = new Set();

/** @param {(what: Set<Change>) => void} listener */
export function onChange(listener) {
  listeners.push(listener);
}

/** Has everything drawn anew with the next frame of the screen, once, however much changes until then. @param {Change} what */
export function changed(what) {
  if (!state.frames.length) return;
  if (!pending.size) {
    // The screen has no frames while the page is hidden.
    if (document.hidden) queueMicrotask(drawPending);
    else requestAnimationFrame(drawPending);
  }
  pending.add(what);
}

function drawPending() {
  if (!pending.size) return;
  const all = pending;
  pending = new Set();
  for (const listener of listeners) listener(all);
}

document.addEventListener("visibilitychange", drawPending);

/** The frame that is shown. */
export function frame() {
  return state.frames[state.at];
}

/** The trails of a frame: stated ones, then candidates. @param {Frame} f */
export const itemsOf = (f) => [...f.trails, ...f.found];

/** The trail that is selected, if the frame has one. @returns {Trail|undefined} */
export const selected = () => itemsOf(frame())[state.trail];

/** The frames that an act is about: the run, if one was begun, else the one that is shown. */
export function framesOfAct() {
  if (state.runFrom === null) return [frame()];
  const [from, to] = [Math.min(state.runFrom, state.at), Math.max(state.runFrom, state.at)];
  const session = state.frames[state.runFrom].session;
  return state.frames.slice(from, to + 1).filter((f) => f.session === session);
}

/** @param {number} at */
export function goTo(at) {
  const to = Math.max(0, Math.min(state.frames.length - 1, at));
  if (to === state.at) return;
  state.at = to;
  state.trail = 0;
  view.blink = null;
  view.drawing = null;
  changed("place");
}

/**
 * @param {string} words
 * @param {boolean} [isProblem]
 */
export function say(words, isProblem = false) {
  const said = /** @type {HTMLElement} */ (document.getElementById("said"));
  said.textContent = words;
  said.className = isProblem ? "problem" : "";
}

/** @type {Promise<void>} */
let last = Promise.resolve();

/**
 * States something; acts are sent one after the other.
 * @param {object} act
 */
export function doAct(act) {
  last = last.then(async () => {
    try {
      const answer = await fetch("state", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(act),
      });
      const said = await answer.json();
      if (said.problem) say(`Not saved: ${said.problem}${said.hint ? ` (${said.hint})` : ""}`, true);
      else say(said.done);
    } catch {
      say("Not saved: framefall has ended. Start framefall look again.", true);
    }
  });
  return last;
}

/** @param {FrameRow} row @returns {Frame} */
const frameOf = ([id, file, start_ms, exposure_s, session, seq, width_px, height_px, orientation]) =>
  ({ id, file, start_ms, exposure_s, session, seq, width_px, height_px, orientation, looked: false, chosen: null, note: null, trails: [], found: [] });

/** @param {TrailRow} row @returns {Trail} */
const trailOf = ([trail, x, y, toX, toY, is, shower]) => ({ trail, from: [x, y], to: [toX, toY], is, shower });

/** @param {FoundRow} row @returns {Trail} */
const candidateOf = ([candidate, x, y, toX, toY, kind, score, light]) =>
  ({ candidate, from: [x, y], to: [toX, toY], class: kind, score, light });

/** @param {StatedRow[]} rows */
function take(rows) {
  const ends = JSON.stringify([selected()?.from, selected()?.to]);
  for (const [id, looked, chosen, note, trails, found] of rows) {
    const f = state.frames[places.get(id) ?? -1];
    if (!f) continue;
    if (f.found.map((t) => t.candidate).join() !== found.map(([candidate]) => candidate).join()) changed("found");
    Object.assign(f, { looked, chosen, note, trails: trails.map(trailOf), found: found.map(candidateOf) });
  }
  // What was selected stays selected: a candidate that was judged is a stated trail now.
  const items = itemsOf(frame());
  const same = items.findIndex((t) => JSON.stringify([t.from, t.to]) === ends);
  state.trail = Math.max(0, same >= 0 ? same : Math.min(state.trail, items.length - 1));
  changed("stated");
}

/** @typedef {[string, string, string[], FrameRow[], StatedRow[]]} Scene */

/** The scene, when the page is opened and whenever it missed changes. @param {Scene} scene */
function begin([, title, nights, frames, stated]) {
  const isFirst = !state.frames.length;
  state.title = title;
  state.frames = frames.map(frameOf);
  state.frames.forEach((f, at) => places.set(f.id, at));
  take(stated);
  changed("found");
  say(`${state.frames.length} frames`);
  if (!isFirst) return;
  state.at = Math.max(0, state.frames.findIndex((f) => !f.looked));
  changed("place");
  loadMaps(nights);
}

/** @param {string[]} nights */
async function loadMaps(nights) {
  for (const night of nights) {
    const answer = await fetch(`night/${night}`);
    if (!answer.ok) continue;
    state.maps.push(...(await answer.json()));
    changed("sky");
  }
}

export function load() {
  const scene = JSON.parse(/** @type {HTMLElement} */ (document.getElementById("scene")).textContent ?? "");
  begin(scene);
  const events = new EventSource(`events/${scene[0]}`);
  events.addEventListener("scene", (event) => begin(JSON.parse(event.data)));
  events.addEventListener("stated", (event) => take(JSON.parse(event.data)));
  events.onerror = () => say("framefall does not answer; what you state now is not saved.", true);
}

/**
 * The local time at the site where that is known, else UTC.
 * @param {Frame} of
 */
export function timeOf(of) {
  if (of.start_ms === null) return "time unknown";
  const at = of.start_ms;
  const map = mapOf(of);
  let offset = 0;
  for (const [from, ms] of map ? map.offsets_ms : []) if (from <= at || offset === 0) offset = ms;
  const text = new Date(at + offset).toISOString().slice(0, 19).replace("T", " ");
  return `${text} ${map && map.hours.startsWith("local") ? "local time" : "UTC"}`;
}

/** @param {Frame} of */
export function mapOf(of) {
  return state.maps.find((map) => of.session !== null && map.sessions.includes(of.session));
}

/** @param {Frame} of */
export function marksOf(of) {
  const marks = [of.looked ? "looked at" : "not looked at yet"];
  if (of.chosen !== null) marks.push(of.chosen ? "chosen" : "not chosen");
  if (of.trails.length) marks.push(of.trails.map((t) => t.is).join(", "));
  if (of.found.length) marks.push(`${of.found.length} found, to be judged`);
  return marks.join("; ");
}
