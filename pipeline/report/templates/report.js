(() => {
  "use strict";
  const all = (selector) => [...document.querySelectorAll(selector)];
  all("[data-needs-script]").forEach((part) => { part.hidden = false; });

  /* A link to a folded part opens it. */
  function openTarget() {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    for (let part = target; part; part = part.parentElement) {
      if (part.tagName === "DETAILS") part.open = true;
    }
    target?.scrollIntoView();
  }
  window.addEventListener("hashchange", openTarget);
  openTarget();

  /* On paper everything is open. */
  let closed = [];
  window.addEventListener("beforeprint", () => {
    closed = all("details:not([open])");
    closed.forEach((part) => { part.open = true; });
  });
  window.addEventListener("afterprint", () => {
    closed.forEach((part) => { part.open = false; });
    closed = [];
  });

  const status = document.getElementById("status");
  const say = (text) => { status.textContent = text; };

  function copyOf(button) {
    const source = document.getElementById(button.dataset.copy);
    const text = source ? source.textContent : button.dataset.text;
    const done = () => {
      const before = button.innerHTML;
      button.textContent = "Copied";
      say("Copied");
      setTimeout(() => { button.innerHTML = before; }, 1600);
    };
    const bySelection = () => {
      const place = source ?? document.body.appendChild(document.createElement("pre"));
      if (!source) place.textContent = text;
      window.getSelection().selectAllChildren(place);
      if (document.execCommand("copy")) done(); else say("Selected; press copy");
      if (!source) place.remove();
    };
    if (navigator.clipboard && window.isSecureContext) navigator.clipboard.writeText(text).then(done, bySelection);
    else bySelection();
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-copy], [data-text]");
    if (button) copyOf(button);
  });

  const search = document.getElementById("find");
  const choice = document.getElementById("which");
  const rows = all("#all-recipes tbody tr");
  function filter() {
    const text = search.value.trim().toLowerCase();
    for (const row of rows) {
      row.hidden = (choice.value && row.dataset.verdict !== choice.value) ||
        !row.dataset.title.toLowerCase().includes(text);
    }
    say(`${rows.filter((row) => !row.hidden).length} of ${rows.length} recipes shown`);
  }
  if (search && !document.getElementById("paged-data")) {
    search.addEventListener("input", filter);
    choice.addEventListener("change", filter);
  }
  document.getElementById("print")?.addEventListener("click", () => window.print());
})();
