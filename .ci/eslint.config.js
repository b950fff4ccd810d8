// The linter's own recommended rules, for the scripts of the page to look.
const js = require("@eslint/js");

module.exports = [
  js.configs.recommended,
  {
    languageOptions: {
      ecmaVersion: 2023,
      sourceType: "module",
      globals: Object.fromEntries(
        ["document", "window", "fetch", "EventSource", "DOMParser", "DOMMatrix", "createImageBitmap", "requestAnimationFrame", "queueMicrotask",
          "getComputedStyle", "IntersectionObserver", "ResizeObserver", "setTimeout", "clearTimeout", "devicePixelRatio", "matchMedia", "addEventListener"].map((name) => [name, "readonly"]),
      ),
    },
    rules: { eqeqeq: "error", "no-var": "error", "prefer-const": "error", "no-eval": "error", "no-implied-eval": "error" },
  },
];
