// What the page knows: the frames with what is stated about them, and where the photographer is. Every judgement goes to the server, in
// order, and comes back by the stream of changes, in this page and in every other.

/**
 * A stated trail (trail, is, shower), or a candidate that was found (candidate, class, score, light).
 * @typedef {{from: [number, number], to: [number, number], trail?: number, is?: string, shower?: string|null,
 *   candidate?: number, class?: string, score?: number, light?: number|null}} Trail
 */
/**
 * @typedef {{id: number, file: string, dump: string, camera: string|null, start_ms: number|null, exposure_s: number|null,
 *   session: number|null, seq: number|null, kind: string|null, width_px: number|null, height_px: number|null, orientation: number,
 *   night: number|null, has_preview: boolean, looked: boolean, chosen: boolean|null, note: string|null, trails: Trail[], found: Trail[]}} Frame
 */
/**
 * @typedef {{lens: string|null, start_utc: string|null, time_error_s: number|null, f_number: number|null, iso: number|null,
 *   focal_mm: number|null, health: string, sun_alt_deg: number|null, moon_alt_deg: number|null, moon_lit: number|null,
 *   radiants: [string, number, number, number][]}} Facts
 */
/**
 * @typedef {{site: string|null, sessions: number[], span_ms: [number, number],
 *   drawings: {svg: string, extent: [number, number, number, number]}[],
 *   offsets_ms: [number, number][], hours: string}} SkyMap
 */

export const state = {
  title: "",
  /** @type {Frame[]} */ frames: [],
  /** @type {string[]} */ nights: [],
  /** @type {SkyMap[]} */ maps: [],
  /** @type {Map<number, Facts>} */ facts: new Map(),
  at: 0,
  trail: 0,
  /** @type {number|null} */ runFrom: null,
  shows: { trails: true, radiants: false, circles: false, names: false },
};

/** @type {Map<number, number>} */
const places = new Map();
/** What changed: what is stated or found; the frame that is shown; the night's sky; what is known over a picture. */
/** @typedef {"frames"|"place"|"night"|"over"} Change */
/** @type {((what: Change) => void)[]} */
const listeners = [];

/** @param {(what: Change) => void} listener */
export function onChange(listener) {
  listeners.push(listener);
}

/** @param {Change} what */
export function changed(what) {
  for (const listener of listeners) listener(what);
}

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

/** @param {{frames: Frame[]}} change */
function take(change) {
  const ends = JSON.stringify([selected()?.from, selected()?.to]);
  for (const stated of change.frames) {
    const at = places.get(stated.id);
    if (at !== undefined) Object.assign(state.frames[at], stated);
  }
  // What was selected stays selected: a candidate that was judged is a stated trail now.
  const items = itemsOf(frame());
  const same = items.findIndex((t) => JSON.stringify([t.from, t.to]) === ends);
  state.trail = Math.max(0, same >= 0 ? same : Math.min(state.trail, items.length - 1));
  changed("frames");
}

export async function load() {
  const scene = await (await fetch("frames")).json();
  Object.assign(state, scene);
  state.frames.forEach((f, at) => places.set(f.id, at));
  const first = state.frames.findIndex((f) => !f.looked);
  state.at = Math.max(0, first);
  changed("frames");
  changed("place");
  const events = new EventSource("events");
  events.onmessage = (event) => take(JSON.parse(event.data));
  events.onerror = () => say("framefall does not answer; what you state now is not saved.", true);
  events.onopen = () => say(`${state.frames.length} frames`);
  for (const night of state.nights) {
    const answer = await fetch(`night/${night}`);
    if (!answer.ok) continue;
    const { maps, facts } = await answer.json();
    state.maps.push(...maps);
    for (const id of Object.keys(facts)) state.facts.set(Number(id), facts[id]);
    changed("night");
  }
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
