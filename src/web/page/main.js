// Starts the page.
import { load } from "./state.js";
// In this order they draw: what measures the page goes before what changes it.
import "./axis.js";
import "./stage.js";
import "./over.js";
import "./panel.js";
import "./candidates.js";
import { listen } from "./keys.js";

listen();
load();
