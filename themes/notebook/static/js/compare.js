// Side by side: two to four results chosen by hand or by the address, with the verdicts that came with the site.
(function (root) {
  "use strict";

  const { SoakbookCompareState: states, SoakbookCompareData: pairs, SoakbookNodes: nodes } = root;
  const { element, figure, name, switching } = nodes;

  const FIRST_KINDS = ["core_rise", "memory_rise", "sound_level", "frame_rate"];

  /** What is being compared: results in order, their names, and the pair of any two. */
  function compared(data, ids, base) {
    const results = ids.map((id) => [...data.values()].map((card) => card.results.get(id)).find(Boolean));
    if (results.some((result) => !result)) throw new pairs.Unreadable("a result is missing");
    const several = new Set(results.map((result) => result.card)).size > 1;
    const byId = new Map(results.map((result) => [result.id, result]));
    const called = (id) => [name(byId.get(id).label), several ? [" on ", name(byId.get(id).cardName)] : ""];
    return { results, called, href: (id) => `${base}results/${id}.html`, pair: (a, b) => pairs.pairOf(data, a, b) };
  }

  function allPairs(results) {
    return results.flatMap((a, i) => results.slice(i + 1).map((b) => [a, b]));
  }

  function spoken(row, pair, called) {
    const ids = { a: pair.ids[0], b: pair.ids[1] };
    return pairs.sentence(row).map((part) => (typeof part === "string" ? part : part.name ? called(ids[part.name]) : figure(part.size)));
  }

  // --- the answer in sentences ---------------------------------------------------------------------------------

  function both(pair, called) {
    return [called(pair.ids[0]), " and ", called(pair.ids[1])];
  }

  function rowOf(pair, kind) {
    return pair.rows.find((row) => row.kind.id === kind);
  }

  function verdicts(kind, found, called) {
    const lines = found.map((pair) => [pair, rowOf(pair, kind)]).filter(([, row]) => row?.difference);
    if (!lines.length) return [];
    const items = lines.map(([pair, row]) => {
      const told = found.length > 1 && row.standing === "=" ? [both(pair, called), ": "] : [];
      return element("li", {}, told, spoken(row, pair, called));
    });
    return [element("h3", {}, lines[0][1].kind.name), element("ul", { class: kind === FIRST_KINDS[0] ? "plain verdict" : "plain" }, items)];
  }

  function unsaid(title, lines, called) {
    if (!lines.length) return [];
    const items = lines.map(([pair, reasons]) =>
      element("div", {}, element("dt", {}, both(pair, called)), reasons.map((reason) => element("dd", {}, reason))),
    );
    return [element("h3", {}, title), element("dl", { class: "facts" }, items)];
  }

  function inSentences(found, called) {
    const direct = found.filter((pair) => pair.how === "direct");
    const open = direct.map((pair) => [pair, rowOf(pair, FIRST_KINDS[0])]).filter(([, row]) => row && !row.difference);
    const none = found.filter((pair) => pair.how === "none").map((pair) => [pair, pair.reasons]);
    const byPsi = found.filter((pair) => pair.how === "psi").map((pair) => [pair, [...pair.reasons, "Below they are compared by rise per watt."]]);
    return [
      ...FIRST_KINDS.flatMap((kind) => verdicts(kind, direct, called)),
      ...unsaid("Not judged, and why", open.map(([pair, row]) => [pair, [row.said]]), called),
      ...unsaid("Not compared directly, and why", [...byPsi, ...none], called),
    ];
  }

  // --- the answer in figures -----------------------------------------------------------------------------------

  function unitOf(kind) {
    return kind.unit ? element("span", { class: "unit" }, ", ", switching(kind.unit, kind.unitF)) : null;
  }

  /** Reasons that cells refer to by number. */
  function footnotes() {
    const said = [];
    return {
      said,
      number(reason) {
        if (!said.includes(reason)) said.push(reason);
        return said.indexOf(reason) + 1;
      },
    };
  }

  /** The line below a figure: its difference from the first result, or why there is none. */
  function difference(row, notes) {
    if (!row) return null;
    if (!row.difference) return element("span", { class: "apart" }, `not judged (${notes.number(row.said)})`);
    const told = row.standing === "=" ? "apart" : "apart told";
    const size = figure(row.difference, { unit: row.kind.apart !== row.kind.unit });
    return element("span", { class: told }, size, " ", element("span", { class: "word" }, pairs.word(row)));
  }

  function cell(result, kind, row, notes) {
    const digits = result.figures.get(kind.id);
    if (!digits) return element("td", { class: "n" }, element("span", { class: "hidden-text" }, "not measured"));
    return element("td", { class: "n" }, figure(digits, { unit: false }), difference(row, notes));
  }

  function heading(result, index, what, onFirst) {
    const parts = [element("a", { href: what.href(result.id) }, what.called(result.id)), element("span", { class: "of" }, [result.tested, result.verdict].filter(Boolean).join(", "))];
    if (index > 0) {
      const button = element("button", { type: "button", "data-first": result.id }, "Put first", element("span", { class: "hidden-text" }, result.label));
      button.addEventListener("click", () => onFirst(result.id));
      parts.push(button);
    }
    return element("th", { scope: "col", class: "n" }, parts);
  }

  function kindsOf(results, data) {
    const kinds = new Map([...data.values()].flatMap((card) => card.kinds).map((kind) => [kind.id, kind]));
    return [...kinds.values()].filter((kind) => results.some((r) => r.figures.has(kind.id))).sort((a, b) => a.order - b.order);
  }

  function scrolled(id, caption, head, rows) {
    const table = element("table", { class: "data sides", id }, element("caption", { id: `${id}-caption` }, caption), element("thead", {}, element("tr", {}, head)), element("tbody", {}, rows));
    return element("div", { class: "scroll", role: "region", "aria-labelledby": `${id}-caption`, tabindex: "0" }, table);
  }

  function inFigures(what, data, onFirst) {
    const [first, ...others] = what.results;
    const notes = footnotes();
    const found = new Map(others.map((other) => [other.id, what.pair(other, first)]));
    const judged = (result, kind) => {
      const pair = found.get(result.id);
      return pair?.how === "direct" && first.figures.has(kind.id) ? rowOf(pair, kind.id) : undefined;
    };
    const rows = kindsOf(what.results, data).map((kind) =>
      element("tr", {}, element("th", { scope: "row" }, kind.name, unitOf(kind)), what.results.map((result) => cell(result, kind, judged(result, kind), notes))),
    );
    const caption = others.length
      ? ["Figures with their uncertainty (95 %). Below each: its difference from ", what.called(first.id), ", and whether that can be told from none."]
      : "Figures with their uncertainty (95 %).";
    const head = [element("th", { scope: "col" }, "Figure"), what.results.map((result, i) => heading(result, i, what, onFirst))];
    const said = notes.said.map((reason) => element("li", {}, reason));
    return [scrolled("sides", caption, head, rows), said.length ? element("ol", { class: "reasons note" }, said) : null];
  }

  function byPsi(pair, what, index) {
    const head = ["Figure", ...pair.ids.map(what.called), "Difference", "Verdict"].map((text, i) => element("th", { scope: "col", class: i > 0 && i < 4 ? "n" : null }, text));
    const rows = pair.rows.map((row) =>
      element(
        "tr",
        {},
        element("th", { scope: "row" }, row.kind.name, unitOf(row.kind)),
        row.values.map((digits) => element("td", { class: "n" }, figure(digits, { unit: false }))),
        element("td", { class: "n" }, row.difference ? figure(row.difference, { unit: false }) : null),
        element("td", {}, spoken(row, pair, what.called)),
      ),
    );
    return [
      element("h3", {}, both(pair, what.called)),
      pair.reasons.map((reason) => element("p", {}, reason)),
      element("p", {}, `What can be compared is the rise per watt, at ${pair.watts}, half-way between their board powers.`),
      scrolled(`by-psi-${index}`, ["Rise per watt at ", pair.watts], head, rows),
    ];
  }

  // --- the page ------------------------------------------------------------------------------------------------

  function entry(id, title, ...content) {
    return element("section", { class: "entry", "aria-labelledby": id }, element("h2", { id }, title), element("div", { class: "body" }, content));
  }

  function answer(data, state, base, onFirst) {
    const what = compared(data, state.ids, base);
    const found = allPairs(what.results).map(([a, b]) => what.pair(a, b));
    const [{ point }] = data.values();
    const psi = found.filter((pair) => pair.how === "psi");
    return [
      found.length ? entry("verdict", "Verdict", inSentences(found, what.called)) : null,
      entry("figures", `Every figure at ${point}`, inFigures(what, data, onFirst)),
      psi.length ? entry("by-psi", "By Ψ only", psi.map((pair, i) => byPsi(pair, what, i))) : null,
    ].filter(Boolean);
  }

  function loaded(src) {
    return new Promise((resolve) => {
      const script = element("script", { src });
      script.addEventListener("load", resolve);
      script.addEventListener("error", resolve); // what is missing is found when it is read
      root.document.head.append(script);
    });
  }

  /** Returns the data of a card at a test point, loading it once. Throws Unreadable. */
  async function dataOf(card, point, base) {
    const kept = () => (root.SoakbookPairs instanceof Map ? root.SoakbookPairs.get(`${card}/${point}`) : undefined);
    if (kept() === undefined) await loaded(`${base}compare/${card}/${point}.js`);
    return pairs.readData(kept(), card);
  }

  function readChoices(select) {
    const groups = [...select.querySelectorAll("optgroup")];
    const options = groups.flatMap((group) => [...group.querySelectorAll("option")].map((option) => [option.value, option.textContent.trim(), group]));
    return {
      labels: new Map(options.map(([id, label, group]) => [id, `${label} (${group.label})`])),
      plain: new Map(options.map(([id, label]) => [id, label])),
      cards: new Map(options.map(([id, , group]) => [id, group.dataset.card])),
      names: new Map(groups.map((group) => [group.dataset.card, group.label])),
    };
  }

  /** Returns the boxes of the results; the page brings the choices in the first only. */
  function filledSelects(form) {
    const [first, ...others] = form.querySelectorAll("select[name=r]");
    for (const select of others) select.append(...[...first.querySelectorAll("optgroup")].map((group) => group.cloneNode(true)));
    return [first, ...others];
  }

  function pointName(points, point) {
    return [...points.values()].flat().find(([id]) => id === point)[1];
  }

  function fillPoints(select, offered, chosen) {
    select.replaceChildren(...offered.map(([id, label]) => element("option", { value: id }, label)));
    select.value = chosen;
  }

  function keep(query) {
    try {
      root.history.replaceState(null, "", root.location.pathname + query);
    } catch {
      // Some browsers forbid it for files on disk; the page gives the address as a link.
    }
  }

  function mount(scope) {
    const box = scope.querySelector("[data-compare-page]");
    if (!box) return;
    const form = box.querySelector("form");
    const out = scope.querySelector("[data-answer]");
    const base = box.dataset.root;
    const points = new Map(Object.entries(JSON.parse(box.dataset.points)));
    const choices = readChoices(form.querySelector("select[name=r]"));
    const selects = filledSelects(form);
    let turn = 0;

    const say = (said) => box.querySelector("[data-said]").replaceChildren(...said.map((text) => element("p", {}, name(text))));

    const dataOrNone = (card, { ids, point }) => {
      const here = points.get(card).find(([id]) => id === point);
      if (here) return dataOf(card, point, base);
      const mine = ids.filter((id) => choices.cards.get(id) === card).map((id) => [id, choices.plain.get(id)]);
      return pairs.notRun(mine, card, choices.names.get(card), pointName(points, point));
    };

    const show = async (asked, { address }) => {
      const mine = (turn += 1);
      const cards = [...new Set(asked.ids.map((id) => choices.cards.get(id)))];
      const offered = states.pointsOf(cards.length ? cards : [...points.keys()], points);
      const known = states.knownPoint(asked.point, offered);
      const state = { ids: asked.ids, point: known.point };
      selects.forEach((select, i) => (select.value = state.ids[i] ?? ""));
      fillPoints(form.elements.point, offered, state.point);
      const query = states.writeState(state);
      if (address) keep(query);
      const link = box.querySelector("[data-link]");
      link.hidden = state.ids.length < 2;
      link.querySelector("a").href = `compare.html${query}`;
      const said = [...asked.said, ...known.said, states.wanting(state.ids, choices.labels)].filter(Boolean);
      try {
        const data = new Map();
        for (const card of cards) data.set(card, await dataOrNone(card, state));
        if (mine !== turn) return;
        say(said);
        out.replaceChildren(...(state.ids.length ? answer(data, state, base, (id) => first(state, id)) : []));
      } catch {
        if (mine !== turn) return;
        const where = states.listed(cards.map((card) => choices.names.get(card)));
        say([...said, `The figures of ${where} at this test point could not be read. Load the page anew; if that does not help, the result pages have them.`]);
        out.replaceChildren();
      }
    };

    const first = (state, id) => {
      show({ ...state, ids: [id, ...state.ids.filter((other) => other !== id)], said: [] }, { address: true }).then(() => form.querySelector("select").focus());
    };

    form.addEventListener("input", () => {
      const query = new URLSearchParams(selects.map((select) => ["r", select.value]));
      query.set("point", form.elements.point.value);
      show(states.readState(`?${query}`, choices.labels), { address: true });
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    box.querySelector("[data-without]").hidden = true;
    form.hidden = false;
    show(states.readState(root.location.search, choices.labels), { address: false });
  }

  mount(root.document);
})(globalThis);
