/* Reports of large collections: rows and recipes come from files beside the page, a chunk at a time.
   A chunk is a script that hands its rows to window.steelyard, since a page opened from disk may not
   fetch. Everything shown is set as text, so that nothing in it can run. */
(function () {
  "use strict";
  var source = document.getElementById("paged-data");
  if (!source) { return; }
  var D = JSON.parse(source.textContent);
  var W = D.words;
  var loaded = {};
  var waiting = {};
  window.steelyard = function (name, rows) { loaded[name] = rows; };
  function chunk(name, done, failed) {
    if (loaded[name]) { done(loaded[name]); return; }
    if (waiting[name]) { waiting[name].push([done, failed]); return; }
    var asked = waiting[name] = [[done, failed]];
    var script = document.createElement("script");
    script.src = D.folder + "/" + name + ".js";
    var ended = function () {
      script.remove();
      delete waiting[name];
      asked.forEach(function (one) {
        if (loaded[name]) { one[0](loaded[name]); } else if (one[1]) { one[1](name); }
      });
    };
    script.onload = ended;
    script.onerror = ended;
    document.head.appendChild(script);
  }
  function chunkName(kind, number) { return kind + "-" + ("00000" + number).slice(-6); }

  /* --- elements --------------------------------------------------------------------------- */
  var SVG = "http://www.w3.org/2000/svg";
  function add(parent, child) {
    if (child === null || child === undefined || child === "" || child === false) { return; }
    if (Array.isArray(child)) { child.forEach(function (one) { add(parent, one); }); return; }
    parent.appendChild(typeof child === "object" ? child : document.createTextNode(String(child)));
  }
  function el(tag, attributes) {
    var made = document.createElement(tag);
    Object.keys(attributes || {}).forEach(function (name) {
      var value = attributes[name];
      if (value === null || value === undefined || value === "") { return; }
      if (name === "style") { made.style.cssText = value; } else { made.setAttribute(name, value); }
    });
    for (var i = 2; i < arguments.length; i += 1) { add(made, arguments[i]); }
    return made;
  }
  function icon(name) {
    var svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("class", "icon");
    svg.setAttribute("aria-hidden", "true");
    svg.setAttribute("focusable", "false");
    var use = document.createElementNS(SVG, "use");
    use.setAttribute("href", "#i-" + name);
    svg.appendChild(use);
    return svg;
  }
  function badge(verdict) {
    return el("span", { "class": "badge v-" + verdict }, icon(verdict), W.standing[verdict]);
  }
  var ENERGY = /[<−-]?\d[\d,.]*\s?(?:kcal|kJ|calories)\b/g;
  /* Text in which amounts of energy can be hidden by the page's switch. */
  function e(text) {
    var out = [];
    var end = 0;
    String(text).replace(ENERGY, function (hit, at) {
      out.push(text.slice(end, at), el("span", { "class": "e" }, hit));
      end = at + hit.length;
      return hit;
    });
    out.push(text.slice(end));
    return out;
  }
  function fine(text) { return el("span", { "class": "fine" }, text); }
  function hidden(text) { return el("span", { "class": "vh" }, text); }

  /* --- numbers, as report/words.py writes them ------------------------------------------- */
  function known(x) { return typeof x === "number" && isFinite(x); }
  /* what stands between a file and the number of a line in it, as problems.place says it */
  function counted(source) {
    var ending = source.slice(source.lastIndexOf(".")).toLowerCase();
    return { ".pdf": ", page ", ".docx": ", paragraph ", ".odt": ", paragraph ", ".epub": ", line " }[ending] || ":";
  }
  function even(x) {
    var low = Math.floor(x);
    if (x - low !== 0.5) { return Math.round(x); }
    return low % 2 === 0 ? low : low + 1;
  }
  function tenths(x) {  /* exact halves to the even tenth */
    return (Number.isInteger(4 * x) ? even(10 * x) / 10 : x).toFixed(1);
  }
  function hundredth(x) { return Number(x.toFixed(2)); }
  function grouped(x) { return String(Math.abs(x)).replace(/\B(?=(\d{3})+$)/g, ","); }
  function number(x, unit) {
    if (x === "inf") { return "no limit"; }
    if (!known(x)) { return "–"; }
    if (unit === "g" && Math.abs(x) < 10 && Number(tenths(x)) !== even(x)) {
      return tenths(x).replace("-", "−");
    }
    return (even(x) < 0 ? "−" : "") + grouped(even(x));
  }
  function amount(x, column) {
    var text = number(x, W.unit[column]);
    return text === "–" || text === "no limit" ? text : text + "\u00a0" + W.unit[column];
  }
  function grams(x) { return known(x) ? number(x, "g") + "\u00a0g" : "–"; }
  function percent(x) {
    if (!known(x)) { return "–"; }
    if (x > 0 && x < 0.01) { return "under 1\u00a0%"; }
    if (x > 0.99 && x < 1) { return "over 99\u00a0%"; }
    return even(100 * x) + "\u00a0%";
  }
  function plural(n, one, many) { return grouped(n) + " " + (n === 1 ? one : many || one + "s"); }
  function upper(text) { return text.charAt(0).toUpperCase() + text.slice(1); }
  function capital(text) { return upper(text.toLowerCase()); }
  function listing(items, most) {
    if (items.length > most) {
      return items.slice(0, most).join(", ") + " and " + (items.length - most) + " more";
    }
    if (items.length < 2) { return items.join(""); }
    return items.slice(0, -1).join(", ") + " and " + items[items.length - 1];
  }

  /* --- the list of all recipes ------------------------------------------------------------ */
  var PAGE = D.rows_a_page;
  var CELLS = [["kcal", "kcal"], ["protein_g", "protein g"], ["carbs_g", "carbs g"], ["fat_g", "fat g"]];
  var SIGN = { disagrees: "✕", uncertain: "≈", agrees: "✓" };
  function cell(at, stated, computed, verdict) {
    var unit = W.unit[CELLS[at][0]];
    return el("td", { role: "cell", "data-label": CELLS[at][1],
      "class": "num" + (at ? "" : " energy") + " cell-" + (verdict || "none") },
      hidden("stated "), number(stated, unit), el("span", { "aria-hidden": "true" }, " → "),
      hidden(" computed "), number(computed, unit), " ",
      el("span", { "class": "sign", "aria-hidden": "true" }, SIGN[verdict]),
      SIGN[verdict] ? hidden(W.standing[verdict]) : null);
  }
  function row(n, r) {
    return el("tr", { role: "row" }, el("td", { role: "cell", "class": "no" }, String(n)),
      el("th", { scope: "row", role: "rowheader", "class": "text" },
        el("a", { href: "report-recipe.html#" + n }, r[0])),
      el("td", { role: "cell", "class": "verdict" }, badge(r[1])),
      CELLS.map(function (_, at) { return cell(at, r[3 + 3 * at], r[4 + 3 * at], r[5 + 3 * at]); }),
      el("td", { role: "cell", "class": "num", "data-label": "known" }, percent(r[2])));
  }
  function list() {
    var find = document.getElementById("find");
    var which = document.getElementById("which");
    var body = document.querySelector("#all-recipes tbody");
    var where = document.getElementById("where");
    var pages = [document.getElementById("earlier"), document.getElementById("later")];
    var status = document.getElementById("status");
    var state = { text: "", verdict: "", page: 0 };
    var turn = 0;
    /* Recipes are numbered by verdict first, so one verdict is a stretch of numbers. */
    function stretch(verdict) {
      var from = 0;
      for (var at = 0; at < D.stretches.length; at += 1) {
        if (D.stretches[at][0] === verdict) { return [from, from + D.stretches[at][1]]; }
        from += D.stretches[at][1];
      }
      return [0, D.total];
    }
    function show(rows, said) {
      body.textContent = "";
      rows.forEach(function (one) { body.appendChild(row(one[0] + 1, one[1])); });
      where.textContent = said;
      status.textContent = said;
    }
    function failed(name) {
      where.textContent = "The file " + D.folder + "/" + name + ".js is missing or damaged. Keep the" +
        " folder " + D.folder + " beside this page, or write the report again.";
    }
    /* Goes through the rows of a stretch in order, a chunk at a time, until `step` says enough. */
    function through(from, to, step, done) {
      var mine = turn;
      function next(at) {
        if (mine !== turn) { return; }
        if (at >= to) { done(); return; }
        var part = Math.floor(at / D.rows_a_chunk);
        chunk(chunkName("index", part), function (rows) {
          if (mine !== turn) { return; }
          var start = part * D.rows_a_chunk;
          var end = Math.min(to, start + rows.length);
          if (end <= at) { failed(chunkName("index", part)); return; }
          for (var i = at; i < end; i += 1) {
            if (step(i, rows[i - start]) === false) { done(); return; }
          }
          next(end);
        }, failed);
      }
      next(from);
    }
    function told(first, shown, count, more) {
      if (!shown) { return "No recipe fits."; }
      return grouped(first + 1) + " to " + grouped(first + shown) + " of " + (more ? "at least " : "") +
        plural(count, "recipe");
    }
    function refresh() {
      turn += 1;
      var span = stretch(state.verdict);
      var text = state.text.trim().toLowerCase();
      var first = state.page * PAGE;
      var found = [];
      pages[0].disabled = state.page === 0;
      if (!text) {
        var start = span[0] + first;
        pages[1].disabled = start + PAGE >= span[1];
        through(start, Math.min(start + PAGE, span[1]), function (n, r) { found.push([n, r]); },
          function () { show(found, told(first, found.length, span[1] - span[0], false)); });
        return;
      }
      var count = 0;
      var shown = false;
      where.textContent = "Searching …";
      through(span[0], span[1], function (n, r) {
        if (r[0].toLowerCase().indexOf(text) < 0) { return true; }
        if (count >= first && found.length < PAGE) { found.push([n, r]); }
        count += 1;
        if (count === first + PAGE + 1 && !shown) {
          shown = true;
          pages[1].disabled = false;
          show(found, told(first, found.length, count, true));
        }
        return true;
      }, function () {
        pages[1].disabled = count <= first + PAGE;
        if (shown) { where.textContent = told(first, found.length, count, false); } else {
          show(found, told(first, found.length, count, false));
        }
      });
    }
    function change(next) {
      state = next;
      var kept = new URLSearchParams();
      if (state.text) { kept.set("find", state.text); }
      if (state.verdict) { kept.set("show", state.verdict); }
      if (state.page) { kept.set("page", String(state.page + 1)); }
      try { sessionStorage.setItem("list", kept.toString()); } catch (blocked) { /* not kept then */ }
      refresh();
    }
    find.addEventListener("input", function () {
      change({ text: find.value, verdict: state.verdict, page: 0 });
    });
    which.addEventListener("change", function () {
      change({ text: find.value, verdict: which.value, page: 0 });
    });
    pages.forEach(function (button, forward) {
      button.addEventListener("click", function () {
        change({ text: state.text, verdict: state.verdict, page: state.page + (forward ? 1 : -1) });
        document.getElementById("all").scrollIntoView();
      });
    });
    Array.prototype.slice.call(document.querySelectorAll("[data-show]")).forEach(function (link) {
      link.addEventListener("click", function () {
        which.value = link.getAttribute("data-show");
        find.value = "";
        change({ text: "", verdict: which.value, page: 0 });
      });
    });
    /* Coming back from a recipe, the list is as it was left. */
    var entry = performance.getEntriesByType("navigation")[0];
    var kept = "";
    try { kept = sessionStorage.getItem("list") || ""; } catch (blocked) { kept = ""; }
    if (kept && entry && entry.type === "back_forward") {
      var was = new URLSearchParams(kept);
      find.value = was.get("find") || "";
      which.value = was.get("show") || "";
      state = { text: find.value, verdict: which.value, page: Number(was.get("page") || 1) - 1 };
      refresh();
    } else {
      pages[1].disabled = D.total <= PAGE;
    }
  }

  /* --- one recipe -------------------------------------------------------------------------- */
  function named(list_, row_) {
    var out = {};
    list_.forEach(function (name, at) { out[name] = row_[at]; });
    return out;
  }
  /* What is shown of the recipe in place `at` of a file: its own cells, and lists of its pieces. */
  function gathered(rows, at) {
    var r = {};
    Object.keys(D.pieces).forEach(function (kind) { if (kind !== "recipe") { r[kind] = []; } });
    rows.forEach(function (row) {
      if (row[0] !== at) { return; }
      var piece = named(D.pieces[row[1]], row.slice(2));
      if (row[1] === "recipe") { Object.assign(r, piece); } else { r[row[1]].push(piece); }
    });
    return r;
  }
  function perWord(basis) { return W.per[basis] || ""; }
  function saying(verdict, findings) {
    function of(kind) {
      return findings.filter(function (f) { return f.verdict === kind; })
        .map(function (f) { return W.nutrient[f.nutrient] || f.nutrient; });
    }
    var bad = of("disagrees");
    var open = of("uncertain");
    var S = W.saying;
    if (!findings.length) { return S.nothing; }
    if (verdict === "not_judged") { return S.not_judged; }
    if (verdict === "agrees") {
      return open.length ? S.agrees_open.replace("{}", listing(open, 3)) : S.agrees;
    }
    if (bad.length) {
      return (bad.length === 1 ? S.bad_one : S.bad).replace("{}", capital(listing(bad, 9)));
    }
    if (verdict === "disagrees") { return S.together; }
    return S.open.replace("{}", open.length ? capital(listing(open, 9)) : "A number");
  }
  function difference(f) {
    if (!known(f.stated) || !known(f.computed)) { return ""; }
    var off = f.stated - f.computed;
    if (Math.abs(off) < (W.unit[f.nutrient] === "g" ? 0.05 : 0.5)) { return "the same as the sum"; }
    if (f.computed > 0 && f.stated >= 2.5 * f.computed) {
      return (f.stated / f.computed).toFixed(1) + " times the sum";
    }
    var share = f.computed > 0 ? " (" + percent(Math.abs(off) / f.computed) + ")" : "";
    return amount(Math.abs(off), f.nutrient) + share + (off > 0 ? " above" : " below") + " the sum";
  }
  function allowedBand(f) {
    if (!known(f.stated) || !known(f.allowed)) { return null; }
    var low = Math.max(f.stated - f.allowed, 0);
    var high = f.stated + f.allowed;
    if (D.profile === "us" && known(f.computed)) {
      return f.computed >= f.stated ? [f.stated, high] : [low, f.stated];
    }
    return [low, high];
  }
  function ticks(start, end) {
    var span = end - start;
    var step = span > 0 ? Math.pow(10, Math.floor(Math.log10(span))) : 1;
    var factors = [2, 1, 0.5, 0.25, 0.2, 0.1];
    for (var i = 0; i < factors.length; i += 1) {
      var size = step * factors[i];
      var out = [];
      for (var n = Math.ceil((start + 0.04 * span) / size);
        n <= Math.trunc((end - 0.04 * span) / size); n += 1) { out.push(n * size); }
      if (out.length >= 3) { return out; }
    }
    return [];
  }
  function gauge(f) {
    var column = f.nutrient;
    var unit = W.unit[column];
    var band = allowedBand(f);
    var points = [f.stated, f.computed, f.low, f.high].concat(band || []).filter(known);
    var least = points.length ? Math.min.apply(null, points) : 0;
    var most = points.length ? Math.max.apply(null, points) : 1;
    var span = (most - least) || Math.max(Math.abs(most), 1);
    var start = least >= 0 ? Math.max(0, least - 0.12 * span) : least;
    var end = most + 0.12 * span;
    function place(x) { return hundredth(100 * Math.min(Math.max((x - start) / (end - start), 0), 1)); }
    function css(x) { return hundredth(x) + "%"; }
    function bar(kind, ends) {
      var left = place(ends[0]);
      var width = Math.max(place(ends[1]) - left, 0.6);
      return el("span", { "class": kind, style: "left:" + css(left) + ";width:" + css(width) });
    }
    function mark(kind, label, word, x) {
      return [el("span", { "class": kind, style: "left:" + css(place(x)) }),
        el("span", { "class": "lab " + label, style: "--x:" + css(place(x)) }, word + " ",
          el("b", {}, amount(x, column)))];
    }
    var ranged = known(f.low) && known(f.high);
    var name = capital(W.nutrient[column] || column);
    var per = perWord(f.basis) || "as stated";
    var range = ranged ? "between " + number(f.low, unit) + " and " + amount(f.high, column) : "";
    var allowed = band ? "from " + number(band[0], unit) + " to " + amount(band[1], column)
      : (f.allowed === "inf" ? "any difference to this side" : "");
    var alt = name + ", " + per + ": stated " + amount(f.stated, column) + "; the lines add up to " +
      amount(f.computed, column) + (range ? "; likely " + range : "") +
      (allowed ? "; allowed " + allowed : "") + ". " + capital(W.standing[f.verdict]) + ".";
    var off = difference(f);
    var said = (off ? "Stated " + off : "") +
      (range ? (off ? "; the sum is likely " : "The sum is likely ") + range : "") +
      (allowed ? "; allowed " + allowed : "") + ".";
    return el("div", { "class": "gauge v-" + f.verdict + (column === "kcal" ? " energy" : "") },
      el("header", {}, el("h3", {}, name, per === "per serving" ? null : [" ", fine(per)]),
        badge(f.verdict)),
      el("div", { "class": "beam", role: "img", "aria-label": alt },
        band ? bar("band", band) : null, el("span", { "class": "rod" }),
        ticks(start, end).map(function (t) {
          var far = !known(f.stated) || Math.abs(place(t) - place(f.stated)) > 9;
          return el("span", { "class": "tick", style: "left:" + css(place(t)) },
            far ? el("i", {}, number(t, unit)) : null);
        }),
        ranged ? bar("range", [f.low, f.high]) : null,
        known(f.computed) ? mark("mark", "lab-c", "computed", f.computed) : null,
        known(f.stated) ? mark("poise", "lab-s", "stated", f.stated) : null),
      el("p", { "class": "fine" }, said));
  }
  function change(f, published) {
    var column = f.nutrient;
    var name = capital(W.nutrient[column] || column) +
      (f.basis === "per_serving" ? "" : " " + perWord(f.basis));
    var should = f.verdict === "uncertain"
      ? number(f.low, W.unit[column]) + " to " + amount(f.high, column)
      : (published[column] ? published[column] + " " + W.unit[column] : amount(f.computed, column));
    return el("span", { "class": "change" + (column === "kcal" ? " energy" : "") },
      el("span", { "class": "name" }, name), " " + amount(f.stated, column) + " ",
      el("span", { "aria-hidden": "true" }, "→"), hidden(" should be"), " ", el("b", {}, should));
  }
  function toDo(r) {
    if (!r.why || r.accepted) { return null; }
    var off = r.findings.filter(function (f) { return f.verdict === r.verdict; });
    off = (off.length || r.verdict !== "disagrees" ? off : r.findings).slice(0, 3);
    if (!off.length) { return null; }
    var basis = off[0].basis;
    var shown = r.publish.filter(function (p) { return p.basis === basis; })[0] || r.publish[0] || {};
    return el("section", { "class": "do", "aria-labelledby": "h-do" },
      el("h2", { id: "h-do" }, "What to do"),
      el("p", { "class": "changes" }, off.map(function (f) { return [change(f, shown), " "]; })),
      el("p", {}, e(upper(r.why)), r.other ? ["; ", e(r.other)] : null, "."));
  }
  function copy(id, text, label, pre) {
    var button = el("button", { type: "button", "data-copy": id, "aria-label": label }, "Copy");
    if (pre) { return [el("pre", { id: id }, e(text)), button]; }
    return el("div", { "class": "copyline" }, el("code", { id: id }, e(text)), button);
  }
  function published(p, heading) {
    var cells = W.published.filter(function (c) { return p[c]; }).map(function (c) {
      return el("li", { "class": c === "kcal" ? "energy" : null },
        (c === "salt_g" ? "Salt" : capital(W.nutrient[c])) + " ",
        el("b", {}, p[c] + " " + (c === "salt_g" ? "g" : W.unit[c])));
    });
    return [heading, el("ul", { "class": "facts" }, cells)];
  }
  function publishing(r) {
    if (!r.publish.length) { return null; }
    var p = r.publish[0];
    var notes = [W.energy_from[p.energy_from] || ""].concat((p.note || "").split("; "))
      .filter(Boolean).map(upper).join(". ");
    var schema = "";
    try { schema = JSON.stringify(JSON.parse(p.schema_org), null, 2); } catch (fault) { schema = p.schema_org; }
    return [published(p, el("h2", {}, "Computed from the lines, " + perWord(p.basis))),
      p.caption ? copy("cap-1", p.caption, "Copy the caption line for " + r.title) : null,
      notes ? el("p", { "class": "fine" }, e(notes), ".") : null,
      schema ? el("details", {}, el("summary", {}, "For a web page: schema.org NutritionInformation"),
        copy("org-1", schema, "Copy the schema.org numbers for " + r.title, true)) : null];
  }
  function otherBases(r) {
    if (r.publish.length < 2) { return null; }
    var more = r.publish.slice(1);
    return el("details", { "class": "inner" },
      el("summary", {}, "Computed from the lines, " +
        more.map(function (p) { return perWord(p.basis); }).join(", ")),
      more.map(function (p, at) {
        return [published(p, el("h3", {}, capital(perWord(p.basis)))),
          p.caption ? copy("more-" + (at + 1), p.caption, "Copy the caption line " + perWord(p.basis)) : null];
      }));
  }
  function explained(r) {
    if (!r.explanations.length) { return null; }
    return [el("h2", {}, "What most likely happened"),
      el("ol", { "class": "why" }, r.explanations.map(function (x) {
        return el("li", {}, el("div", { "class": "p" }, x.kind === "none_found" ? null
          : [percent(x.probability) + " ", el("small", {}, "likely")]),
          el("div", {}, el("p", {}, el("b", {}, capital(W.kind[x.kind] || x.kind.replace(/_/g, " ")) + "."), " ",
            e(x.detail || ""))));
      }))];
  }
  function bullets(heading, items) {
    return items.length ? [el("h2", {}, heading), el("ul", {}, items)] : null;
  }
  function why(text) { return text ? el("span", { "class": "why-line" }, text) : null; }
  function line(l, total) {
    var note = W.role[l.role] || "";
    var accepted = l.status === "accepted";
    var heading = !l.names_food;
    if (heading && !l.food_id) {
      return el("tr", { role: "row", "class": "heading", id: "l" + l.line_no },
        el("td", { role: "cell", "class": "line-no" }, String(l.line_no)),
        el("td", { role: "cell", colspan: "5", "class": "text" }, l.text, l.reason ? [" ", fine(l.reason)] : null));
    }
    var spread = known(l.low) && known(l.high) && l.high - l.low >= 0.01 * Math.max(l.high, 1e-9);
    var share = known(l.kcal) && total > 0 ? Math.max(Math.min(l.kcal / total, 1), 0) : null;
    var sure = heading ? "" : l.status === "unmatched" || !known(l.confidence) ? "not found"
      : l.status === "to review" ? "please look" : l.confidence >= 0.9 ? "sure" : "likely";
    var others = accepted ? [] : l.others || [];
    var kind = [accepted && !note ? "" : "open-line", l.part_of ? "part" : ""].filter(Boolean).join(" ");
    return el("tr", { role: "row", id: "l" + l.line_no, "class": kind },
      el("td", { role: "cell", "class": "line-no" }, String(l.line_no)),
      el("td", { role: "cell", "class": "text" }, l.text,
        l.part_of ? [" ", fine("of line " + l.part_of)] : null),
      el("td", { role: "cell", "data-label": "Counted as" },
        l.food || (heading ? "" : "no food found"),
        l.food_id ? [" ", fine(l.food_id + (D.several && l.food_source ? ", " + l.food_source : ""))] : null,
        note ? why(el("b", {}, note)) : null, accepted ? null : why(l.reason && e(l.reason)),
        why(others.length ? "or: " + listing(others, 3) : "")),
      el("td", { role: "cell", "class": "num grams", "data-label": "Grams" }, grams(l.grams),
        why(spread ? number(l.low, "g") + " to " + grams(l.high) : ""),
        why(e(l.weigh_reason || W.basis[l.basis] || (l.basis || "").replace(/_/g, " ")))),
      el("td", { role: "cell", "data-label": "Sure" }, sure,
        why(l.food_id && !heading ? percent(l.confidence) : "")),
      el("td", { role: "cell", "class": "num energy", "data-label": "Energy" }, amount(l.kcal, "kcal"),
        share === null ? null : [" ", fine(percent(l.kcal / total)),
          el("span", { "class": "meter", "aria-hidden": "true" },
            el("i", { style: "--w:" + (100 * share).toFixed(1) + "%" }))]));
  }
  function lines(r) {
    if (!r.lines.length) { return null; }
    var rows = r.lines;
    var total = rows.reduce(function (sum, l) { return sum + (known(l.kcal) && l.kcal > 0 ? l.kcal : 0); }, 0);
    function head(text, kind) {
      return el("th", { scope: "col", role: "columnheader", "class": kind || null }, text);
    }
    return el("section", { "class": "stack", "aria-labelledby": "h-lines" },
      el("h2", { id: "h-lines" }, (rows.length === 1 ? "The line" : "The " + rows.length + " lines") + ", one by one"),
      el("p", { "class": "fine" },
        el("span", { id: "lines-how" }, "How each line was counted, for the whole recipe."), " ",
        el("a", { href: "report.html#columns" }, "What the columns mean")),
      el("table", { role: "table", "aria-labelledby": "lines-how" },
        el("thead", { role: "rowgroup" }, el("tr", { role: "row" }, head("No."), head("As written"),
          head("Counted as"), head("Grams", "num"), head("Sure"), head("Energy and share", "num energy"))),
        el("tbody", { role: "rowgroup" }, rows.map(function (l) { return line(l, total); }))));
  }
  function meta(r) {
    var servings = known(r.servings)
      ? (r.serving_word && r.serving_word !== "serving" && r.serving_word !== "servings"
        ? Number(r.servings.toPrecision(6)) + " " + r.serving_word
        : Number(r.servings.toPrecision(6)) + (r.servings === 1 ? " serving" : " servings"))
      : "servings not said";
    var kind = { "yield": "cooked weight as given", summed: "weight of the lines, raw" }[r.weight_basis];
    return [r.creator, servings + (r.servings_how ? " (" + r.servings_how + ")" : ""),
      known(r.weight_g) ? number(r.weight_g, "g") + " g" + (kind ? " (" + kind + ")" : "") : "",
      percent(r.coverage) + " of the energy known",
      (r.source === "-" ? "standard input" : r.source || "") + (r.source && known(r.source_line) ? counted(r.source) + r.source_line : "")
    ].filter(Boolean).join(" · ");
  }
  function show(r, main) {
    var standing = r.accepted ? "accepted" : r.verdict;
    document.title = r.title + ": " + W.standing[standing] + " · Steelyard";
    main.textContent = "";
    var table = el("div", {},
      el("header", { "class": "title" }, el("h1", { "class": "text" }, r.title), " ", badge(standing)),
      el("p", { "class": "meta" }, meta(r)),
      el("p", { "class": "lede" }, e(saying(r.verdict, r.findings))),
      r.accepted ? el("p", {}, el("b", {}, "Accepted:"), " ", e(r.accepted),
        ". It will be asked again when the numbers change.") : null,
      toDo(r), publishing(r),
      r.findings.length ? el("div", { "class": "gauges" }, r.findings.map(gauge)) : null,
      explained(r),
      bullets("The stated numbers compared with each other", r.checks.map(function (c) { return el("li", {}, e(c.message)); })),
      bullets("What would narrow the range", r.verdict === "uncertain" || r.verdict === "not_judged"
        ? r.advice.map(function (a) { return el("li", {}, e(upper(a.text))); }) : []),
      otherBases(r),
      bullets("Nutrition claims in the text", r.claims.map(function (c) {
        return el("li", {}, "“" + c.words + "” (" + (c.claim || "").replace(/_/g, " ") + ", " + c.jurisdiction + "): ",
          el("b", {}, c.status), ". ", e(c.reason || ""));
      })),
      bullets("Problems while reading", r.problems.map(function (p) {
        return el("li", { "class": "text" }, e(p.what || ""), p.text ? [": ", el("code", {}, p.text)] : null,
          p.fix ? [" ", fine(p.fix)] : null);
      })),
      lines(r));
    while (table.firstChild) { main.appendChild(table.firstChild); }
  }
  function recipe() {
    var main = document.getElementById("recipe");
    var steps = [document.getElementById("before"), document.getElementById("after")];
    function open() {
      var n = parseInt(location.hash.slice(1), 10) || 1;
      if (location.hash.charAt(1) === "l") { return; }
      if (n < 1 || n > D.total) {
        main.textContent = "";
        main.appendChild(el("p", {}, "There is no recipe number " + n + "; there are " + grouped(D.total) + "."));
        return;
      }
      steps.forEach(function (link, forward) {
        var to = n + (forward ? 1 : -1);
        link.hidden = to < 1 || to > D.total;
        link.setAttribute("href", "#" + to);
      });
      var part = Math.floor((n - 1) / D.recipes_a_chunk);
      chunk(chunkName("recipes", part), function (rows) {
        show(gathered(rows, n - 1 - part * D.recipes_a_chunk), main);
        window.scrollTo(0, 0);
      }, function (name) {
        main.textContent = "";
        main.appendChild(el("p", {}, "The file " + D.folder + "/" + name + ".js is missing or damaged. Keep the" +
          " folder " + D.folder + " beside this page, or write the report again."));
      });
    }
    window.addEventListener("hashchange", open);
    open();
  }
  if (document.getElementById("recipe")) { recipe(); } else { list(); }
})();
