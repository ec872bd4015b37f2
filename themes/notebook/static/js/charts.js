// Reads charts: what a mark says, by pointer, touch or arrow keys. Picture and table say it all without this.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const { element } = inNode ? require("./nodes.js") : root.SoakbookNodes;
  const { inFahrenheit } = inNode ? require("./preferences.js") : root.SoakbookPreferences;

  const REACH = 24; // px from a mark, for a finger as well
  const GAP = 12; // px between a mark and its tip
  const KEYS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, PageDown: 10, PageUp: -10, Home: -Infinity, End: Infinity };

  /** Returns the place in a list after a key, or -1 for a key that does not move; -1 also stands for no place yet. */
  function moved(key, place, count) {
    if (!Object.hasOwn(KEYS, key) || count === 0) return -1;
    const from = place < 0 && KEYS[key] < 0 ? count : place;
    return Math.min(Math.max(place < 0 && KEYS[key] === 10 ? 0 : from + KEYS[key], 0), count - 1);
  }

  /** Returns which box is nearest to a point, or -1 where none is within reach. */
  function nearest(boxes, x, y, reach) {
    let found = -1;
    let best = reach;
    boxes.forEach((box, i) => {
      const distance = Math.hypot(Math.max(box.left - x, 0, x - box.right), Math.max(box.top - y, 0, y - box.bottom));
      if (distance < best) [best, found] = [distance, i];
    });
    return found;
  }

  /** Returns where a tip of a size stands: above a point or else below it, or aside of it; never outside the width. */
  function beside(point, tip, width) {
    const most = Math.max(width - tip.width, 0);
    if (point.aside) return { left: point.x + GAP <= most ? point.x + GAP : Math.max(point.x - GAP - tip.width, 0), top: point.y };
    const above = point.y - tip.height - GAP;
    return { left: Math.min(Math.max(point.x - tip.width / 2, 0), most), top: above >= 0 ? above : point.y + GAP };
  }

  /** Returns the picture that the style sheet shows. */
  function shown(box) {
    return [...box.querySelectorAll("svg")].find((svg) => svg.checkVisibility());
  }

  /** Calls `work` for each of many, each in a task of its own, so that none keeps the reader waiting. */
  function inTurn(many, work) {
    const [first, ...rest] = many;
    if (!first) return;
    work(first);
    if (rest.length) root.setTimeout(() => inTurn(rest, work));
  }

  /** Returns what the chart brings for scripts; empty where it brings nothing. */
  function dataOf(box) {
    return JSON.parse(box.querySelector('script[type="application/json"]')?.textContent ?? "{}");
  }

  /**
   * Lets a chart be read. `chart` has a `hint`, `count()`, `at(x, y)` -> place by client pixels or -1, and
   * `show(place)` -> { words, lines, x, y, aside }, with the nodes of the tip and its client pixels, and `hide()`.
   */
  function attach(box, chart) {
    const settings = { role: "slider", tabindex: 0, "aria-label": `Values: ${box.dataset.title}`, "aria-valuemin": 0 };
    const reader = element("div", { class: "reader", ...settings });
    const tip = element("div", { class: "tip", "aria-hidden": "true" });
    let place = -1;
    const say = (words) => {
      reader.setAttribute("aria-valuemax", chart.count());
      reader.setAttribute("aria-valuenow", place + 1);
      reader.setAttribute("aria-valuetext", words);
    };
    const hide = () => {
      place = -1;
      tip.hidden = true;
      chart.hide();
      say(chart.hint);
    };
    const show = (next) => {
      if (next < 0) return hide();
      place = next;
      const { words, lines, x, y, aside } = chart.show(place);
      const frame = box.getBoundingClientRect();
      tip.replaceChildren(...lines);
      tip.hidden = false;
      tip.style.left = "0";
      const { left, top } = beside({ x: x - frame.left, y: y - frame.top, aside }, tip.getBoundingClientRect(), frame.width);
      tip.style.left = `${left}px`;
      tip.style.top = `${top}px`;
      say(words);
    };
    reader.addEventListener("pointermove", (event) => show(chart.at(event.clientX, event.clientY)));
    reader.addEventListener("pointerdown", (event) => show(chart.at(event.clientX, event.clientY)));
    // A finger that lifts also leaves; what it chose stays until it touches elsewhere.
    reader.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && hide());
    reader.addEventListener("blur", hide);
    reader.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      if (event.key === "Escape") return hide();
      const next = moved(event.key, place, chart.count());
      if (next < 0) return;
      event.preventDefault();
      show(next);
    });
    hide();
    box.append(reader, tip);
    return { reader, show, hide, place: () => place };
  }

  /** Returns the marks that can be read: symbols and bars are filled, lines are not. */
  function marksOf(svg) {
    return [...svg.querySelectorAll("[aria-label][fill]")];
  }

  function markChart(box) {
    const other = dataOf(box).fahrenheit ?? {};
    const marks = () => marksOf(shown(box));
    const hide = () => {
      for (const mark of box.querySelectorAll("[data-read]")) {
        delete mark.dataset.read;
        mark.removeAttribute("stroke");
        mark.setAttribute("stroke-width", 0);
      }
    };
    const show = (place) => {
      const mark = marks()[place];
      const label = mark.getAttribute("aria-label");
      const words = (inFahrenheit() && other[label]) || label;
      const frame = mark.getBoundingClientRect();
      hide();
      mark.dataset.read = "";
      mark.setAttribute("stroke", "var(--ink)");
      mark.setAttribute("stroke-width", 2);
      return { words, lines: [element("bdi", {}, words)], x: (frame.left + frame.right) / 2, y: frame.top };
    };
    const at = (x, y) => nearest(marks().map((mark) => mark.getBoundingClientRect()), x, y, REACH);
    return { hint: "Arrow keys read the marks", count: () => marks().length, at, show, hide };
  }

  function mount(scope) {
    inTurn(scope.querySelectorAll('[data-chart="marks"]'), (box) => {
      if (shown(box) && marksOf(shown(box)).length) attach(box, markChart(box));
    });
  }

  const api = { moved, nearest, beside, shown, inTurn, dataOf, attach, mount };
  if (inNode) module.exports = api;
  else {
    root.SoakbookCharts = api;
    mount(root.document);
  }
})(globalThis);
