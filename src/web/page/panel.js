// The frame beside its picture: what is stated, its trails, its facts.
import { state, frame, framesOfAct, itemsOf, marksOf, onChange, selected, timeOf, changed } from "./state.js";
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
        changed("frames");
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

/** @param {number|null|undefined} value @param {string} unit */
const figure = (value, unit) => (value === null || value === undefined ? "unknown" : `${value}${unit}`);

/** @param {number|null|undefined} s */
function exposure(s) {
  if (s === null || s === undefined) return "unknown";
  return s > 0 && s < 0.3 ? `1/${Math.round(1 / s)} s` : `${s} s`;
}

function drawFacts() {
  const f = frame();
  const facts = state.facts.get(f.id);
  /** @type {[string, string][]} */
  const rows = [
    ["start", timeOf(f)],
    ["session", f.session === null ? "none" : `${f.session}, frame ${f.seq}`],
    ["kind", f.kind ?? "unknown"],
    ["camera", f.camera ?? "unknown"],
    ["exposure", exposure(f.exposure_s)],
  ];
  if (facts) {
    rows.splice(1, 0, ["UTC", facts.start_utc ?? "unknown"]);
    rows.push(["lens", facts.lens ?? "unknown"], ["focal length", figure(facts.focal_mm, " mm")]);
    rows.push(["aperture", facts.f_number === null ? "unknown" : `f/${facts.f_number}`], ["ISO", figure(facts.iso, "")]);
    rows.push(["Sun", figure(facts.sun_alt_deg, "°")]);
    const lit = facts.moon_lit === null ? "" : `, ${Math.round(facts.moon_lit * 100)} % lit`;
    rows.push(["Moon", figure(facts.moon_alt_deg, "°") + lit]);
    for (const [code, alt, az, rate] of facts.radiants.filter((r) => r[1] > 0)) {
      rows.push([code, `altitude ${alt}°, azimuth ${az}°, ${rate} an hour`]);
    }
    if (facts.health !== "sound") rows.push(["file", facts.health]);
  }
  rows.push(["dump", f.dump]);
  by("facts").replaceChildren(
    ...rows.flatMap(([name, value]) => {
      const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
      dt.textContent = name;
      dd.textContent = value;
      return [dt, dd];
    }),
  );
}

export function drawPanel() {
  const f = frame();
  by("name").textContent = f.file;
  by("marks").textContent = marksOf(f) + (f.note ? `; note: ${f.note}` : "");
  drawTrails();
  drawFacts();
  by("title").textContent = state.title;
  document.title = `${f.file}, ${state.title}`;
  const looked = state.frames.filter((g) => g.looked).length;
  const meteors = state.frames.reduce((n, g) => n + g.trails.filter((t) => t.is === "meteor").length, 0);
  const chosen = state.frames.filter((g) => g.chosen).length;
  const found = state.frames.reduce((n, g) => n + g.found.length, 0);
  const run = state.runFrom === null ? "" : `; run of ${framesOfAct().length} frames`;
  by("counts").textContent =
    `frame ${state.at + 1} of ${state.frames.length}; looked at ${looked}; meteors ${meteors}; chosen ${chosen}; to be judged ${found}${run}`;
}

onChange((what) => (what === "over" ? drawTrails() : drawPanel()));
