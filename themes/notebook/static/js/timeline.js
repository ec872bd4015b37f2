// Reads a chart over time: a crosshair through all of its lines, and a closer look at a part of the time.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const charts = inNode ? require("./charts.js") : root.SoakbookCharts;
  const { drawn, element } = inNode ? require("./nodes.js") : root.SoakbookNodes;
  const { inFahrenheit, showUnit } = inNode ? require("./preferences.js") : root.SoakbookPreferences;

  const LEAST = 8; // cells in the closest look
  const DRAG = 8; // px that tell a drag from a click
  const NOISE = 9; // decimals: what lies below is the arithmetic's own

  /** Returns the centre of every cell in minutes. */
  function times(trace) {
    return trace.lines[0].mean.map((_, i) => ((i + 0.5) * trace.step) / 60);
  }

  /** Returns a part of the time, no shorter than `least`, moved and cut to lie within the whole. */
  function within([from, to], whole, least) {
    const length = Math.min(Math.max(to - from, least), whole[1] - whole[0]);
    const start = Math.min(Math.max((from + to - length) / 2, whole[0]), whole[1] - length);
    return [start, start + length];
  }

  /** Returns the part that is `factor` as long, with `about` at the same place of it. */
  function closer([from, to], factor, about) {
    return [about - (about - from) * factor, about + (to - about) * factor];
  }

  /** Returns ticks at 1, 2 or 5 times a power of ten, at most `most` of them. */
  function ticks([from, to], most) {
    const power = 10 ** Math.floor(Math.log10((to - from) / most));
    for (const size of [1, 2, 5, 10, 20, 50].map((n) => n * power)) {
      const first = Math.ceil(from / size - 1e-9);
      const count = Math.floor(to / size + 1e-9) - first + 1;
      const decimals = Math.max(0, -Math.floor(Math.log10(size) + 1e-9));
      if (count <= most) return Array.from({ length: count }, (_, i) => ({ at: (first + i) * size, text: ((first + i) * size).toFixed(decimals) }));
    }
    return [];
  }

  /** Returns the pieces of a line inside a part of the time, as lists of [time, value]; a missing value parts it. */
  function pieces(at, values, [from, to]) {
    const found = [];
    let piece = null;
    for (let i = 1; i < values.length; i += 1) {
      const [a, b, start, end] = [values[i - 1], values[i], at[i - 1], at[i]];
      if (a === null || b === null || end <= from || start >= to) {
        piece = null;
        continue;
      }
      const value = (t) => a + ((b - a) * (t - start)) / (end - start);
      const low = Math.max(start, from);
      const high = Math.min(end, to);
      if (!piece) found.push((piece = [[low, value(low)]]));
      piece.push([high, value(high)]);
    }
    return found;
  }

  /** Returns SVG path data through places. */
  function path(places) {
    return `M${places.map((place) => place.map((n) => Number(n.toFixed(1))).join(",")).join("L")}`;
  }

  /** Returns the cells inside a part of the time in which some line has a value. */
  function filled(at, lines, [from, to]) {
    return [...at.keys()].filter((i) => at[i] >= from && at[i] <= to && lines.some((line) => line.mean[i] !== null));
  }

  /** Returns the place of the cell nearest to a time, -1 where there is none. */
  function nearestCell(at, cells, time) {
    return cells.reduce((best, cell, i) => (best < 0 || Math.abs(at[cell] - time) < Math.abs(at[cells[best]] - time) ? i : best), -1);
  }

  /** Returns minutes as `12 min 25 s`. */
  function clock(minutes) {
    const seconds = Math.round(minutes * 60);
    return `${Math.floor(seconds / 60)}\u00a0min ${seconds % 60}\u00a0s`;
  }

  /** Returns a number to so many decimals, half to even on its decimal text as in the pages. */
  function rounded(value, decimals) {
    const steps = Number(`${value.toFixed(NOISE)}e${decimals}`);
    const whole = Math.abs(steps % 1) === 0.5 ? 2 * Math.round(steps / 2) : Math.round(steps);
    return (whole / 10 ** decimals).toFixed(decimals);
  }

  /** Returns a mean of a line with its unit; temperatures in °F where that was chosen. */
  function worded(value, { unit, digits }, fahrenheit) {
    const turned = unit === "°C" && fahrenheit;
    const text = rounded(turned ? value * 1.8 + 32 : value, digits[Number(turned)]);
    return `${Number(text) === 0 ? text.replace("-", "") : text.replace("-", "\u2212")}\u00a0${turned ? "°F" : unit}`;
  }

  function height(panel, value) {
    const [, size, low, high] = panel;
    return size * (1 - (value - low) / (high - low));
  }

  /** One picture of the chart: draws a part of the time into it, and a crosshair over it. */
  function picture(svg, trace) {
    const frame = trace.frames[svg.classList.contains("chart-wide") ? "wide" : "compact"];
    const at = times(trace);
    const original = [...svg.cloneNode(true).childNodes];
    const plot = svg.appendChild(drawn("g", { transform: `translate(${frame.left},${frame.top})` }));
    const last = frame.panels[Math.max(...trace.lines.map((line) => line.panel))];
    let view = trace.minutes;
    const x = (time) => ((time - view[0]) / (view[1] - view[0])) * frame.width;

    const named = (part) => [...svg.querySelectorAll(`[data-part="${part}"]`)];
    const moveTo = (node, place) => {
      const y = /,([-\d.]+)\)/.exec(node.getAttribute("transform") ?? "")?.[1] ?? 0;
      const inside = place !== null && place >= 0 && place <= frame.width;
      if (inside) node.setAttribute("transform", `translate(${place.toFixed(1)},${y})`);
      else node.remove();
    };
    const drawLine = (line) => {
      const panel = frame.panels[line.panel];
      const placed = (values) => pieces(at, values, view).map((piece) => piece.map(([t, v]) => [x(t), height(panel, v)]));
      const lows = placed(line.low);
      const band = placed(line.high).map((high, i) => `${path([...high, ...lows[i].reverse()])}Z`);
      for (const node of named(`line-${line.slot}`)) node.setAttribute("d", placed(line.mean).map(path).join(""));
      for (const node of named(`band-${line.slot}`)) node.setAttribute("d", band.join(""));
    };
    const drawTicks = () => {
      const labels = named("tick-label");
      const found = ticks(view, labels.length);
      labels.forEach((node, i) => {
        if (found[i]) node.textContent = found[i].text;
        moveTo(node, found[i] ? x(found[i].at) : null);
      });
      named("tick").forEach((node, i) => moveTo(node, found[i % labels.length] ? x(found[i % labels.length].at) : null));
    };
    const drawWindow = () => {
      if (!trace.window) return;
      const [from, to] = trace.window.map((time) => Math.min(Math.max(x(time), 0), frame.width));
      named("window").forEach((node, i) => node.setAttribute("d", `M${from},0h${to - from}v${frame.panels[i][1]}H${from}Z`));
      named("window-start").forEach((node) => moveTo(node, x(trace.window[0])));
      named("window-end").forEach((node) => moveTo(node, x(trace.window[1])));
      for (const node of named("averaged")) {
        node.setAttribute("text-anchor", "middle");
        moveTo(node, to - from > 60 ? (from + to) / 2 : null);
      }
    };
    const look = (part) => {
      view = part;
      svg.replaceChildren(...original.map((node) => node.cloneNode(true)), plot);
      showUnit(svg, inFahrenheit()); // it may have changed since the first drawing
      if (part === trace.minutes) return;
      drawWindow();
      trace.lines.forEach(drawLine);
      drawTicks();
    };
    const cross = (cell) => {
      const place = x(at[cell]);
      const dots = trace.lines.filter((line) => line.mean[cell] !== null);
      plot.replaceChildren(
        drawn("line", { x1: place, x2: place, y1: 0, y2: last[0] + last[1], stroke: "var(--ink)" }),
        ...dots.map((line) => {
          const panel = frame.panels[line.panel];
          return drawn("circle", { cx: place, cy: panel[0] + height(panel, line.mean[cell]), r: 3.5, fill: `var(--chart-${line.slot})`, stroke: "var(--paper)" });
        }),
      );
    };
    const select = (from, to) => {
      const sides = [Math.min(from, to), Math.abs(to - from)];
      plot.replaceChildren(drawn("rect", { x: sides[0], width: sides[1], y: 0, height: last[0] + last[1], fill: "var(--accent)", "fill-opacity": 0.2 }));
    };
    const scale = () => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    const toPlot = (client) => (client - svg.getBoundingClientRect().left) / scale() - frame.left;
    const toTime = (client) => view[0] + (Math.min(Math.max(toPlot(client) / frame.width, 0), 1)) * (view[1] - view[0]);
    const toClient = (time) => svg.getBoundingClientRect().left + (frame.left + x(time)) * scale();
    return { svg, look, cross, select, toPlot, toTime, toClient, clear: () => plot.replaceChildren() };
  }

  function entry(line, text) {
    const swatch = element("span", { class: "swatch" });
    swatch.style.backgroundColor = `var(--chart-${line.slot})`; // the page's policy forbids an attribute of style
    return element("span", { class: "tip-line" }, swatch, element("bdi", {}, line.name), element("span", { class: "num" }, text));
  }

  function timeChart(box, trace) {
    const at = times(trace);
    const pictures = [...box.querySelectorAll("svg")].map((svg) => picture(svg, trace));
    const current = () => pictures.find((one) => one.svg === charts.shown(box));
    let cells = filled(at, trace.lines, trace.minutes);
    const show = (place) => {
      const cell = cells[place];
      const lines = trace.lines.filter((line) => line.mean[cell] !== null);
      const values = lines.map((line) => worded(line.mean[cell], line, inFahrenheit()));
      const head = clock(at[cell]);
      const frame = box.getBoundingClientRect();
      current().cross(cell);
      return {
        words: `${head}: ${lines.map((line, i) => `${line.name} ${values[i]}`).join(", ")}`,
        lines: [element("strong", {}, head), ...lines.map((line, i) => entry(line, values[i]))],
        x: current().toClient(at[cell]),
        y: frame.top + frame.height * 0.35,
        aside: true,
      };
    };
    const look = (view) => {
      cells = filled(at, trace.lines, view);
      for (const one of pictures) one.look(view);
    };
    return {
      hint: "Arrow keys read the lines, plus and minus look closer, 0 shows all",
      count: () => cells.length,
      at: (x) => nearestCell(at, cells, current().toTime(x)),
      timeOf: (place) => at[cells[place]],
      show,
      hide: () => pictures.forEach((one) => one.clear()),
      look,
      current,
    };
  }

  function button(text, label, action) {
    const node = element("button", { type: "button", "aria-label": label }, text);
    node.addEventListener("click", action);
    return node;
  }

  function mountChart(box) {
    const { trace } = charts.dataOf(box);
    if (!trace?.lines.length) return;
    const chart = timeChart(box, trace);
    const { reader, hide, place } = charts.attach(box, chart);
    const whole = trace.minutes;
    const range = element("output");
    let view = whole;
    const look = (part) => {
      const next = within(part, whole, (LEAST * trace.step) / 60);
      view = next[1] - next[0] < whole[1] - whole[0] ? next : whole;
      chart.look(view);
      hide();
      range.textContent = view === whole ? "" : `${clock(view[0])} to ${clock(view[1])}`;
      all.disabled = out.disabled = view === whole;
    };
    const zoom = (factor) => look(closer(view, factor, place() < 0 ? (view[0] + view[1]) / 2 : chart.timeOf(place())));
    const all = button("All", "Show all of the time", () => look(whole));
    const out = button("\u2212", "Look at more of the time", () => zoom(2));
    const bar = element("div", { class: "closer" }, button("+", "Look closer at the time", () => zoom(0.5)), out, all, range);
    all.disabled = out.disabled = true;
    box.after(bar);

    const keys = { "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), 0: () => look(whole), Escape: () => look(whole) };
    reader.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || !Object.hasOwn(keys, event.key)) return;
      event.preventDefault();
      keys[event.key]();
    });
    reader.addEventListener("dblclick", () => look(whole));
    root.addEventListener("beforeprint", () => look(whole));
    mountDrag(reader, chart, look);
  }

  function mountDrag(reader, chart, look) {
    let start = null;
    reader.addEventListener("pointerdown", (event) => {
      // A finger that moves reads; it looks closer with the buttons.
      if (event.pointerType !== "mouse" || event.button !== 0) return;
      start = event.clientX;
      reader.setPointerCapture(event.pointerId);
    });
    const dragged = (event) => start !== null && Math.abs(event.clientX - start) > DRAG;
    reader.addEventListener("pointermove", (event) => {
      if (dragged(event)) chart.current().select(chart.current().toPlot(start), chart.current().toPlot(event.clientX));
    });
    reader.addEventListener("pointerup", (event) => {
      const { toTime } = chart.current();
      if (dragged(event)) look([toTime(start), toTime(event.clientX)].sort((a, b) => a - b));
      start = null;
    });
    reader.addEventListener("pointercancel", () => {
      start = null;
    });
  }

  function mount(scope) {
    charts.inTurn(scope.querySelectorAll('[data-chart="time"]'), mountChart);
  }

  const api = { times, within, closer, ticks, pieces, path, filled, nearestCell, clock, worded, mount };
  if (inNode) module.exports = api;
  else mount(root.document);
})(globalThis);
