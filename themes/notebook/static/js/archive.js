// The archive's table: filtered, sorted, drawn, saved. The view stands in the page's address, so it can be passed on.
(function (root) {
  "use strict";

  const { SoakbookArchiveState: states, SoakbookArchiveRows: kept, SoakbookArchiveCsv: csv } = root;
  const { SoakbookArchiveChart: charts, SoakbookPreferences: preferences, SoakbookValues: values } = root;
  const { element, name } = root.SoakbookNodes;

  const AT_MOST = 40; // rows on the page before the reader asks for more
  const PIECE = 2; // rows that are laid out at once
  const QUICK_MS = 20; // from one piece to the next
  const SOON_MS = 100;
  const COLUMN_SIGNS = { asc: "ascending", desc: "descending" };

  // --- what the page has ---------------------------------------------------------------------------------------

  function readOffered(form, heads) {
    const boxes = states.CHOICES.map((key) => [key, [...form.querySelectorAll(`input[name="${key}"]`)]]);
    const labels = [...form.querySelectorAll("[data-choice]")].map((choice) => [choice.dataset.choice, choice.querySelector("legend").textContent.trim()]);
    return {
      options: Object.fromEntries(boxes.map(([key, list]) => [key, list.map((box) => box.value)])),
      start: Object.fromEntries(boxes.map(([key, list]) => [key, list.filter((box) => box.dataset.start !== undefined).map((box) => box.value)])),
      labels: Object.fromEntries(labels),
      columns: heads.map((head) => head.dataset.key),
      charts: [...form.elements.chart.options].map((option) => option.value),
    };
  }

  function readRows(table) {
    return [...table.tBodies].flatMap((body, group) => {
      const heading = body.rows[0];
      const title = heading.textContent.trim();
      const rows = [...body.rows].filter((row) => row !== heading);
      return rows.map((node) => {
        const data = Object.fromEntries([...states.CHOICES, "settled"].map((key) => [key, node.getAttribute(`data-${key}`)]));
        return { node, group, title, data, text: node.textContent };
      });
    });
  }

  function sortValue(cell) {
    if (cell.dataset.v !== undefined) return values.toNumber(cell.dataset.v);
    return cell.querySelector("time")?.dateTime ?? csv.words(cell).trim();
  }

  // --- the table -----------------------------------------------------------------------------------------------

  /**
   * Does a piece of work now and the next ones when the browser has time, until one says that it was the last.
   *
   * A piece is told how much to do: the least at first, then twice as much as long as the browser is quick with it.
   */
  function inPieces(piece) {
    const later = root.requestIdleCallback ?? ((work) => root.setTimeout(work, 0));
    let size = PIECE;
    let stopped = false;
    let begun = 0;
    const go = () => {
      if (stopped) return;
      const now = root.performance.now();
      if (begun) size = now - begun < QUICK_MS ? size * 2 : PIECE;
      begun = now;
      if (!piece(size)) later(go, { timeout: SOON_MS });
    };
    go();
    return () => (stopped = true);
  }

  /** Takes the rows off a part of the table that are not to be kept. */
  function cleared(body, heading, kept) {
    const gone = [...body.rows].slice(1).filter((node) => !kept.has(node));
    if (gone.length === body.rows.length - 1) body.replaceChildren(heading);
    else for (const node of gone) node.remove();
  }

  /**
   * Returns what puts rows on the page, in order and up to a limit, and tells how many those are.
   *
   * The others leave the page altogether: a browser spends time on every row that it knows, hidden or not. What a
   * screen holds comes at once, the rest in pieces, so that no choice keeps the reader waiting.
   */
  function rowView(rows, bodies, { inUnit, onRows }) {
    const headings = bodies.map((body) => body.rows[0]);
    bodies.forEach((body, i) => body.replaceChildren(headings[i]));
    let stop = () => {};
    return (order, fits, limit) => {
      stop();
      const wanted = [];
      for (const place of order) if (fits[place] && wanted.length < limit) wanted.push(rows[place]);
      const kept = new Set(wanted.map((row) => row.node));
      bodies.forEach((body, i) => cleared(body, headings[i], kept));
      const full = new Set(wanted.map((row) => row.group));
      bodies.forEach((body, i) => (body.hidden = !full.has(i)));
      const last = [...headings];
      let done = 0;
      stop = inPieces((size) => {
        const added = [];
        for (; done < wanted.length && added.length < size; done += 1) {
          const { group, node } = wanted[done];
          // A row that stands where it should is left alone, so that little has to be laid out.
          if (last[group].nextElementSibling !== node) {
            inUnit(wanted[done]);
            last[group].after(node);
            added.push(node);
          }
          last[group] = node;
        }
        onRows(added, done === wanted.length);
        return done === wanted.length;
      });
      return wanted.length;
    };
  }

  /** Returns what brings a row that was off the page to the reader's unit. */
  function unitKeeper() {
    const shown = new Map();
    return (row) => {
      const fahrenheit = preferences.inFahrenheit();
      if ((shown.get(row) ?? false) !== fahrenheit) preferences.showUnit(row.node, fahrenheit);
      shown.set(row, fahrenheit);
    };
  }

  function addSortButtons(heads, onSort) {
    for (const head of heads) {
      const button = element("button", { type: "button" }, [...head.childNodes]);
      button.addEventListener("click", () => onSort(head.dataset.key));
      head.append(button);
    }
  }

  function markSort(heads, state) {
    for (const head of heads) {
      if (head.dataset.key === state.sort) head.setAttribute("aria-sort", COLUMN_SIGNS[state.dir]);
      else head.removeAttribute("aria-sort");
    }
  }

  // --- the choices ---------------------------------------------------------------------------------------------

  function tallyOf(box) {
    return box.closest("label").querySelector("[data-tally]");
  }

  function readChoices(form) {
    return [...form.querySelectorAll("[data-choice]")].map((node) => {
      const boxes = [...node.querySelectorAll("input")];
      return { node, key: node.dataset.choice, boxes, tallies: boxes.map(tallyOf), labels: boxes.map((box) => box.closest("label").querySelector("bdi").textContent), chosen: node.querySelector("[data-chosen]") };
    });
  }

  function showChoice(choice, state, tallies) {
    const picked = state.chosen[choice.key];
    choice.boxes.forEach((box, i) => {
      box.checked = picked.includes(box.value);
      const count = String(tallies[i]);
      if (choice.tallies[i].textContent !== count) choice.tallies[i].textContent = count;
      choice.tallies[i].classList.toggle("nil", tallies[i] === 0);
    });
    const names = choice.labels.filter((_, i) => choice.boxes[i].checked);
    choice.chosen.replaceChildren(...(names.length === 1 ? [": ", name(names[0])] : names.length ? [`: ${names.length} chosen`] : []));
    choice.node.classList.toggle("active", names.length > 0);
  }

  function chip(label, value, onRemove) {
    const button = element("button", { type: "button" }, element("span", { class: "hidden-text" }, "Remove "), `${label}: `, name(value), element("span", { "aria-hidden": "true" }, " ×"));
    button.addEventListener("click", onRemove);
    return element("li", {}, button);
  }

  function chipsOf(choices, state, change) {
    const picked = choices.flatMap((choice) =>
      choice.boxes.map((box, i) => [choice, box.value, choice.labels[i]]).filter(([, value]) => state.chosen[choice.key].includes(value)),
    );
    const chips = picked.map(([choice, value, text]) => chip(choice.node.querySelector("legend").textContent, text, () => change(states.without(state, choice.key, value))));
    if (state.settled) chips.push(chip("Verdict", "settled", () => change({ ...state, settled: false })));
    if (state.q.trim()) chips.push(chip("Words", state.q.trim(), () => change({ ...state, q: "" })));
    return chips;
  }

  function floats(choice) {
    return root.getComputedStyle(choice.querySelector("fieldset")).position === "absolute";
  }

  /** One list of choices is open at a time; Escape closes it, and so does leaving it where it covers the page. */
  function mountLists(form, scope) {
    const lists = [...form.querySelectorAll("[data-choice]")];
    const closeOthers = (but) => lists.filter((list) => list !== but && list.open).forEach((list) => (list.open = false));
    for (const list of lists) {
      list.addEventListener("toggle", () => list.open && closeOthers(list));
      list.addEventListener("keydown", (event) => {
        if (event.key !== "Escape" || !list.open) return;
        list.open = false;
        list.querySelector("summary").focus();
      });
      list.addEventListener("focusout", (event) => {
        if (event.relatedTarget && !list.contains(event.relatedTarget) && floats(list)) list.open = false;
      });
    }
    scope.addEventListener("pointerdown", (event) => {
      for (const list of lists) if (list.open && !list.contains(event.target) && floats(list)) list.open = false;
    });
  }

  // --- the chart -----------------------------------------------------------------------------------------------

  function scaleOf(head) {
    const unit = head.querySelector(".unit [data-f]");
    if (!unit || !preferences.inFahrenheit()) return (value) => value;
    return unit.dataset.c === "°C" ? (value) => value * 1.8 + 32 : (value) => value * 1.8;
  }

  function chartItem(row, column, scale, cards) {
    const cell = row.node.cells[column];
    const value = values.toNumber(cell.dataset.v);
    const u = values.toNumber(cell.dataset.u) ?? 0;
    const [cooler, card] = [0, 1].map((at) => charts.isolated(csv.words(row.node.cells[at]).trim()));
    return {
      label: cards > 1 ? `${cooler}, ${card}` : cooler,
      value: scale(value),
      u: scale(value + u) - scale(value),
      text: cell.querySelector(".num").textContent,
      settled: row.data.settled === "yes",
      hand: row.data.state === "by-hand",
      group: row.title,
      tested: row.node.querySelector("time").dateTime.slice(0, 7),
    };
  }

  /** Returns items of which those with one name at one test point carry the month of their test. */
  function toldApart(items) {
    const keyOf = (item) => `${item.group}\n${item.label}`;
    const counts = new Map();
    for (const item of items) counts.set(keyOf(item), (counts.get(keyOf(item)) ?? 0) + 1);
    return items.map((item) => (counts.get(keyOf(item)) > 1 ? { ...item, label: `${item.label}, ${item.tested}` } : item));
  }

  function drawChart(box, fitting, column, head, label) {
    const found = charts.chosen(fitting, column);
    const scale = scaleOf(head);
    const cards = new Set(found.drawn.map((row) => row.data.card)).size;
    const items = toldApart(found.drawn.map((row) => chartItem(row, head.cellIndex, scale, cards)));
    const place = box.querySelector("[data-picture]");
    box.querySelector("[data-picture-said]").textContent = charts.said({ ...found, drawn: items });
    const unit = head.querySelector(".unit")?.textContent ?? "";
    const groups = new Set(items.map((item) => item.group)).size > 1;
    const title = `${label} of ${items.length} rows, with 95 % intervals; the table has the same figures.`;
    const width = Math.max(240, Math.floor(place.clientWidth));
    place.replaceChildren(...(items.length ? [charts.picture(items, width, { title, axis: label + unit, groups })] : []));
  }

  // --- the page ------------------------------------------------------------------------------------------------

  /** Returns what writes a query into the address, once the reader has paused: browsers refuse many in a row. */
  function addressKeeper() {
    let waiting = null;
    let wanted = "";
    const write = () => {
      root.clearTimeout(waiting);
      waiting = null;
      try {
        root.history.replaceState(null, "", root.location.pathname + wanted);
      } catch {
        // Some browsers forbid it for files on disk; the table still works.
      }
    };
    root.addEventListener("pagehide", () => waiting !== null && write());
    return (query) => {
      wanted = query;
      root.clearTimeout(waiting);
      waiting = root.setTimeout(write, SOON_MS);
    };
  }

  function mount(scope) {
    const box = scope.querySelector("[data-archive]");
    const table = box?.querySelector("table");
    if (!table) return;
    const form = box.querySelector("form");
    const heads = [...table.tHead.rows[0].cells];
    const offered = readOffered(form, heads);
    const choices = readChoices(form);
    const rows = readRows(table);
    const index = kept.indexed(rows, offered.options);
    const groups = rows.map((row) => row.group);
    const inUnit = unitKeeper();
    const onRows = (added, all) => {
      table.setAttribute("aria-busy", String(!all));
      table.dispatchEvent(new CustomEvent("rows", { detail: added }));
    };
    const showRows = rowView(rows, [...table.tBodies], { inUnit, onRows });
    const keepAddress = addressKeeper();
    const chart = form.querySelector("[data-chart]");
    const columns = new Map();
    let order = kept.ordered(groups, null, "asc");
    let limit = AT_MOST;
    const opened = states.readState(root.location.search, offered);
    let state = opened.state;
    let found = null;

    const columnOf = (key) => {
      const at = offered.columns.indexOf(key);
      if (!columns.has(key)) columns.set(key, rows.map((row) => sortValue(row.node.cells[at])));
      return columns.get(key);
    };
    const fitting = () => order.filter((place) => found.fits[place]).map((place) => rows[place]);
    const draw = () => {
      if (!chart.open) return;
      const { value, selectedOptions } = form.elements.chart;
      const head = heads.find((h) => h.dataset.key === value);
      const column = columnOf(value);
      const numbers = new Map(rows.map((row, i) => [row, column[i]]));
      const drawn = fitting();
      charts.chosen(drawn, (row) => numbers.get(row)).drawn.forEach(inUnit);
      drawChart(chart, drawn, (row) => numbers.get(row), head, selectedOptions[0].textContent);
    };
    const showMore = () => {
      const shown = showRows(order, found.fits, limit);
      const more = box.querySelector("[data-more]");
      more.hidden = shown === found.total;
      more.querySelector("[data-more-said]").textContent = `The first ${shown} of ${found.total} rows are shown.`;
    };
    const show = () => {
      found = kept.filtered(index, state);
      showMore();
      markSort(heads, state);
      for (const choice of choices) showChoice(choice, state, found.tallies[choice.key]);
      form.elements.settled.checked = state.settled;
      tallyOf(form.elements.settled).textContent = String(found.settled);
      if (form.elements.q.value !== state.q) form.elements.q.value = state.q;
      form.querySelector("[data-chips]").replaceChildren(...chipsOf(choices, state, remove));
      box.querySelector("[data-count]").textContent = kept.countText(found.total, rows.length);
      box.querySelector("[data-none]").hidden = found.total > 0;
      draw();
    };
    const change = (next) => {
      if (next.sort !== state.sort || next.dir !== state.dir) order = kept.ordered(groups, next.sort ? columnOf(next.sort) : null, next.dir);
      state = next;
      limit = AT_MOST;
      show();
      keepAddress(states.writeState(state, offered));
      form.querySelector("[data-asked]").hidden = true;
    };
    const remove = (next) => {
      change(next);
      (form.querySelector("[data-chips] button") ?? form.elements.q).focus();
    };
    const reset = () => change({ ...states.startState(offered), chart: chart.open ? form.elements.chart.value : "" });

    addSortButtons(heads, (key) => change(states.withSort(state, key)));
    mountLists(form, scope);
    form.addEventListener("input", (event) => {
      const { name: key, value, checked } = event.target;
      if (states.CHOICES.includes(key)) {
        const picked = choices.find((choice) => choice.key === key).boxes.filter((b) => b.checked).map((b) => b.value);
        change({ ...state, chosen: { ...state.chosen, [key]: picked } });
      } else if (key === "settled") change({ ...state, settled: checked });
      else if (key === "q") change({ ...state, q: states.cut(value, 80) });
      else if (key === "chart") change({ ...state, chart: value });
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", (event) => {
      event.preventDefault();
      reset();
    });
    box.querySelector("[data-none] button").addEventListener("click", () => {
      reset();
      form.elements.q.focus();
    });
    box.querySelector("[data-more] button").addEventListener("click", () => {
      limit += AT_MOST;
      showMore();
    });
    chart.addEventListener("toggle", () => {
      state = { ...state, chart: chart.open ? form.elements.chart.value : "" };
      keepAddress(states.writeState(state, offered));
      draw();
    });
    form.querySelector("[data-csv]").addEventListener("click", () => {
      const shown = fitting();
      shown.forEach(inUnit);
      csv.save(csv.toCsv(csv.csvRows(heads, shown)), "archive.csv", scope);
    });
    preferences.onUnit(scope, () => {
      rows.filter((row) => row.node.isConnected).forEach(inUnit);
      draw();
    });
    root.addEventListener("resize", draw);

    if (state.sort) order = kept.ordered(groups, columnOf(state.sort), state.dir);
    if (state.chart) form.elements.chart.value = state.chart;
    form.hidden = false;
    chart.open = state.chart !== "";
    const asked = form.querySelector("[data-asked]");
    asked.textContent = opened.said;
    asked.hidden = opened.said === "";
    show();
  }

  mount(root.document);
})(globalThis);
