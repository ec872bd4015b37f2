"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const preferences = require("../../themes/notebook/static/js/preferences.js");
const theme = require("../../themes/notebook/static/js/theme.js");

test("the switch turns to what is not shown", () => {
  assert.equal(preferences.otherTheme(undefined, false), "dark");
  assert.equal(preferences.otherTheme(undefined, true), "light");
  assert.equal(preferences.otherTheme("dark", false), "light");
  assert.equal(preferences.otherTheme("light", true), "dark");
});

test("a choice wins over the system", () => {
  assert.equal(preferences.isDark("light", true), false);
  assert.equal(preferences.isDark(undefined, true), true);
});

test("only the two themes are taken from storage", () => {
  assert.deepEqual(["light", "dark", "x", "", null].map(theme.knownTheme), ["light", "dark", "", "", ""]);
});

test("a page works where storage is forbidden", () => {
  const scope = {
    document: { documentElement: { dataset: {} } },
    get localStorage() {
      throw new Error("forbidden");
    },
  };
  theme.mount(scope);
  assert.deepEqual(scope.document.documentElement.dataset, { scripts: "" });
});

test("a remembered theme is set before anything is painted", () => {
  const scope = { document: { documentElement: { dataset: {} } }, localStorage: { getItem: () => "dark" } };
  theme.mount(scope);
  assert.equal(scope.document.documentElement.dataset.theme, "dark");
});

test("temperatures change to °F and back to the very same digits", () => {
  const node = { dataset: { f: "128.8" }, textContent: "53.8" };
  const scope = { querySelectorAll: () => [node] };
  preferences.showUnit(scope, true);
  assert.equal(node.textContent, "128.8");
  preferences.showUnit(scope, true);
  preferences.showUnit(scope, false);
  assert.equal(node.textContent, "53.8");
});

test("the unit is the one that the switch of the page says, and °C without a switch", () => {
  const scope = (pressed) => ({ querySelector: () => (pressed === null ? null : { getAttribute: () => pressed }) });
  assert.deepEqual([scope("true"), scope("false"), scope(null)].map(preferences.inFahrenheit), [true, false, false]);
});
