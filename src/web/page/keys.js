// Every act of the page with its key: one table, for the keyboard, the buttons and the sheet of keys.
import { state, view, frame, framesOfAct, itemsOf, selected, goTo, doAct, say, changed } from "./state.js";
import { blink, zoomTo, pan, beginDrawing, moveCross, setEnd, endDrawing } from "./stage.js";
import { overOf } from "./over.js";
import { showers } from "./panel.js";
import { likeliest } from "./candidates.js";

/** @typedef {{key: string, shown: string, words: string, group: string, button?: boolean, held?: boolean, run: () => void, end?: () => void}} Act */

const help = /** @type {HTMLDialogElement} */ (document.getElementById("help"));
const letters = /** @type {HTMLInputElement} */ (document.getElementById("letters"));
const noteForm = /** @type {HTMLFormElement} */ (document.getElementById("note-form"));
const note = /** @type {HTMLInputElement} */ (document.getElementById("note"));

const ids = () => framesOfAct().map((f) => f.id);

/** @param {boolean} wanted */
function choose(wanted) {
  const all = framesOfAct().every((f) => f.chosen === wanted);
  doAct({ do: "mark", frames: ids(), chosen: all ? null : wanted });
}

/** The trails that an act is about: the selected one; in a run all, or those of the selected moving light. */
function trailsOfAct() {
  const one = selected();
  if (state.runFrom === null) return one ? [one] : [];
  const all = framesOfAct().flatMap(itemsOf);
  return isLight(one) ? all.filter((t) => t.light === one?.light) : all;
}

/** Whether a candidate goes on in other frames. @param {import("./state.js").Trail|undefined} trail */
const isLight = (trail) => trail !== undefined && trail.light !== undefined && trail.light !== null;

/** @param {import("./state.js").Trail[]} trails */
function numbers(trails) {
  const stated = trails.flatMap((t) => (t.trail === undefined ? [] : [t.trail]));
  const candidates = trails.flatMap((t) => (t.candidate === undefined ? [] : [t.candidate]));
  return { ...(stated.length ? { trails: stated } : {}), ...(candidates.length ? { candidates } : {}) };
}

/** Begins a run of all frames in which the selected moving light is. */
function wholeLight() {
  const one = selected();
  if (!isLight(one)) return say("This is not a moving light that was found in several frames.", true);
  const { session } = frame();
  const has = (/** @type {import("./state.js").Frame} */ f) => f.session === session && f.found.some((t) => t.light === one?.light);
  const first = state.frames.findIndex(has);
  const end = state.frames.findLastIndex(has);
  state.runFrom = first;
  goTo(end);
  state.trail = itemsOf(frame()).findIndex((t) => t.light === one?.light);
  changed("selected");
  return say(`Run of ${framesOfAct().length} frames: an act is about this light only.`);
}

/** @param {string} is */
function judge(is) {
  if (view.drawing) {
    if (view.drawing.ends.length < 2) return say("Set both ends of the trail first.", true);
    const [from, to] = view.drawing.ends;
    endDrawing();
    doAct({ do: "add-trail", frame: frame().id, from, to, is });
    return undefined;
  }
  const trails = trailsOfAct();
  if (!trails.length) return say("There is no trail here; t draws one.", true);
  doAct({ do: "judge-trails", ...numbers(trails), is });
  return undefined;
}

/** @param {string} digit */
function stateShower(digit) {
  const trail = selected();
  const found = showers().find(([key]) => key === digit);
  if (!trail || (trail.is ?? trail.class) !== "meteor" || !found) return say("Only a meteor has a shower.", true);
  doAct({ do: "judge-trails", ...numbers([trail]), is: "meteor", shower: found[1] });
  return undefined;
}

/** @param {(f: import("./state.js").Frame) => boolean} fits @param {string} none */
function next(fits, none) {
  const { frames, at } = state;
  for (let step = 1; step <= frames.length; step += 1) {
    const to = (at + step) % frames.length;
    if (fits(frames[to])) return goTo(to);
  }
  return say(none);
}

function cancel() {
  if (view.drawing) endDrawing();
  else if (!noteForm.hidden) noteForm.hidden = true;
  else state.runFrom = null;
  changed("selected");
}

/** @param {"radiants"|"circles"|"names"} what */
function toggle(what) {
  const over = overOf(frame());
  if (over && !over.pointing) return say("It is not known where the camera pointed: framefall examine finds out.", true);
  state.shows[what] = !state.shows[what];
  return changed("over");
}

/** @param {number} by */
function nextTrail(by) {
  const { length } = itemsOf(frame());
  if (length) state.trail = (state.trail + by + length) % length;
  changed("selected");
}

/** @type {Act[]} */
export const ACTS = [
  { group: "This frame", key: " ", shown: "Space", words: "looked at, and on", button: true, run: () => {
    doAct({ do: "mark", frames: ids(), looked: true });
    state.runFrom = null;
    goTo(state.at + 1);
  } },
  { group: "This frame", key: "l", shown: "l", words: "looked at, or not yet", button: true, run: () => {
    doAct({ do: "mark", frames: ids(), looked: !framesOfAct().every((f) => f.looked) });
  } },
  { group: "This frame", key: "c", shown: "c", words: "chosen", button: true, run: () => choose(true) },
  { group: "This frame", key: "C", shown: "Shift c", words: "not chosen", button: true, run: () => choose(false) },
  { group: "This frame", key: "n", shown: "n", words: "note", button: true, run: () => {
    noteForm.hidden = false;
    note.value = frame().note ?? "";
    note.focus();
  } },
  { group: "Trails", key: "t", shown: "t", words: "draw a trail", button: true, run: beginDrawing },
  { group: "Trails", key: "m", shown: "m", words: "meteor", button: true, run: () => judge("meteor") },
  { group: "Trails", key: "s", shown: "s", words: "satellite", button: true, run: () => judge("satellite") },
  { group: "Trails", key: "a", shown: "a", words: "aircraft", button: true, run: () => judge("aircraft") },
  { group: "Trails", key: "o", shown: "o", words: "other", button: true, run: () => judge("other") },
  ...["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"].map((digit) => ({
    group: digit === "1" ? "Trails" : "", key: digit, shown: "1 … 9, 0", words: "shower of a meteor, as listed; 0 sporadic", run: () => stateShower(digit),
  })),
  { group: "Trails", key: "Delete", shown: "Delete", words: "remove the trail", button: true, run: () => {
    const trail = selected();
    if (trail?.trail !== undefined) doAct({ do: "remove-trails", trails: [trail.trail] });
    else say(trail ? "A candidate is judged: o states that it is something else." : "There is no trail here.", true);
  } },
  { group: "Trails", key: "ArrowDown", shown: "↓", words: "next trail", run: () => nextTrail(1) },
  { group: "Trails", key: "ArrowUp", shown: "↑", words: "previous trail", run: () => nextTrail(-1) },
  { group: "Back", key: "u", shown: "u", words: "undo, without limit", button: true, run: () => void doAct({ do: "undo" }) },
  { group: "Back", key: "U", shown: "Shift u", words: "state it again", button: true, run: () => void doAct({ do: "redo" }) },
  { group: "Back", key: "Escape", shown: "Esc", words: "leave the drawing, the note or the run", run: cancel },
  { group: "Frames", key: "ArrowRight", shown: "→", words: "next frame", run: () => goTo(state.at + 1) },
  { group: "Frames", key: "ArrowLeft", shown: "←", words: "previous frame", run: () => goTo(state.at - 1) },
  { group: "Frames", key: "PageDown", shown: "Page ↓", words: "20 frames on", run: () => goTo(state.at + 20) },
  { group: "Frames", key: "PageUp", shown: "Page ↑", words: "20 frames back", run: () => goTo(state.at - 20) },
  { group: "Frames", key: "Home", shown: "Home", words: "first frame", run: () => goTo(0) },
  { group: "Frames", key: "End", shown: "End", words: "last frame", run: () => goTo(state.frames.length - 1) },
  { group: "Frames", key: "e", shown: "e", words: "next that you have yet to look at", button: true, run: () => next((f) => !f.looked, "Every frame was looked at.") },
  { group: "Frames", key: "i", shown: "i", words: "next with a trail in it", button: true, run: () => next((f) => itemsOf(f).length > 0, "No frame has a trail.") },
  { group: "Candidates", key: "x", shown: "x", words: "next candidate, by score", button: true, run: () => likeliest(1) },
  { group: "Candidates", key: "X", shown: "Shift x", words: "previous candidate, by score", run: () => likeliest(-1) },
  { group: "Candidates", key: "w", shown: "w", words: "run of the frames in which this light is", button: true, run: wholeLight },
  { group: "Frames", key: "r", shown: "r", words: "begin or end a run of frames: one act for all", button: true, run: () => {
    state.runFrom = state.runFrom === null ? state.at : null;
    say(state.runFrom === null ? "Run ended." : "Run begun: move to its last frame, then act once.");
    changed("selected");
  } },
  { group: "Picture", key: "b", shown: "b, held", words: "the frame before, turned with the sky", held: true, run: () => blink(state.at - 1), end: () => blink(null) },
  { group: "Picture", key: "f", shown: "f, held", words: "the frame following, turned with the sky", held: true, run: () => blink(state.at + 1), end: () => blink(null) },
  { group: "Picture", key: "z", shown: "z", words: "zoom in and out", button: true, run: () => zoomTo(view.zoom > 1 ? 1 : 4) },
  { group: "Picture", key: "+", shown: "+", words: "larger", run: () => zoomTo(view.zoom * 1.5) },
  { group: "Picture", key: "-", shown: "-", words: "smaller", run: () => zoomTo(view.zoom / 1.5) },
  { group: "Picture", key: "v", shown: "v", words: "trails visible or not", button: true, run: () => {
    state.shows.trails = !state.shows.trails;
    changed("over");
  } },
  { group: "Picture", key: "p", shown: "p", words: "radiants", button: true, run: () => toggle("radiants") },
  { group: "Picture", key: "g", shown: "g", words: "great circles to the radiant", button: true, run: () => toggle("circles") },
  { group: "Picture", key: "k", shown: "k", words: "names of stars", button: true, run: () => toggle("names") },
  { group: "Page", key: "d", shown: "d", words: "dim", button: true, run: () => {
    document.documentElement.classList.toggle("dim");
    changed("page");
  } },
  { group: "Page", key: "h", shown: "h", words: "all keys", button: true, run: () => help.showModal() },
];

/** @type {Record<string, [number, number]>} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** @param {KeyboardEvent} event */
function pressed(event) {
  const target = /** @type {HTMLElement} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || help.open || !state.frames.length) return;
  if (target.tagName === "INPUT") {
    if (event.key === "Escape") cancel();
    return;
  }
  // A button that has the focus keeps Enter and Space.
  if (target.tagName === "BUTTON" && (event.key === " " || event.key === "Enter")) return;
  if (!letters.checked && event.key.length === 1) return;
  const arrow = ARROWS[event.key];
  if (view.drawing && arrow && view.drawing.ends.length < 2) {
    const step = event.shiftKey ? 0.5 : 8;
    moveCross(arrow[0] * step, arrow[1] * step);
  } else if (view.drawing && event.key === "Enter") {
    setEnd();
  } else if (arrow && event.shiftKey) {
    if (view.zoom > 1) pan(arrow[0] * 0.1, arrow[1] * 0.1);
  } else {
    const act = ACTS.find((a) => a.key === event.key) ?? (event.key === "?" ? ACTS[ACTS.length - 1] : undefined);
    if (!act) return;
    if (!(event.repeat && act.held)) act.run();
  }
  event.preventDefault();
}

/** @param {Act} act */
function button(act) {
  const element = document.createElement("button");
  element.type = "button";
  const key = document.createElement("kbd");
  key.textContent = act.shown;
  element.append(`${act.words} `, key);
  element.addEventListener("click", act.run);
  return element;
}

const GROUPS = [...new Set(ACTS.map((a) => a.group))].filter(Boolean);

function buttons() {
  return GROUPS.map((group) => {
    const row = document.createElement("div");
    row.role = "group";
    row.ariaLabel = group;
    const title = document.createElement("span");
    title.textContent = group;
    row.append(title, ...ACTS.filter((a) => a.group === group && a.button).map(button));
    return row;
  });
}

function helpSheet() {
  return GROUPS.map((group) => {
    const list = document.createElement("dl");
    const title = document.createElement("h3");
    title.textContent = group;
    const section = document.createElement("section");
    for (const act of ACTS.filter((a) => a.group === group)) {
      const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
      const key = document.createElement("kbd");
      key.textContent = act.shown;
      dt.append(key);
      dd.textContent = act.words;
      list.append(dt, dd);
    }
    section.append(title, list);
    return section;
  });
}

export function listen() {
  document.getElementById("acts")?.replaceChildren(...buttons());
  document.getElementById("help-keys")?.replaceChildren(...helpSheet());
  addEventListener("keydown", pressed);
  addEventListener("keyup", (event) => ACTS.find((a) => a.held && a.key === event.key)?.end?.());
  addEventListener("blur", () => blink(null));
  noteForm.addEventListener("submit", (event) => {
    event.preventDefault();
    noteForm.hidden = true;
    doAct({ do: "mark", frames: ids(), note: note.value });
    document.getElementById("strip")?.focus();
  });
}
