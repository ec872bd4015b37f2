// The room calculator: ambient and power in, expected temperatures with their range out. State stands in the address.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const figures = inNode ? require("./figures.js") : root.SoakbookFigures;
  const values = inNode ? require("./values.js") : root.SoakbookValues;

  /** Returns temperature and half-width (95 %) of a model in °C, or null outside its range of power in W. */
  function temperature(model, ambient, power) {
    if (!(power >= model.low && power <= model.high)) return null;
    const variance = model.v0 + model.v1 * power + model.v2 * power ** 2;
    return { name: model.name, value: ambient + model.intercept + model.slope * power, half: model.k * Math.sqrt(Math.max(variance, 0)) };
  }

  /** Returns the sentence that declines a power outside the tested range; limits are rounded inwards. */
  function refusal(result, power) {
    const asked = Number.isInteger(power) ? power.toFixed(0) : power.toFixed(1);
    const limits = `${Math.ceil(result.low)} to ${Math.floor(result.high)} W`;
    return `Tested from ${limits}. ${asked} W is outside that range, and a line says nothing about what happens there.`;
  }

  /** Returns what to show: temperatures, or a sentence why there are none. */
  function answer(result, ambient, power) {
    if (ambient === null || power === null) return { temperatures: [], said: "Give an ambient temperature and a board power." };
    const temperatures = result.models.map((model) => temperature(model, ambient, power)).filter((t) => t !== null);
    return { temperatures, said: temperatures.length ? "" : refusal(result, power) };
  }

  /** Returns a temperature in both units. */
  function inWords(t) {
    return { celsius: figures.format(t.value, t.half, "°C"), fahrenheit: figures.format(t.value * 1.8 + 32, t.half * 1.8, "°F") };
  }

  /** Returns the state that an address asks for; a result that the page does not have is the first one. */
  function readState(search, results) {
    const query = new URLSearchParams(search);
    const result = results.find((r) => r.id === query.get("result")) ?? results[0];
    return { result: result.id, ambient: query.get("ambient"), power: query.get("power") ?? String(result.power) };
  }

  /** Returns the query of a state. */
  function writeState(state) {
    return `?${new URLSearchParams(state)}`;
  }

  function show(scope, box, found) {
    const list = scope.createElement("dl");
    list.className = "figures";
    for (const t of found.temperatures) {
      const words = inWords(t);
      const item = list.appendChild(scope.createElement("div"));
      item.appendChild(scope.createElement("dt")).textContent = t.name;
      const shown = item.appendChild(scope.createElement("dd"));
      shown.appendChild(scope.createElement("span")).textContent = words.celsius;
      shown.firstChild.className = "expected";
      shown.appendChild(scope.createElement("span")).textContent = words.fahrenheit;
    }
    const said = scope.createElement("p");
    said.textContent = found.said;
    box.replaceChildren(...(found.temperatures.length ? [list] : [said]));
  }

  function mount(scope) {
    const place = scope.querySelector("[data-room]");
    if (!place) return;
    const results = JSON.parse(place.dataset.models);
    const form = place.querySelector("form");
    const ask = (keep) => {
      const state = Object.fromEntries(["result", "ambient", "power"].map((key) => [key, form.elements[key].value]));
      const result = results.find((r) => r.id === state.result);
      show(scope, place.querySelector("[data-answer]"), answer(result, values.toNumber(state.ambient), values.toNumber(state.power)));
      if (!keep) return;
      try {
        root.history.replaceState(null, "", root.location.pathname + writeState(state));
      } catch {
        // Some browsers forbid it for files on disk; the calculator still works.
      }
    };
    const state = readState(root.location.search, results);
    for (const key of ["result", "power"]) form.elements[key].value = state[key];
    if (state.ambient !== null) form.elements.ambient.value = state.ambient;
    form.addEventListener("input", (event) => {
      if (event.target.name === "result") form.elements.power.value = results.find((r) => r.id === event.target.value).power;
      ask(true);
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    place.querySelector("[data-without]").hidden = true;
    form.hidden = false;
    ask(false);
  }

  const api = { temperature, refusal, answer, inWords, readState, writeState, mount };
  if (inNode) module.exports = api;
  else mount(root.document);
})(globalThis);
