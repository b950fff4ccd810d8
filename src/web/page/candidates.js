// The candidates of all frames, the likeliest meteor first.
import { state, itemsOf, frame, goTo, selected, onChange, changed, say } from "./state.js";

/** @typedef {{at: number, found: import("./state.js").Trail, score: number, candidate: number}} Ranked */

/** @type {Ranked[]} */
let ranked = [];
/** The place in the order that was last visited: score and number. */
/** @type {[number, number]} */
let last = [Infinity, 0];
/** As many are listed about the last one. */
const LISTED = 12;

const title = /** @type {HTMLElement} */ (document.getElementById("candidates-title"));
const list = /** @type {HTMLElement} */ (document.getElementById("candidates"));

/** @param {Ranked} one */
const isAfter = (one) => one.score < last[0] || (one.score === last[0] && one.candidate > last[1]);

function rank() {
  ranked = state.frames.flatMap((f, at) =>
    f.found.map((found) => ({ at, found, score: found.score ?? 0, candidate: found.candidate ?? 0 })));
  ranked.sort((a, b) => b.score - a.score || a.candidate - b.candidate);
}

/** @param {Ranked} one */
function show(one) {
  last = [one.score, one.candidate];
  goTo(one.at);
  state.trail = itemsOf(frame()).findIndex((t) => t.candidate === one.candidate);
  changed("selected");
}

/** Shows the next candidate in the order of score, or the one before. @param {1|-1} by */
export function likeliest(by) {
  // What was judged since the screen was last drawn is left out.
  rank();
  const at = ranked.findIndex(isAfter);
  const after = at < 0 ? ranked.length : at;
  // The last one visited is not in the list any more if it was judged.
  const isHere = after > 0 && ranked[after - 1].candidate === last[1];
  const one = ranked[by > 0 ? after : after - (isHere ? 2 : 1)];
  if (!one) return say(ranked.length ? "No further candidate that way." : "No candidate is left to be judged.");
  const place = ranked.indexOf(one) + 1;
  show(one);
  return say(`Candidate ${place} of ${ranked.length}, score ${one.score.toFixed(2)}`);
}

function drawList() {
  title.textContent = ranked.length ? `Candidates: ${ranked.length}, the likeliest meteor first` : "Candidates: none";
  const next = ranked.findIndex(isAfter);
  const from = Math.max(0, Math.min((next < 0 ? ranked.length : next) - 3, ranked.length - LISTED));
  const chosen = selected();
  list.setAttribute("start", String(from + 1));
  list.replaceChildren(
    ...ranked.slice(from, from + LISTED).map((one) => {
      const item = document.createElement("li");
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = `${one.score.toFixed(2)} ${one.found.class}, ${state.frames[one.at].file}`;
      button.setAttribute("aria-current", String(chosen !== undefined && chosen.candidate === one.candidate));
      button.addEventListener("click", () => show(one));
      item.append(button);
      return item;
    }),
  );
}

onChange((what) => {
  if (what.has("found")) rank();
  if (what.has("found") || what.has("place") || what.has("selected")) drawList();
});
