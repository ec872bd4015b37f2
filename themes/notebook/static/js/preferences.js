// Two switches in the masthead: light or dark, °C or °F. Choices are remembered on this device only.
(function (root) {
  "use strict";

  /** Returns the theme that the switch turns to. */
  function otherTheme(current, systemDark) {
    const shown = current || (systemDark ? "dark" : "light");
    return shown === "dark" ? "light" : "dark";
  }

  /** Returns whether the page is dark: by choice, or else by the system. */
  function isDark(chosen, systemDark) {
    return chosen ? chosen === "dark" : systemDark;
  }

  function remember(key, value) {
    try {
      root.localStorage.setItem(key, value);
    } catch {
      // Without storage the choice holds for this page.
    }
  }

  function recall(key) {
    try {
      return root.localStorage.getItem(key);
    } catch {
      return null;
    }
  }

  /** Shows every temperature in °F, or in °C again; the digits of both come with the page. */
  function showUnit(scope, fahrenheit) {
    for (const node of scope.querySelectorAll("[data-f]")) {
      if (fahrenheit) node.dataset.c ??= node.textContent;
      node.textContent = (fahrenheit ? node.dataset.f : node.dataset.c) ?? node.textContent;
    }
  }

  function unitSwitch(scope) {
    return scope.querySelector('[data-switch="unit"]');
  }

  /** Returns whether the reader chose °F, as the switch of the page says. */
  function inFahrenheit(scope = root.document) {
    return unitSwitch(scope)?.getAttribute("aria-pressed") === "true";
  }

  /** Does something each time the reader has chosen the other unit; the page shows it by then. */
  function onUnit(scope, work) {
    unitSwitch(scope)?.addEventListener("click", work);
  }

  function mountTheme(button, html, system) {
    const show = () => button.setAttribute("aria-pressed", String(isDark(html.dataset.theme, system.matches)));
    button.addEventListener("click", () => {
      html.dataset.theme = otherTheme(html.dataset.theme, system.matches);
      remember("theme", html.dataset.theme);
      show();
    });
    system.addEventListener("change", show);
    show();
  }

  function mountUnit(button, scope) {
    let fahrenheit = recall("unit") === "fahrenheit";
    const show = () => button.setAttribute("aria-pressed", String(fahrenheit));
    button.addEventListener("click", () => {
      fahrenheit = !fahrenheit;
      remember("unit", fahrenheit ? "fahrenheit" : "celsius");
      showUnit(scope, fahrenheit);
      show();
    });
    if (fahrenheit) showUnit(scope, fahrenheit); // the page comes in °C
    show();
  }

  function mount(scope) {
    const box = scope.querySelector("[data-switches]");
    if (!box) return;
    mountTheme(box.querySelector('[data-switch="theme"]'), scope.documentElement, root.matchMedia("(prefers-color-scheme: dark)"));
    mountUnit(unitSwitch(box), scope);
    box.hidden = false;
  }

  const api = { otherTheme, isDark, showUnit, inFahrenheit, onUnit, mount };
  if (typeof module === "object" && module.exports) module.exports = api;
  else {
    root.SoakbookPreferences = api;
    mount(root.document);
  }
})(globalThis);
