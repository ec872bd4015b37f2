// The core's temperature in the reader's own room, where it stands among the large numbers of a result.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const { element } = inNode ? require("./nodes.js") : root.SoakbookNodes;
  const { inFahrenheit, onUnit } = inNode ? require("./preferences.js") : root.SoakbookPreferences;

  const ROOMS = { low: -20, high: 60 }; // °C; what lies outside is a slip of the pen

  const toFahrenheit = (celsius) => celsius * 1.8 + 32;
  const toCelsius = (fahrenheit) => (fahrenheit - 32) / 1.8;

  /** Returns the core's temperature in °C at a rise in K, or null where the room is none. */
  function coreIn(room, rise) {
    return Number.isFinite(room) && room >= ROOMS.low && room <= ROOMS.high ? room + rise : null;
  }

  /** Returns a temperature in °C as digits in the unit that readers chose, with as many decimals as the page gave. */
  function digits(celsius, decimals, fahrenheit) {
    return (fahrenheit ? toFahrenheit(celsius) : celsius).toFixed(decimals).replace("-", "\u2212");
  }

  function mountOne(answer) {
    const rise = Number(answer.dataset.rise);
    const value = answer.querySelector(".v");
    const decimals = (value.dataset.c ?? value.textContent).split(".")[1]?.length ?? 0;
    let room = Number(answer.dataset.ownRoom);
    const input = element("input", { type: "number", inputmode: "decimal", step: "any", "aria-label": "Temperature of your room" });
    const unit = element("span", {}, "");
    const said = () => {
      const core = coreIn(room, rise);
      value.dataset.c = core === null ? "?" : digits(core, decimals, false);
      value.dataset.f = core === null ? "?" : digits(core, decimals, true);
      value.textContent = inFahrenheit() ? value.dataset.f : value.dataset.c;
    };
    const show = () => {
      const shown = inFahrenheit() ? toFahrenheit(room) : room;
      if (Number.isFinite(shown)) input.value = String(Number(shown.toFixed(1)));
      unit.textContent = inFahrenheit() ? "\u00a0°F" : "\u00a0°C";
      said();
    };
    input.addEventListener("input", () => {
      const typed = input.value.trim() === "" ? NaN : Number(input.value);
      room = inFahrenheit() ? toCelsius(typed) : typed;
      said();
    });
    answer.querySelector("[data-room]").replaceChildren(input, unit);
    onUnit(root.document, show);
    show();
  }

  const api = { coreIn, digits };
  if (inNode) module.exports = api;
  else for (const answer of root.document.querySelectorAll("[data-own-room]")) mountOne(answer);
})(globalThis);
