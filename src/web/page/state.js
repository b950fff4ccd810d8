// What the page knows: the frames with what is stated about them, and where the photographer is. Every judgement goes to the server, in
// order, and comes back by the stream of changes, in this page and in every other.

/** @typedef {{trail: number, from: [number, number], to: [number, number], is: string, shower: string|null}} Trail */
/**
 * @typedef {{id: number, file: string, dump: string, camera: string|null, start_ms: number|null, exposure_s: number|null,
 *   session: number|null, seq: number|null, kind: string|null, width_px: number|null, height_px: number|null, orientation: number,
 *   night: number|null, has_preview: boolean, looked: boolean, chosen: boolean|null, note: string|null, trails: Trail[]}} Frame
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
  showsTrails: true,
};

/** @type {Map<number, number>} */
const places = new Map();
/** @type {((what: "frames"|"place"|"night") => void)[]} */
const listeners = [];

/** @param {(what: "frames"|"place"|"night") => void} listener */
export function onChange(listener) {
  listeners.push(listener);
}

/** @param {"frames"|"place"|"night"} what */
export function changed(what) {
  for (const listener of listeners) listener(what);
}

/** The frame that is shown. */
export function frame() {
  return state.frames[state.at];
}

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
  for (const stated of change.frames) {
    const at = places.get(stated.id);
    if (at !== undefined) Object.assign(state.frames[at], stated);
  }
  state.trail = Math.max(0, Math.min(state.trail, frame().trails.length - 1));
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
  return marks.join("; ");
}
