(function () {
  "use strict";
  var all = function (selector, root) {
    return Array.prototype.slice.call((root || document).querySelectorAll(selector));
  };
  all("[data-needs-script]").forEach(function (part) { part.hidden = false; });

  /* A link to a folded part opens it. */
  function openTarget() {
    var id = decodeURIComponent(location.hash.slice(1));
    var target = id && document.getElementById(id);
    if (!target) { return; }
    for (var part = target; part; part = part.parentElement) {
      if (part.tagName === "DETAILS") { part.open = true; }
    }
    target.scrollIntoView();
  }
  window.addEventListener("hashchange", openTarget);
  openTarget();

  /* On paper everything is open. */
  var closed = [];
  window.addEventListener("beforeprint", function () {
    closed = all("details:not([open])");
    closed.forEach(function (part) { part.open = true; });
  });
  window.addEventListener("afterprint", function () {
    closed.forEach(function (part) { part.open = false; });
    closed = [];
  });

  var status = document.getElementById("status");
  function say(text) { if (status) { status.textContent = text; } }

  function copyOf(button) {
    var id = button.getAttribute("data-copy");
    var source = id && document.getElementById(id);
    var text = source ? source.textContent : button.getAttribute("data-text");
    var done = function () {
      var before = button.innerHTML;
      button.textContent = "Copied";
      say("Copied");
      setTimeout(function () { button.innerHTML = before; }, 1600);
    };
    var bySelection = function () {
      var place = source || document.body.appendChild(document.createElement("pre"));
      if (!source) { place.textContent = text; }
      var range = document.createRange();
      range.selectNodeContents(place);
      var selection = window.getSelection();
      selection.removeAllRanges();
      selection.addRange(range);
      if (document.execCommand("copy")) { done(); } else { say("Selected; press copy"); }
      if (!source) { place.remove(); }
    };
    if (navigator.clipboard && window.isSecureContext) {
      navigator.clipboard.writeText(text).then(done, bySelection);
    } else {
      bySelection();
    }
  }
  document.addEventListener("click", function (event) {
    var button = event.target.closest("[data-copy], [data-text]");
    if (button) { copyOf(button); }
  });

  var search = document.getElementById("find");
  var choice = document.getElementById("which");
  var rows = all("#all-recipes tbody tr");
  function filter() {
    var text = search.value.trim().toLowerCase();
    var verdict = choice.value;
    var seen = 0;
    var fits = function (part) {
      var ok = (!verdict || part.getAttribute("data-verdict") === verdict) &&
        (!text || part.getAttribute("data-title").toLowerCase().indexOf(text) >= 0);
      part.hidden = !ok;
      return ok;
    };
    rows.forEach(function (row) { if (fits(row)) { seen += 1; } });
    say(seen + " of " + rows.length + " recipes shown");
  }
  if (search && choice && !document.getElementById("paged-data")) {
    search.addEventListener("input", filter);
    choice.addEventListener("change", filter);
  }

  var paper = document.getElementById("print");
  if (paper) { paper.addEventListener("click", function () { window.print(); }); }
})();
