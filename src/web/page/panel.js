// The frame beside its picture: what is stated, its trails, its facts.
import { state, frame, framesOfAct, itemsOf, mapOf, marksOf, onChange, selected, timeOf, changed } from "./state.js";
import { overOf } from "./over.js";

/** @param {string} id */
const by = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @param {import("./state.js").Trail} trail */
function words(trail) {
  const length = Math.hypot(trail.to[0] - trail.from[0], trail.to[1] - trail.from[1]);
  if (trail.candidate !== undefined) {
    const light = trail.light === null ? "" : `, light ${trail.light}`;
    return `c${trail.candidate}, found: ${trail.class}, score ${trail.score?.toFixed(2)}${light}, ${Math.round(length)} px`;
  }
  const shower = trail.is === "meteor" ? `, shower ${trail.shower ?? "not stated"}` : "";
  return `${trail.is}${shower}, ${Math.round(length)} px`;
}

/** The showers that a meteor of the frame can be stated to belong to: a digit, a code. */
export function showers() {
  const facts = state.facts.get(frame().id);
  const codes = facts ? facts.radiants.filter((r) => r[1] > 0).sort((a, b) => b[3] - a[3]).map((r) => r[0]) : [];
  return [...codes.slice(0, 9).map((code, k) => [String(k + 1), code]), ["0", "sporadic"]];
}

/** What is known of the selected trail beside its ends, in lines. */
function evidence() {
  const trail = selected();
  const facts = overOf(frame())?.trails.find((t) =>
    (trail?.trail !== undefined ? t.trail === trail.trail : t.candidate === trail?.candidate));
  if (!facts) return [];
  const lines = [];
  if (facts.length_deg !== null) lines.push(`length in the sky: ${facts.length_deg}°`);
  if (facts.path !== null) {
    const miss = facts.miss_deg ? `, passes the radiant at ${facts.miss_deg[0]}° ± ${facts.miss_deg[1]}°` : "";
    lines.push(`by its path: ${facts.path}${miss}`);
  }
  if (facts.evidence.length) lines.push(`evidence: ${facts.evidence.join("; ")}`);
  if (facts.doubts.length) lines.push(`doubts: ${facts.doubts.join("; ")}`);
  return lines;
}

function drawTrails() {
  const f = frame();
  by("trails").replaceChildren(
    ...itemsOf(f).map((trail, k) => {
      const item = document.createElement("li");
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words(trail);
      button.setAttribute("aria-current", String(k === state.trail));
      button.addEventListener("click", () => {
        state.trail = k;
        changed("selected");
      });
      item.append(button);
      for (const text of k === state.trail ? evidence() : []) {
        const line = document.createElement("p");
        line.className = "quiet";
        line.textContent = text;
        item.append(line);
      }
      if (k === state.trail && (trail.is === "meteor" || trail.class === "meteor")) {
        const line = document.createElement("p");
        line.className = "quiet";
        line.append("shower: ");
        for (const [digit, code] of showers()) {
          const key = document.createElement("kbd");
          key.textContent = digit;
          line.append(key, ` ${code}  `);
        }
        item.append(line);
      }
      return item;
    }),
  );
  const counts = [];
  if (f.trails.length) counts.push(`${f.trails.length} stated`);
  if (f.found.length) counts.push(`${f.found.length} found`);
  by("trails-title").textContent = `Trails: ${counts.join(", ") || "none stated, none found"}`;
}

/** @param {number|null} value @param {string} unit */
const figure = (value, unit) => (value === null ? "unknown" : `${value}${unit}`);

/** @param {number|null} s */
function exposure(s) {
  if (s === null) return "exposure unknown";
  return s > 0 && s < 0.3 ? `1/${Math.round(1 / s)} s` : `${s} s`;
}

/** @param {(string|null|false)[]} words */
const listed = (...words) => words.filter(Boolean).join(", ") || "unknown";

function drawFacts() {
  const f = frame();
  const facts = state.facts.get(f.id);
  const site = mapOf(f)?.site;
  /** @type {[string, string][]} */
  const rows = [
    ["start", timeOf(f)],
    ["session", f.session === null ? "none" : `${f.session}, frame ${f.seq}`],
  ];
  if (site) rows.push(["site", site]);
  if (facts) {
    const { start_utc: utc, time_error_s: error, moon_lit: lit } = facts;
    rows.push(
      ["UTC", listed(utc && utc.slice(0, 19).replace("T", " "), utc && error !== null && `± ${Math.round(error * 10) / 10} s`)],
      ["kind", facts.kind ?? "unknown"],
      ["exposure", listed(exposure(f.exposure_s), facts.f_number !== null && `f/${facts.f_number}`, facts.iso !== null && `ISO ${facts.iso}`)],
      ["lens", listed(facts.lens, facts.focal_mm !== null && `${facts.focal_mm} mm`)],
      ["camera", facts.camera ?? "unknown"],
      ["Sun", figure(facts.sun_alt_deg, "°")],
      ["Moon", figure(facts.moon_alt_deg, "°") + (lit === null ? "" : `, ${Math.round(lit * 100)} % lit`)],
    );
    for (const [code, alt, az, rate] of facts.radiants.filter((r) => r[1] > 0)) {
      rows.push([code, `altitude ${alt}°, azimuth ${az}°, ${rate} meteors an hour`]);
    }
    if (facts.health !== "sound") rows.push(["file", facts.health]);
    rows.push(["dump", facts.dump]);
  }
  by("facts").replaceChildren(
    ...rows.flatMap(([name, value]) => {
      const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
      dt.textContent = name;
      dd.textContent = value;
      return [dt, dd];
    }),
  );
}

function drawHead() {
  const f = frame();
  by("name").textContent = f.file;
  by("marks").textContent = marksOf(f) + (f.note ? `; note: ${f.note}` : "");
  by("title").textContent = state.title;
  document.title = `${f.file}, ${state.title}`;
  const run = state.runFrom === null ? "" : `; run of ${framesOfAct().length} frames`;
  by("counts").textContent = `frame ${state.at + 1} of ${state.frames.length}; ${totals}${run}`;
}

/** What is stated of all frames, in words. */
let totals = "";

function sumUp() {
  let [looked, meteors, chosen, found] = [0, 0, 0, 0];
  for (const f of state.frames) {
    if (f.looked) looked += 1;
    if (f.chosen) chosen += 1;
    found += f.found.length;
    for (const trail of f.trails) if (trail.is === "meteor") meteors += 1;
  }
  totals = `looked at ${looked}; meteors ${meteors}; chosen ${chosen}; to be judged ${found}`;
}

onChange((what) => {
  const isHead = what.has("place") || what.has("stated") || what.has("selected");
  if (what.has("stated")) sumUp();
  if (isHead) drawHead();
  if (isHead || what.has("over")) drawTrails();
  if (what.has("place") || what.has("over") || what.has("sky")) drawFacts();
});
