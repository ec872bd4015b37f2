// A picture of rows: one dot for each figure, with the interval in which the true value lies 95 times in 100.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const { drawn: node } = inNode ? require("./nodes.js") : root.SoakbookNodes;

  const MOST = 40;
  const WIDE = 560;
  const TICKS = 5;

  /** Returns numbers for an axis that reaches over low to high: ascending, a round step apart. */
  function niceTicks(low, high, wanted = TICKS) {
    const span = high - low || Math.abs(high) || 1;
    const rough = span / wanted;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((n) => n * power).find((s) => s >= rough * 0.999);
    const first = Math.floor(low / step + 1e-9);
    const count = Math.max(1, Math.ceil((high - first * step) / step - 1e-9));
    const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    return Array.from({ length: count + 1 }, (_, i) => Number(((first + i) * step).toFixed(decimals)));
  }

  /** Returns the numbers of an axis as texts with as many decimals each. */
  function tickTexts(ticks) {
    const decimals = Math.max(...ticks.map((tick) => (String(tick).split(".")[1] ?? "").length));
    return ticks.map((tick) => tick.toFixed(decimals).replace("-", "\u2212"));
  }

  /** Returns a name cut to some letters as people count them. */
  function shortened(text, letters) {
    const parts = typeof Intl.Segmenter === "function" ? [...new Intl.Segmenter().segment(text)].map((s) => s.segment) : [...text];
    return parts.length > letters ? `${parts.slice(0, letters - 1).join("")}…` : text;
  }

  /** Returns {drawn, left, missing}: the rows that are drawn, and how many are too many or have no figure. */
  function chosen(rows, valueOf) {
    const there = rows.filter((row) => valueOf(row) !== null);
    return { drawn: there.slice(0, MOST), left: Math.max(0, there.length - MOST), missing: rows.length - there.length };
  }

  /** Returns a name that keeps its own direction between other words. */
  function isolated(text) {
    return `\u2068${text}\u2069`;
  }

  function rowsOf(count, noun = "row") {
    return `${count} ${noun}${count === 1 ? "" : "s"}`;
  }

  /** Returns the sentence below the picture. */
  function said({ drawn, left, missing }) {
    const parts = [];
    if (!drawn.length) return "None of these rows has this figure.";
    if (left) parts.push(`The first ${drawn.length} are drawn, ${rowsOf(left, "further row")} left out: narrow the choice to see them.`);
    if (missing) parts.push(`${rowsOf(missing)} without this figure.`);
    if (drawn.some((item) => !item.settled && !item.hand)) parts.push("A hollow dot had not settled.");
    if (drawn.some((item) => item.hand)) parts.push("Figures read by hand have hollow dots too: nobody can say whether they had settled.");
    parts.push("The lines are 95 % intervals. The table has the same figures.");
    return parts.join(" ");
  }

  /** Returns where everything stands, in CSS pixels, for a picture of some width. */
  function layout(drawn, width, groups) {
    const wide = width >= WIDE;
    const names = wide ? Math.min(360, width * 0.4) : 0;
    const figures = wide ? 124 : 0;
    const rowHeight = wide ? 26 : 42;
    const low = Math.min(...drawn.map((item) => item.value - item.u));
    const high = Math.max(...drawn.map((item) => item.value + item.u));
    const ticks = niceTicks(low, high, wide ? TICKS : 3);
    const left = names + 10;
    const right = width - figures - 10;
    const x = (value) => left + ((value - ticks[0]) / (ticks.at(-1) - ticks[0])) * (right - left);
    let y = 0;
    let group = null;
    const places = drawn.map((item) => {
      const heading = groups && item.group !== group ? item.group : "";
      group = item.group;
      if (heading) y += 26;
      const top = y;
      y += rowHeight;
      return { item, heading, top };
    });
    return { wide, width, names, left, right, ticks, x, rowHeight, places, bottom: y, height: y + 44 };
  }

  function rowNodes(at, place, letters) {
    const { item, top } = place;
    const middle = at.wide ? top + 13 : top + 30;
    const line = at.wide ? top + 17 : top + 16;
    const name = shortened(item.label, letters);
    const kind = item.settled ? "dot" : "dot open";
    return node(
      "g",
      {},
      node("title", {}, `${item.label}: ${item.text}`),
      node("text", { x: 0, y: line, class: "name" }, name),
      node("text", { x: at.width, y: line, class: "value" }, item.text),
      node("line", { x1: at.left, x2: at.right, y1: middle, y2: middle, class: "track" }),
      node("line", { x1: at.x(item.value - item.u), x2: at.x(item.value + item.u), y1: middle, y2: middle, class: "reach" }),
      node("circle", { cx: at.x(item.value), cy: middle, r: 4.5, class: kind }),
    );
  }

  /** Returns the picture as an element; `title` names it, `axis` stands below its scale. */
  function picture(drawn, width, { title, axis, groups }) {
    const at = layout(drawn, width, groups);
    const letters = Math.max(8, Math.floor((at.wide ? at.names : width - 104) / 7));
    const svg = node("svg", { class: "rows-chart", viewBox: `0 0 ${width} ${at.height}`, width, height: at.height, role: "img", "aria-label": title });
    const texts = tickTexts(at.ticks);
    for (const [i, tick] of at.ticks.entries()) {
      svg.append(
        node("line", { x1: at.x(tick), x2: at.x(tick), y1: 0, y2: at.bottom, class: "grid" }),
        node("text", { x: at.x(tick), y: at.bottom + 16, class: "tick-label" }, texts[i]),
      );
    }
    svg.append(node("text", { x: at.right, y: at.bottom + 36, class: "axis-label" }, axis));
    for (const place of at.places) {
      if (place.heading) svg.append(node("text", { x: 0, y: place.top - 8, class: "heading" }, place.heading));
      svg.append(rowNodes(at, place, letters));
    }
    return svg;
  }

  const api = { MOST, niceTicks, tickTexts, shortened, isolated, chosen, said, layout, picture };
  if (inNode) module.exports = api;
  else root.SoakbookArchiveChart = api;
})(globalThis);
