// Says before the page is first painted that scripts run, and which theme was chosen, so it is loaded at once.
(function (root) {
  "use strict";

  const KEY = "theme";

  /** Returns "light" or "dark" if that is what was stored, otherwise "". */
  function knownTheme(stored) {
    return stored === "light" || stored === "dark" ? stored : "";
  }

  function mount(scope) {
    scope.document.documentElement.dataset.scripts = "";
    let stored = null;
    try {
      stored = scope.localStorage.getItem(KEY);
    } catch {
      // Storage may be forbidden; the page then follows the system.
    }
    const theme = knownTheme(stored);
    if (theme) scope.document.documentElement.dataset.theme = theme;
  }

  const api = { KEY, knownTheme, mount };
  if (typeof module === "object" && module.exports) module.exports = api;
  else mount(root);
})(globalThis);
