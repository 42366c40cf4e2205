/* Reports of large collections: rows and recipes come from files beside the page, a chunk at a time.
   A chunk is a script that hands its rows to window.steelyard, since a page opened from disk may not
   fetch. Everything shown is set as text, so that nothing in it can run. */
(() => {
  "use strict";
  const D = JSON.parse(document.getElementById("paged-data")?.textContent ?? "null");
  if (!D) return;
  const W = D.words;
  const files = {};
  window.steelyard = (name, rows) => { (files[name] ?? {}).rows = rows; };
  const missing = (name) => new Error(`The file ${D.folder}/${name}.js is missing or damaged. Keep the` +
    ` folder ${D.folder} beside this page, or write the report again.`);
  const fileName = (kind, number) => `${kind}-${String(number).padStart(6, "0")}`;
  /* The rows of a file; one that could not be read is asked for again the next time. */
  function chunk(kind, number) {
    const name = fileName(kind, number);
    files[name] ??= { asked: new Promise((done, failed) => {
      const script = document.createElement("script");
      script.src = `${D.folder}/${name}.js`;
      script.onload = script.onerror = () => {
        const { rows } = files[name];
        script.remove();
        if (!rows) delete files[name];
        if (rows) done(rows); else failed(missing(name));
      };
      document.head.append(script);
    }) };
    return files[name].asked;
  }

  /* --- elements --------------------------------------------------------------------------- */
  const there = (value) => value !== null && value !== undefined && value !== "" && value !== false;
  function el(tag, attributes, ...children) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (there(value)) made.setAttribute(name, value);
    }
    made.append(...children.flat(Infinity).filter(there));
    return made;
  }
  function icon(name) {
    const svg = document.querySelector(".brand .icon").cloneNode(true);
    svg.firstElementChild.setAttribute("href", `#i-${name}`);
    return svg;
  }
  const badge = (verdict) => el("span", { class: `badge v-${verdict}` }, icon(verdict), W.standing[verdict]);
  const ENERGY = /([<−-]?\d[\d,.]*\s?(?:kcal|kJ|calories)\b)/;
  /* Text in which amounts of energy can be hidden by the page's switch. */
  const e = (text) => String(text ?? "").split(ENERGY)
    .map((part, at) => (at % 2 ? el("span", { class: "e" }, part) : part));
  const fine = (...text) => el("span", { class: "fine" }, text);
  const hidden = (text) => el("span", { class: "vh" }, text);
  const drawn = (text) => el("span", { "aria-hidden": "true" }, text);

  /* --- numbers, as report/words.py writes them ------------------------------------------- */
  const known = (x) => typeof x === "number" && isFinite(x);
  /* what stands between a file and the number of a line in it, as problems.place says it */
  const COUNTED = { pdf: ", page ", docx: ", paragraph ", odt: ", paragraph ", epub: ", line " };
  function even(x) {
    const low = Math.floor(x);
    return x - low !== 0.5 ? Math.round(x) : low + (low % 2 && 1);
  }
  const tenths = (x) => (Number.isInteger(4 * x) ? even(10 * x) / 10 : x).toFixed(1); // exact halves to the even tenth
  const grouped = (x) => Math.abs(x).toLocaleString("en");
  function number(x, unit, fine) { // fine: as stated, with its decimal
    if (x === "inf") return "no limit";
    if (!known(x)) return "–";
    if (unit === "g" && (fine || Math.abs(x) < 10) && Number(tenths(x)) !== even(x)) {
      return Number(tenths(x)).toLocaleString("en", { minimumFractionDigits: 1 }).replace("-", "−");
    }
    return (even(x) < 0 ? "−" : "") + grouped(even(x));
  }
  function amount(x, column, fine) {
    const text = number(x, W.unit[column], fine);
    return text === "–" || text === "no limit" ? text : `${text}\u00a0${W.unit[column]}`;
  }
  const grams = (x) => (known(x) ? `${number(x, "g")}\u00a0g` : "–");
  function percent(x) {
    if (!known(x)) return "–";
    if (x > 0 && x < 0.01) return "under 1\u00a0%";
    return x > 0.99 && x < 1 ? "over 99\u00a0%" : `${even(100 * x)}\u00a0%`;
  }
  const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const capital = (text) => upper(text.toLowerCase());
  const spaced = (text) => (text || "").replace(/_/g, " ");
  const nutrient = (column) => W.nutrient[column] || column;
  function listing(items, most) {
    const named = items.length > most ? [...items.slice(0, most), `${items.length - most} more`] : items;
    return [named.slice(0, -1).join(", "), ...named.slice(-1)].filter(Boolean).join(" and ");
  }

  /* --- the list of all recipes ------------------------------------------------------------ */
  const PAGE = D.rows_a_page;
  const CELLS = [["kcal", "kcal"], ["protein_g", "protein g"], ["carbs_g", "carbs g"], ["fat_g", "fat g"]];
  const SIGN = { disagrees: "✕", uncertain: "≈", agrees: "✓" };
  function cell([column, label], stated, computed, verdict) {
    const unit = W.unit[column];
    return el("td", { role: "cell", "data-label": label,
      class: `num${column === "kcal" ? " energy" : ""} cell-${verdict || "none"}` },
      hidden("stated "), number(stated, unit, true), drawn(" → "), hidden(" computed "), number(computed, unit), " ",
      el("span", { class: "sign", "aria-hidden": "true" }, SIGN[verdict]),
      SIGN[verdict] && hidden(W.standing[verdict]));
  }
  function row([n, [title, verdict, coverage, basis, ...cells]]) {
    return el("tr", { role: "row" }, el("td", { role: "cell", class: "no" }, String(n + 1)),
      el("th", { scope: "row", role: "rowheader", class: "text" }, el("a", { href: `report-recipe.html#${n + 1}` }, title),
        basis === "per_serving" ? null : el("span", { class: "fine" }, " ", W.per[basis])),
      el("td", { role: "cell", class: "verdict" }, badge(verdict)),
      CELLS.map((column, at) => cell(column, ...cells.slice(3 * at, 3 * at + 3))),
      el("td", { role: "cell", class: "num", "data-label": "known" }, percent(coverage)));
  }
  function list() {
    const [find, which, where, earlier, later, status] =
      ["find", "which", "where", "earlier", "later", "status"].map((id) => document.getElementById(id));
    const state = { find: "", show: "", page: 0 };
    let turn = 0;
    /* Recipes are numbered by verdict first, so one verdict is a stretch of numbers. */
    function stretch(verdict) {
      const at = D.stretches.findIndex(([code]) => code === verdict);
      if (at < 0) return [0, D.total];
      const from = D.stretches.slice(0, at).reduce((sum, [, many]) => sum + many, 0);
      return [from, from + D.stretches[at][1]];
    }
    function show(rows, said) {
      document.querySelector("#all-recipes tbody").replaceChildren(...rows.map(row));
      where.textContent = status.textContent = said;
    }
    /* Goes through the rows of a stretch in order, a chunk at a time; false when something else was asked. */
    async function through(from, to, step) {
      const mine = turn;
      for (let at = from; at < to;) {
        const part = Math.floor(at / D.rows_a_chunk);
        const start = part * D.rows_a_chunk;
        const rows = await chunk("index", part);
        if (mine !== turn) return false;
        if (start + rows.length <= at) throw missing(fileName("index", part));
        for (; at < Math.min(to, start + rows.length); at += 1) step([at, rows[at - start]]);
      }
      return true;
    }
    function told(first, shown, count, more) {
      if (!shown) return "No recipe fits.";
      return `${grouped(first + 1)} to ${grouped(first + shown)} of ${more ? "at least " : ""}${grouped(count)}` +
        ` recipe${count === 1 ? "" : "s"}`;
    }
    async function refresh() {
      turn += 1;
      const [from, to] = stretch(state.show);
      const text = state.find.trim().toLowerCase();
      const first = state.page * PAGE;
      const found = [];
      earlier.disabled = state.page === 0;
      if (!text) {
        later.disabled = from + first + PAGE >= to;
        const whole = await through(from + first, Math.min(from + first + PAGE, to), (one) => found.push(one));
        if (whole) show(found, told(first, found.length, to - from, false));
        return;
      }
      let count = 0;
      let shown = false;
      where.textContent = "Searching …";
      const whole = await through(from, to, (one) => {
        if (!one[1][0].toLowerCase().includes(text)) return;
        if (count >= first && found.length < PAGE) found.push(one);
        count += 1;
        if (count !== first + PAGE + 1) return;
        shown = true;
        later.disabled = false;
        show(found, told(first, found.length, count, true));
      });
      if (!whole) return;
      later.disabled = count <= first + PAGE;
      if (shown) where.textContent = told(first, found.length, count, false);
      else show(found, told(first, found.length, count, false));
    }
    const again = () => refresh().catch((fault) => { where.textContent = fault.message; });
    function change(next) {
      Object.assign(state, { page: 0 }, next);
      try { sessionStorage.setItem("list", JSON.stringify(state)); } catch { /* not kept then */ }
      again();
    }
    find.addEventListener("input", () => change({ find: find.value }));
    which.addEventListener("change", () => change({ find: find.value, show: which.value }));
    for (const [button, by] of [[earlier, -1], [later, 1]]) {
      button.addEventListener("click", () => {
        change({ page: state.page + by });
        document.getElementById("all").scrollIntoView();
      });
    }
    for (const link of document.querySelectorAll("[data-show]")) {
      link.addEventListener("click", () => {
        which.value = link.dataset.show;
        find.value = "";
        change({ find: "", show: which.value });
      });
    }
    /* Coming back from a recipe, the list is as it was left. */
    let kept = null;
    try { kept = JSON.parse(sessionStorage.getItem("list")); } catch { /* nothing was kept */ }
    if (kept && performance.getEntriesByType("navigation")[0]?.type === "back_forward") {
      Object.assign(state, kept);
      [find.value, which.value] = [state.find, state.show];
      again();
    } else {
      later.disabled = D.total <= PAGE;
    }
  }

  /* --- one recipe -------------------------------------------------------------------------- */
  /* What is shown of the recipe in place `at` of a file: its own cells, and lists of its pieces. */
  function gathered(rows, at) {
    const r = Object.fromEntries(Object.keys(D.pieces).map((kind) => [kind, []]));
    for (const [of, kind, ...cells] of rows) {
      if (of === at) r[kind].push(Object.fromEntries(D.pieces[kind].map((name, n) => [name, cells[n]])));
    }
    return { ...r, ...r.recipe[0] };
  }
  const perWord = (basis) => W.per[basis] || "";
  function saying({ verdict, findings, servings }) {
    const of = (kind) => findings.filter((f) => f.verdict === kind).map((f) => nutrient(f.nutrient));
    const [bad, open, S] = [of("disagrees"), of("uncertain"), W.saying];
    if (!findings.length) return S.nothing;
    if (verdict === "not_judged") {
      return !known(servings) && findings.every((f) => f.basis === "per_serving") ? S.no_servings : S.not_judged;
    }
    if (verdict === "agrees") return open.length ? S.agrees_open.replace("{}", listing(open, 3)) : S.agrees;
    if (bad.length) return (bad.length === 1 ? S.bad_one : S.bad).replace("{}", capital(listing(bad, 9)));
    if (verdict === "disagrees") return S.together;
    return S.open.replace("{}", capital(listing(open, 9)) || "A number");
  }
  function difference(f) {
    if (!known(f.stated) || !known(f.computed)) return "";
    const off = f.stated - f.computed;
    if (Math.abs(off) < (W.unit[f.nutrient] === "g" ? 0.05 : 0.5)) return "the same as the sum";
    if (f.computed > 0 && f.stated >= 2.5 * f.computed) return `${(f.stated / f.computed).toFixed(1)} times the sum`;
    const share = f.computed > 0 ? ` (${percent(Math.abs(off) / f.computed)})` : "";
    return `${amount(Math.abs(off), f.nutrient)}${share} ${off > 0 ? "above" : "below"} the sum`;
  }
  function allowedBand(f) {
    if (!known(f.stated) || !known(f.allowed)) return null;
    const [low, high] = [Math.max(f.stated - f.allowed, 0), f.stated + f.allowed];
    if (D.profile !== "us" || !known(f.computed)) return [low, high];
    return f.computed >= f.stated ? [f.stated, high] : [low, f.stated];
  }
  function ticks(start, end) {
    const span = end - start;
    const step = span > 0 ? 10 ** Math.floor(Math.log10(span)) : 1;
    for (const factor of [2, 1, 0.5, 0.25, 0.2, 0.1]) {
      const size = step * factor;
      const first = Math.ceil((start + 0.04 * span) / size);
      const many = Math.trunc((end - 0.04 * span) / size) - first + 1;
      if (many >= 3) return Array.from({ length: many }, (_, n) => (first + n) * size);
    }
    return [];
  }
  function gauge(f) {
    const column = f.nutrient;
    const unit = W.unit[column];
    const band = allowedBand(f);
    const points = [f.stated, f.computed, f.low, f.high, ...(band ?? [])].filter(known);
    const [least, most] = points.length ? [Math.min(...points), Math.max(...points)] : [0, 1];
    const span = (most - least) || Math.max(Math.abs(most), 1);
    const start = least >= 0 ? Math.max(0, least - 0.12 * span) : least;
    const end = most + 0.12 * span;
    const hundredth = (x) => Number(x.toFixed(2));
    const place = (x) => hundredth(100 * Math.min(Math.max((x - start) / (end - start), 0), 1));
    const bar = (kind, [left, right]) => el("span", { class: kind,
      style: `left:${place(left)}%;width:${hundredth(Math.max(place(right) - place(left), 0.6))}%` });
    const mark = (kind, label, word, x) => known(x) && [
      el("span", { class: kind, style: `left:${place(x)}%` }),
      el("span", { class: `lab ${label}`, style: `--x:${place(x)}%` }, `${word} `, el("b", {}, amount(x, column, word === "stated")))];
    const ranged = known(f.low) && known(f.high);
    const name = capital(nutrient(column));
    const per = perWord(f.basis) || "as stated";
    const range = ranged ? `between ${number(f.low, unit)} and ${amount(f.high, column)}` : "";
    const allowed = band ? `from ${number(band[0], unit)} to ${amount(band[1], column)}`
      : (f.allowed === "inf" ? "any difference to this side" : "");
    const alt = [`${name}, ${per}: stated ${amount(f.stated, column, true)}`,
      `the lines add up to ${amount(f.computed, column)}`, range && `likely ${range}`, allowed && `allowed ${allowed}`];
    const off = difference(f);
    const said = [off && `stated ${off}`, range && `the sum is likely ${range}`, allowed && `allowed ${allowed}`].filter(Boolean);
    return el("div", { class: `gauge v-${f.verdict}${column === "kcal" ? " energy" : ""}` },
      el("header", {}, el("h3", {}, name, per !== "per serving" && [" ", fine(per)]), badge(f.verdict)),
      el("div", { class: "beam", role: "img",
        "aria-label": `${alt.filter(Boolean).join("; ")}. ${capital(W.standing[f.verdict])}.` },
        band && bar("band", band), el("span", { class: "rod" }),
        ticks(start, end).map((t) => el("span", { class: "tick", style: `left:${place(t)}%` },
          (!known(f.stated) || Math.abs(place(t) - place(f.stated)) > 9) && el("i", {}, number(t, unit)))),
        ranged && bar("range", [f.low, f.high]),
        mark("mark", "lab-c", "computed", f.computed), mark("poise", "lab-s", "stated", f.stated)),
      said.length > 0 && el("p", { class: "fine" }, `${upper(said.join("; "))}.`));
  }
  function change(f, published) {
    const column = f.nutrient;
    const unit = W.unit[column];
    const name = capital(nutrient(column)) + (f.basis === "per_serving" ? "" : ` ${perWord(f.basis)}`);
    const computed = published[column] ? `${published[column]} ${unit}` : amount(f.computed, column);
    const should = f.verdict === "uncertain" ? `${number(f.low, unit)} to ${amount(f.high, column)}` : computed;
    return [el("span", { class: `change${column === "kcal" ? " energy" : ""}` },
      el("span", { class: "name" }, name), ` ${amount(f.stated, column, true)} `, drawn("→"), hidden(" should be"), " ",
      el("b", {}, should)), " "];
  }
  function toDo(r) {
    const same = r.findings.filter((f) => f.verdict === r.verdict);
    const off = (same.length || r.verdict !== "disagrees" ? same : r.findings).slice(0, 3);
    if (!r.why || r.accepted || !off.length) return null;
    const shown = r.publish.find((p) => p.basis === off[0].basis) ?? r.publish[0] ?? {};
    return el("section", { class: "do", "aria-labelledby": "h-do" }, el("h2", { id: "h-do" }, "What to do"),
      el("p", { class: "changes" }, off.map((f) => change(f, shown))),
      el("p", {}, e(upper(r.why)), r.other && ["; ", e(r.other)], "."));
  }
  const button = (id, label) => el("button", { type: "button", "data-copy": id, "aria-label": label }, "Copy");
  const caption = (p, id, of) => p.caption && el("div", { class: "copyline" },
    el("code", { id }, e(p.caption)), button(id, `Copy the caption line ${of}`));
  function facts(p) {
    return el("ul", { class: "facts" }, W.published.filter((c) => p[c]).map((c) => el("li", { class: c === "kcal" && "energy" },
      c === "salt_g" ? "Salt " : `${capital(W.nutrient[c])} `, el("b", {}, `${p[c]} ${W.unit[c] ?? "g"}`))));
  }
  function publishing(r) {
    const [p] = r.publish;
    if (!p) return null;
    const notes = [W.energy_from[p.energy_from] || "", ...(p.note || "").split("; ")].filter(Boolean).map(upper).join(". ");
    let schema = p.schema_org;
    try { schema = JSON.stringify(JSON.parse(schema), null, 2); } catch { /* shown as it is */ }
    return [el("h2", {}, `Computed from the lines, ${perWord(p.basis)}`), facts(p),
      caption(p, "cap-1", `for ${r.title}`), notes && el("p", { class: "fine" }, e(notes), "."),
      schema && el("details", {}, el("summary", {}, "For a web page: schema.org NutritionInformation"),
        el("pre", { id: "org-1" }, e(schema)), button("org-1", `Copy the schema.org numbers for ${r.title}`))];
  }
  function otherBases(r) {
    const more = r.publish.slice(1);
    return more.length > 0 && el("details", { class: "inner" },
      el("summary", {}, `Computed from the lines, ${more.map((p) => perWord(p.basis)).join(", ")}`),
      more.map((p, at) => [el("h3", {}, capital(perWord(p.basis))), facts(p),
        caption(p, `more-${at + 1}`, perWord(p.basis))]));
  }
  const headed = (heading, kind, items) => items.length > 0 && [el("h2", {}, heading), el(...kind, items)];
  const bullets = (heading, items) => headed(heading, ["ul", {}], items.map((item) => el("li", {}, item)));
  const explained = (x) => el("li", {},
    el("div", { class: "p" }, x.kind !== "none_found" && [`${percent(x.probability)} `, el("small", {}, "likely")]),
    el("div", {}, el("p", {}, el("b", {}, `${capital(W.kind[x.kind] || spaced(x.kind))}.`), " ", e(x.detail))));
  const why = (text) => there(text) && el("span", { class: "why-line" }, text);
  function line(l, total) {
    const note = W.role[l.role];
    const accepted = l.status === "accepted";
    const heading = !l.names_food;
    const at = { role: "row", id: `l${l.line_no}` };
    const no = el("td", { role: "cell", class: "line-no" }, String(l.line_no));
    if (heading && !l.food_id) {
      return el("tr", { ...at, class: "heading" }, no,
        el("td", { role: "cell", colspan: "5", class: "text" }, l.text, l.reason && [" ", fine(l.reason)]));
    }
    const spread = known(l.low) && known(l.high) && l.high - l.low >= 0.01 * Math.max(l.high, 1e-9);
    const share = known(l.kcal) && total > 0 ? Math.max(Math.min(l.kcal / total, 1), 0) : null;
    const sure = l.status === "unmatched" || !known(l.confidence) ? "not found"
      : l.status === "to review" ? "please look" : l.confidence >= 0.9 ? "sure" : "likely";
    const others = accepted ? [] : l.others ?? [];
    return el("tr", { ...at, class: [(!accepted || note) && "open-line", l.part_of && "part"].filter(Boolean).join(" ") },
      no, el("td", { role: "cell", class: "text" }, l.text, l.part_of && [" ", fine(`of line ${l.part_of}`)]),
      el("td", { role: "cell", "data-label": "Counted as" }, l.food || (!heading && "no food found"),
        l.food_id && [" ", fine(l.food_id, D.several && l.food_source && `, ${l.food_source}`)],
        note && why(el("b", {}, note)), !accepted && l.reason && why(e(l.reason)),
        others.length > 0 && why(`or: ${listing(others, 3)}`)),
      el("td", { role: "cell", class: "num grams", "data-label": "Grams" }, grams(l.grams),
        spread && why(`${number(l.low, "g")} to ${grams(l.high)}`),
        why(e(l.weigh_reason || W.basis[l.basis] || spaced(l.basis)))),
      el("td", { role: "cell", "data-label": "Sure" }, !heading && sure, l.food_id && !heading && why(percent(l.confidence))),
      el("td", { role: "cell", class: "num energy", "data-label": "Energy" }, amount(l.kcal, "kcal"),
        share !== null && [" ", fine(percent(l.kcal / total)), el("span", { class: "meter", "aria-hidden": "true" },
          el("i", { style: `--w:${(100 * share).toFixed(1)}%` }))]));
  }
  function lines(r) {
    const rows = r.lines;
    if (!rows.length) return null;
    const total = rows.reduce((sum, l) => sum + (known(l.kcal) && l.kcal > 0 ? l.kcal : 0), 0);
    const heads = [["No."], ["As written"], ["Counted as"], ["Grams", "num"], ["Sure"], ["Energy and share", "num energy"]];
    return el("section", { class: "stack", "aria-labelledby": "h-lines" },
      el("h2", { id: "h-lines" }, `${rows.length === 1 ? "The line" : `The ${rows.length} lines`}, one by one`),
      el("p", { class: "fine" }, el("span", { id: "lines-how" }, "How each line was counted, for the whole recipe."), " ",
        el("a", { href: "report.html#columns" }, "What the columns mean")),
      el("table", { role: "table", "aria-labelledby": "lines-how" },
        el("thead", { role: "rowgroup" }, el("tr", { role: "row" },
          heads.map(([text, kind]) => el("th", { scope: "col", role: "columnheader", class: kind }, text)))),
        el("tbody", { role: "rowgroup" }, rows.map((l) => line(l, total)))));
  }
  function unlikely({ verdict, explanations: [first] }) {
    return verdict === "uncertain" && first && first.kind !== "habit" && first.probability < D.least_likely;
  }
  function meta(r) {
    const plain = !r.serving_word || r.serving_word === "serving" || r.serving_word === "servings";
    const word = plain ? `serving${r.servings === 1 ? "" : "s"}` : r.serving_word;
    const servings = known(r.servings) ? `${Number(r.servings.toPrecision(6))} ${word}` : "servings not said";
    const kind = { yield: "cooked weight as given", summed: "weight of the lines, raw" }[r.weight_basis];
    const source = r.source === "-" ? "standard input" : r.source || "";
    const at = COUNTED[source.split(".").pop().toLowerCase()] ?? ":";
    return [r.creator, servings + (r.servings_how ? ` (${r.servings_how})` : ""),
      known(r.weight_g) && `${number(r.weight_g, "g")} g${kind ? ` (${kind})` : ""}`,
      `${percent(r.coverage)} of the energy known`,
      source + (source && known(r.source_line) ? at + r.source_line : "")].filter(Boolean).join(" · ");
  }
  function shown(r) {
    const standing = r.accepted ? "accepted" : r.verdict;
    document.title = `${r.title}: ${W.standing[standing]} · Steelyard`;
    return [
      el("header", { class: "title" }, el("h1", { class: "text" }, r.title), " ", badge(standing)),
      el("p", { class: "meta" }, meta(r)),
      el("p", { class: "lede" }, e(saying(r))),
      r.accepted && el("p", {}, el("b", {}, "Accepted:"), " ", e(r.accepted), ". It will be asked again when the numbers change."),
      toDo(r), publishing(r),
      r.findings.length > 0 && el("div", { class: "gauges" }, r.findings.map(gauge)),
      unlikely(r) ? [headed("What might have happened", ["p", {}], [W.saying.by_doubt]), el("ol", { class: "why" }, r.explanations.map(explained))]
        : headed("What most likely happened", ["ol", { class: "why" }], r.explanations.map(explained)),
      bullets("The stated numbers compared with each other", r.checks.map((c) => e(c.message))),
      (r.verdict === "uncertain" || r.verdict === "not_judged") &&
        bullets("What would narrow the range of the energy", r.advice.map((a) => e(upper(a.text)))),
      otherBases(r),
      bullets("Nutrition claims in the text", r.claims.map((c) => [
        `“${c.words}” (${spaced(c.claim)}, ${c.jurisdiction}): `, el("b", {}, c.status), ". ", e(c.reason)])),
      headed("Problems while reading", ["ul", {}], r.problems.map((p) => el("li", { class: "text" }, e(p.what),
        p.text && [": ", el("code", {}, p.text)], p.fix && [" ", fine(p.fix)]))),
      lines(r)].flat(Infinity).filter(there);
  }
  function recipe() {
    const main = document.getElementById("recipe");
    const steps = [["before", -1], ["after", 1]].map(([id, by]) => [document.getElementById(id), by]);
    const tell = (text) => main.replaceChildren(el("p", {}, text));
    async function open() {
      if (location.hash.startsWith("#l")) return;
      const n = parseInt(location.hash.slice(1), 10) || 1;
      if (n < 1 || n > D.total) {
        tell(`There is no recipe number ${n}; there are ${grouped(D.total)}.`);
        return;
      }
      for (const [link, by] of steps) {
        link.hidden = n + by < 1 || n + by > D.total;
        link.href = `#${n + by}`;
      }
      const part = Math.floor((n - 1) / D.recipes_a_chunk);
      try {
        main.replaceChildren(...shown(gathered(await chunk("recipes", part), n - 1 - part * D.recipes_a_chunk)));
        window.scrollTo(0, 0);
      } catch (fault) { tell(fault.message); }
    }
    window.addEventListener("hashchange", open);
    open();
  }
  if (document.getElementById("recipe")) recipe(); else list();
})();
