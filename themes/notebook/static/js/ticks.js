// Rows of results that can be ticked, up to four, and a link that puts the ticked ones side by side.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const { element } = inNode ? require("./nodes.js") : root.SoakbookNodes;

  const MOST = 4;

  /**
   * Returns the ticks after one more or one less: each {r, point, name}, a result once.
   *
   * `full` says that one more would be too many, so that nothing changed.
   */
  function ticked(ticks, tick, on) {
    const others = ticks.filter((t) => t.r !== tick.r || t.point !== tick.point);
    if (!on) return { ticks: others, full: false };
    const distinct = new Set([...others, tick].map((t) => t.r)).size;
    return distinct > MOST ? { ticks, full: true } : { ticks: [...others, tick], full: false };
  }

  /** Returns the query that asks for the ticked results, at the test point of the first. */
  function query(ticks) {
    const wanted = new URLSearchParams([...new Set(ticks.map((t) => t.r))].map((r) => ["r", r]));
    if (ticks.length) wanted.set("point", ticks[0].point);
    return `?${wanted}`;
  }

  /** Returns what is said of the ticks; `points` is a Map of test points to their names. */
  function said(ticks, points, full) {
    const names = [...new Map(ticks.map((t) => [t.r, t.name])).values()];
    const mixed = new Set(ticks.map((t) => t.point)).size > 1;
    const parts = [`Ticked: ${names.join(", ")}.`];
    if (full) parts.push("Four at most: untick one first.");
    else if (names.length === 1) parts.push("Tick a second result to compare it with.");
    if (mixed) parts.push(`Rows of several test points are ticked; they are compared at ${points.get(ticks[0].point) ?? "the first of them"}.`);
    return parts.join(" ");
  }

  function bar(base, onClear) {
    const text = element("p", { role: "status", dir: "auto" });
    const link = element("a", { class: "go", href: base }, "Compare ticked");
    const clear = element("button", { type: "button" }, "Untick all");
    clear.addEventListener("click", onClear);
    const hint = element("span", { class: "soft keys" }, "Enter on a ticked row does the same.");
    const node = element("div", { class: "ticked", hidden: true }, text, link, hint, clear);
    const show = (ticks, sentence) => {
      text.textContent = sentence;
      link.href = base + query(ticks);
      link.hidden = hint.hidden = new Set(ticks.map((t) => t.r)).size < 2;
      node.hidden = ticks.length === 0;
      root.document.documentElement.toggleAttribute("data-ticking", ticks.length > 0);
    };
    return { node, show, follow: () => link.hidden || link.click() };
  }

  /** Adds a box to every row of a result that has none. */
  function addBoxes(rows) {
    for (const row of rows) {
      const head = row.cells[0];
      if (row.dataset.r === undefined || head.classList.contains("tickable")) continue;
      head.classList.add("tickable");
      const label = element("span", { class: "hidden-text" }, "Compare ", row.dataset.name);
      head.prepend(element("label", { class: "tick" }, element("input", { type: "checkbox", "data-tick": true }), label));
    }
  }

  function mountTable(table, onTick, onEnter) {
    addBoxes(table.rows);
    table.addEventListener("rows", (event) => addBoxes(event.detail));
    const own = (event) => event.target.dataset.tick !== undefined;
    table.addEventListener("change", (event) => own(event) && onTick(event.target));
    // As in a form: Enter in one of its boxes does what its button does.
    table.addEventListener("keydown", (event) => own(event) && event.key === "Enter" && onEnter());
  }

  function mount(scope) {
    const tables = [...scope.querySelectorAll("table[data-compare]")];
    if (!tables.length) return;
    const points = new Map();
    let ticks = [];
    const tickOf = (box) => {
      const { r, point, name } = box.closest("tr").dataset;
      return { r, point, name };
    };
    const boxes = () => tables.flatMap((table) => [...table.querySelectorAll("[data-tick]:checked")]);
    const shown = bar(tables[0].dataset.compare, () => {
      for (const box of boxes()) box.checked = false;
      ticks = [];
      shown.show(ticks, "");
      tables[0].querySelector("[data-tick]").focus();
    });
    const change = (box) => {
      const tick = tickOf(box);
      const row = box.closest("tr");
      points.set(tick.point, row.dataset.at);
      const next = ticked(ticks, tick, box.checked);
      if (next.full) box.checked = false;
      else for (const twin of tables.flatMap((table) => [...table.querySelectorAll(`tr[data-r="${tick.r}"][data-point="${tick.point}"] [data-tick]`)])) twin.checked = box.checked;
      ticks = next.ticks;
      shown.show(ticks, said(ticks, points, next.full));
    };
    for (const table of tables) mountTable(table, change, shown.follow);
    tables.at(-1).closest("main").append(shown.node);
  }

  const api = { MOST, ticked, query, said, mount };
  if (inNode) module.exports = api;
  else mount(root.document);
})(globalThis);
