// The room calculator: ambient and power in, expected temperatures with their range out. State stands in the address.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const figures = inNode ? require("./figures.js") : root.SoakbookFigures;
  const values = inNode ? require("./values.js") : root.SoakbookValues;
  const states = inNode ? require("./compare-state.js") : root.SoakbookCompareState;
  const { element, figure } = inNode ? require("./nodes.js") : root.SoakbookNodes;
  const { inFahrenheit, onUnit } = inNode ? require("./preferences.js") : root.SoakbookPreferences;

  const ROOMS = { low: -20, high: 60 }; // °C; what lies outside is a slip of the pen

  const NUMBERS = ["intercept", "slope", "bend", "q1", "q0", "v0", "v1", "v2", "vq", "k", "low", "high"];

  const allFinite = (holder, keys) => keys.every((key) => Number.isFinite(holder?.[key]));

  function isResult(result) {
    if (typeof result?.id !== "string" || typeof result.label !== "string" || !Array.isArray(result.models)) return false;
    const pair = (said) => Array.isArray(said) && said.length === 2 && said.every((text) => typeof text === "string");
    if (!Array.isArray(result.without) || !result.without.every(pair)) return false;
    return allFinite(result, ["power", "low", "high", "coolest", "warmest"]) && result.models.every((model) => allFinite(model, NUMBERS));
  }

  /** Returns the results that a page carries, or null where they cannot be read. */
  function readResults(text) {
    try {
      const found = JSON.parse(text);
      return Array.isArray(found) && found.length && found.every(isResult) ? found : null;
    } catch {
      return null;
    }
  }

  /** Returns temperature and half-width (95 %) of a model in °C, or null outside its range of power in W. */
  function temperature(model, ambient, power) {
    if (!(power >= model.low && power <= model.high)) return null;
    const shape = power ** 2 - model.q1 * power - model.q0;
    const variance = model.v0 + model.v1 * power + model.v2 * power ** 2 + model.vq * shape ** 2;
    return { name: model.name, value: ambient + model.intercept + model.slope * power + model.bend * shape, half: model.k * Math.sqrt(Math.max(variance, 0)) };
  }

  /** Returns a tested range in whole watts, rounded inwards. */
  const whole = ({ low, high }) => `${Math.ceil(low)} to ${Math.floor(high)} W`;

  /** Returns the temperatures of which nothing is said at a power in W, each as [name, why]. */
  function unsaid(result, power) {
    const outside = result.models.filter((model) => !(power >= model.low && power <= model.high));
    return [...outside.map((model) => [model.name, `tested from ${whole(model)} only`]), ...result.without];
  }

  /** Returns the sentence that declines a power outside the tested range; limits are rounded inwards. */
  function refusal(result, power) {
    const asked = Number.isInteger(power) ? power.toFixed(0) : power.toFixed(1);
    return `Tested from ${whole(result)}. ${asked} W is outside that range, and a line says nothing about what happens there.`;
  }

  const inUnit = (celsius, fahrenheit) => (fahrenheit ? celsius * 1.8 + 32 : celsius);
  const unitOf = (fahrenheit) => (fahrenheit ? "°F" : "°C");

  /** Returns a setting as digits without needless ones: 73.4, 23, \u221220. */
  function digits(number) {
    return String(Number(number.toFixed(1))).replace("-", "\u2212");
  }

  function between(low, high, fahrenheit) {
    return [low, high].map((celsius) => digits(inUnit(celsius, fahrenheit))).join(" to ") + ` ${unitOf(fahrenheit)}`;
  }

  /** Returns what to know about an answer: empty inside the rooms that the protocol allows. */
  function caution(result, ambient, fahrenheit) {
    if (ambient >= result.coolest && ambient <= result.warmest) return "";
    const rooms = between(result.coolest, result.warmest, fahrenheit);
    return `Tests are made in rooms of ${rooms}. In yours the rise is assumed to be the same, and the \u00b1 does not cover that.`;
  }

  /** Returns what to show for an ambient in °C and a power in W: temperatures and what to know, or why there are none. */
  function answer(result, ambient, power, fahrenheit = false) {
    const none = (said) => ({ temperatures: [], unsaid: [], said });
    if (ambient === null || power === null) return none("Give an ambient temperature and a board power.");
    if (ambient < ROOMS.low || ambient > ROOMS.high) return none(`Give an ambient temperature of ${between(ROOMS.low, ROOMS.high, fahrenheit)}.`);
    const temperatures = result.models.map((model) => temperature(model, ambient, power)).filter((t) => t !== null);
    if (!temperatures.length) return none(refusal(result, power));
    return { temperatures, unsaid: unsaid(result, power), said: caution(result, ambient, fahrenheit) };
  }

  /** Returns a temperature as digits in a unit: value, half-width and the unit. */
  function inDigits(t, fahrenheit) {
    const found = figures.roundToUncertainty(inUnit(t.value, fahrenheit), fahrenheit ? t.half * 1.8 : t.half);
    return { ...found, unit: unitOf(fahrenheit) };
  }

  /** Returns the state that an address asks for, ambient in °C, and a sentence where the page lacks its result. */
  function readState(search, results) {
    const query = new URLSearchParams(search);
    const asked = query.get("result") ?? "";
    const result = results.find((r) => r.id === asked) ?? results[0];
    const said = asked && result.id !== asked ? `There is no result ${states.quoted(asked)} to work with: ${result.label} is shown.` : "";
    return { result: result.id, ambient: query.get("ambient"), power: query.get("power") ?? String(result.power), said };
  }

  /** Returns the query of a state, ambient in °C. */
  function writeState({ result, ambient, power }) {
    return `?${new URLSearchParams({ result, ambient, power })}`;
  }

  function show(box, found, fahrenheit, asked) {
    const whys = found.unsaid.map(([name, why]) => `${name}: ${why}.`).join(" ");
    const said = [asked, found.said, whys].filter(Boolean).map((text) => element("p", {}, text));
    const items = found.temperatures.map((t) => element("div", {}, element("dt", {}, t.name), element("dd", {}, figure(inDigits(t, fahrenheit)))));
    const shown = items.length ? [element("dl", { class: "figures" }, items), element("p", { class: "on-paper" }, found.question)] : [];
    box.replaceChildren(...shown, ...said);
  }

  /** The ambient's field: its value in °C, whatever unit it is shown in. */
  function ambientField(field) {
    let celsius = values.toNumber(field.value);
    return {
      read() {
        const typed = values.toNumber(field.value);
        celsius = typed === null || !inFahrenheit() ? typed : (typed - 32) / 1.8;
      },
      set(text) {
        celsius = values.toNumber(text);
      },
      show() {
        field.value = celsius === null ? "" : String(Number(inUnit(celsius, inFahrenheit()).toFixed(2)));
      },
      get celsius() {
        return celsius;
      },
    };
  }

  function mount(scope) {
    const place = scope.querySelector("[data-room]");
    if (!place) return;
    const results = readResults(place.dataset.models);
    if (!results) {
      const said = "The figures of this page could not be read, so nothing can be worked out here. The table below is whole.";
      place.querySelector("[data-answer]").textContent = said;
      return;
    }
    const form = place.querySelector("form");
    const { result: chosen, ambient: room, power } = form.elements;
    const ambient = ambientField(room);
    const current = () => results.find((r) => r.id === chosen.value);
    const ask = (said = "") => {
      const found = answer(current(), ambient.celsius, values.toNumber(power.value), inFahrenheit());
      // The form is no part of a printed page.
      found.question = `${current().label}: ${room.value} ${unitOf(inFahrenheit())} ambient, ${power.value} W board power.`;
      show(place.querySelector("[data-answer]"), found, inFahrenheit(), said);
    };
    const keep = () => {
      const celsius = ambient.celsius === null ? "" : String(Number(ambient.celsius.toFixed(2)));
      try {
        root.history.replaceState(null, "", root.location.pathname + writeState({ result: chosen.value, ambient: celsius, power: power.value }));
      } catch {
        // Some browsers forbid it for files on disk; the calculator still works.
      }
    };
    const state = readState(root.location.search, results);
    chosen.value = state.result;
    power.value = state.power;
    if (state.ambient !== null) ambient.set(state.ambient);
    ambient.show();
    form.addEventListener("input", (event) => {
      if (event.target === chosen) power.value = current().power;
      if (event.target === room) ambient.read();
      ask();
      keep();
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    onUnit(scope, () => {
      ambient.show();
      ask();
    });
    place.querySelector("[data-without]").hidden = true;
    form.hidden = false;
    ask(state.said);
  }

  const api = { readResults, temperature, unsaid, refusal, caution, answer, inDigits, readState, writeState, mount };
  if (inNode) module.exports = api;
  else mount(root.document);
})(globalThis);
