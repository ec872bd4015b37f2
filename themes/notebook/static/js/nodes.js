// Makes the elements that scripts add to a page; words go in as text, never as markup.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const { inFahrenheit } = inNode ? require("./preferences.js") : root.SoakbookPreferences;

  const SVG = "http://www.w3.org/2000/svg";

  function filled(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes)) {
      if (value === true) node.setAttribute(name, "");
      else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, String(value));
    }
    node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== ""));
    return node;
  }

  /** Returns an element with attributes (true is an empty one, false and null none) and children: nodes and texts. */
  function element(tag, attributes = {}, ...children) {
    return filled(root.document.createElement(tag), attributes, children);
  }

  /** Returns an element of a picture. */
  function drawn(tag, attributes = {}, ...children) {
    return filled(root.document.createElementNS(SVG, tag), attributes, children);
  }

  /** Returns a text that has another one where °F is chosen; `other` null means that it has none. */
  function switching(text, other, attributes = {}) {
    if (!other) return element("span", attributes, text);
    return element("span", { ...attributes, "data-c": text, "data-f": other }, inFahrenheit() ? other : text);
  }

  /** Returns a figure from its digits, as pages show it: value, uncertainty, unit. */
  function figure(digits, { unit = true } = {}) {
    const bound = digits.bound ? element("span", { class: "bound" }, `${digits.bound} `) : null;
    const node = element("span", { class: "num" }, bound, switching(digits.value, digits.other, { class: "v" }));
    if (digits.u) node.append(element("span", { class: "u" }, " ±\u00a0", switching(digits.u, digits.other === null ? null : digits.otherU)));
    if (unit && digits.unit) node.append(element("span", { class: "unit" }, "\u00a0", switching(digits.unit, digits.otherUnit)));
    return node;
  }

  /** Returns a name that a tester chose, with its own direction; a link where it has an address. */
  function name(text, href = "") {
    const own = element("bdi", {}, text);
    return href ? element("a", { href }, own) : own;
  }

  const api = { element, drawn, switching, figure, name };
  if (inNode) module.exports = api;
  else root.SoakbookNodes = api;
})(globalThis);
