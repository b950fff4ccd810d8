// Starts the page.
import { load, say } from "./state.js";
import "./axis.js";
import "./panel.js";
import "./over.js";
import "./candidates.js";
import "./stage.js";
import { listen } from "./keys.js";

listen();
load().catch(() => say("framefall does not answer. Start framefall look again.", true));
