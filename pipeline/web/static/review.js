// Comfort for the review page: keys, focus after a swap, and a word when the program has gone.
// Everything on the page also works without this file.
"use strict";

(() => {
  const one = (what, within = document) => within.querySelector(what);
  const all = (what, within = document) => [...within.querySelectorAll(what)];
  const shown = (element) => element.getClientRects().length > 0;
  const help = one("#help");
  const opener = one("#help-open");
  opener.hidden = false;
  opener.addEventListener("click", () => help.showModal());

  const foods = () => all("#main button.choose").filter(shown);
  const items = () => all("#queue a").filter(shown);

  // From element to element of a list; from elsewhere to its first or last.
  function step(list, by) {
    if (!list.length) return false;
    const at = list.indexOf(document.activeElement);
    const next = at < 0 ? (by > 0 ? 0 : list.length - 1) : at + by;
    if (next < 0 || next >= list.length) return at >= 0;
    list[next].focus();
    list[next].closest("tr, li")?.scrollIntoView({ block: "nearest" });
    return true;
  }

  function open(what) {
    const details = what?.closest("details");
    if (details) details.open = true;
    what?.focus();
    what?.select?.();
    return Boolean(what);
  }

  const current = () => one('#queue a[aria-current="true"]') ?? one("#queue a.item");
  const actions = {
    ArrowDown: () => step(one("#queue").contains(document.activeElement) ? items() : foods(), 1),
    ArrowUp: () => step(one("#queue").contains(document.activeElement) ? items() : foods(), -1),
    ArrowLeft: () => open(current()),
    ArrowRight: () => open(foods()[0] ?? one("#main h1")),
    "/": () => open(one("#q")),
    g: () => open(one("#grams")),
    m: () => open(one("#words")),
    p: () => open(one("#f-food_name")),
    n: () => {
      const list = all("#queue a.item");
      const at = list.findIndex((a) => a.getAttribute("aria-current") === "true");
      const next = list[at + 1] ?? list[0];
      next?.click();
      return Boolean(next);
    },
    u: () => {
      const undo = one("#undo-latest");
      if (!undo.disabled) undo.click();
      return !undo.disabled;
    },
    "?": () => {
      help.showModal();
      return true;
    },
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || help.open) return;
    const at = event.target;
    const typing = at.matches("textarea, select, input:not([type=radio], [type=checkbox])");
    if (typing) {
      if (event.key === "Escape") {
        at.blur();
        one("#main h1")?.focus({ preventScroll: true });
      } else if (at.id === "q" && (event.key === "ArrowDown" || event.key === "Enter")) {
        const found = all("#found button.choose");
        if (found.length && !at.classList.contains("htmx-request")) {
          found[0].focus();
          event.preventDefault();
        }
      }
      return;
    }
    if (at.matches("input[type=radio]") && event.key.startsWith("Arrow")) return;
    if (actions[event.key]?.()) event.preventDefault();
  });

  // After the middle of the page was swapped the focus goes to what comes next: the button to go
  // on, the field to correct, else the heading. A screen reader hears the rest from the live region.
  document.addEventListener("htmx:afterSettle", (event) => {
    const target = event.detail.target?.id;
    if (target === "fix" || (target === "main" && one("#main [data-script]"))) {
      chosen(target === "main");
      return;
    }
    if (target !== "main") return;
    const next = one("#main [data-focus]") ?? one("#main h1");
    next?.focus({ preventScroll: true });
    if (next && !next.matches("h1, .button")) next.scrollIntoView({ block: "center" });
    else window.scrollTo(0, 0);
  });

  // In a script: the mark under correction is shown as chosen, and the focus goes to what can be
  // said of it; the text stays where it is.
  function chosen(whole) {
    for (const mark of all(".script mark.chosen")) mark.classList.remove("chosen");
    const id = one("#fix [data-mark]")?.dataset.mark;
    const mark = id ? document.getElementById(id) : null;
    mark?.classList.add("chosen");
    const same = kept && kept.script === one("[data-script]")?.dataset.script;
    if (whole) window.scrollTo(0, same ? kept.at : 0);
    mark?.scrollIntoView({ block: "nearest" });
    const next = one("#fix [data-focus]") ?? (whole ? one("#main h1") : null);
    next?.focus({ preventScroll: true });
  }
  let kept = null;
  document.addEventListener("htmx:beforeSwap", () => {
    const script = one("[data-script]")?.dataset.script;
    kept = script ? { script, at: window.scrollY } : null;
  });
  if (one("#main [data-script]")) chosen(Boolean(one("#fix [data-mark]")));

  // Words that a person selects in a script, as characters of it: those of its paragraph's text.
  const pick = one("#pick");
  function place(node, offset) {
    const element = node.nodeType === Node.TEXT_NODE ? node.parentElement : node;
    const paragraph = element?.closest?.(".script p[data-at]");
    if (!paragraph) return null;
    const before = document.createRange();
    before.setStart(paragraph, 0);
    before.setEnd(node, offset);
    const fragment = before.cloneContents();
    for (const own of fragment.querySelectorAll(".handle")) own.remove();
    return Number(paragraph.dataset.at) + [...fragment.textContent].length;
  }
  function picked() {
    const selection = window.getSelection();
    if (!selection?.rangeCount || selection.isCollapsed) return null;
    const range = selection.getRangeAt(0);
    const from = place(range.startContainer, range.startOffset);
    const to = place(range.endContainer, range.endOffset);
    return from === null || to === null || from >= to ? null : { from, to };
  }
  document.addEventListener("selectionchange", () => {
    pick.hidden = !picked();
  });
  pick.addEventListener("pointerdown", (event) => event.preventDefault()); // the selection stays
  pick.addEventListener("click", () => {
    const words = picked();
    const script = one("#main [data-script]")?.dataset.script;
    if (!words || !script) return;
    window.getSelection().removeAllRanges();
    window.htmx.ajax("GET", `/script/${script}?from=${words.from}&to=${words.to}`, "#fix");
  });

  // The buttons of the food tables stand outside the form they belong to; htmx does not see which
  // of them was pressed, the browser does.
  document.addEventListener("htmx:configRequest", (event) => {
    const pressed = event.detail.triggeringEvent?.submitter;
    if (pressed?.name) event.detail.formData.set(pressed.name, pressed.value);
  });

  // A save may be slow. What comes back about a line that is no longer on the screen is told in a
  // word and never takes the place of the line there now, so that the next click hits what it aims
  // at; and the buttons of a form rest until its answer is there.
  const about = (address) => (address.match(/^\/(line|recipe|script)\/([0-9a-f]{16})/) ?? [])[2];
  const onScreen = () => {
    const article = one("#main > article");
    return article?.dataset.line ?? article?.dataset.recipe ?? article?.dataset.script;
  };
  let saving = 0;
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (event.detail.requestConfig.verb !== "post") {
      // While an answer of this page is on its way, what it changes is not news from elsewhere.
      if (saving && event.detail.elt.id === "pulse") event.preventDefault();
      return;
    }
    saving += 1;
    for (const button of all("#main button")) button.setAttribute("aria-disabled", "true");
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest?.("#main button[aria-disabled]")) event.preventDefault();
  }, true);
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.requestConfig.verb === "post") saving -= 1;
    for (const button of all("#main button[aria-disabled]")) button.removeAttribute("aria-disabled");
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { requestConfig, target, xhr } = event.detail;
    if (requestConfig.verb !== "post" || target?.id !== "main") return;
    const wanted = about(requestConfig.path);
    const now = onScreen();
    if (!wanted || !now || wanted === now) return;
    event.detail.shouldSwap = false;
    const told = new DOMParser().parseFromString(xhr.responseText, "text/html");
    say(xhr.status < 400 ? "" : told.querySelector(".note .title")?.textContent ?? "");
    one("#said").textContent = told.querySelector("#said")?.textContent ?? "";
    window.htmx.ajax("GET", "/since/0?told=1", { swap: "none" });
  });

  // Lists that a person opened stay open when the answer brings a new queue.
  let opened = new Set();
  const swapping = () => {
    opened = new Set(all("#queue details[open]").map((d) => d.id));
  };
  document.addEventListener("htmx:oobBeforeSwap", swapping);
  document.addEventListener("htmx:oobAfterSwap", () => {
    for (const id of opened) {
      const details = document.getElementById(id);
      if (details) details.open = true;
    }
  });

  const lost = one("#lost");
  const say = (text) => {
    lost.textContent = text;
    lost.hidden = !text;
  };
  document.addEventListener("htmx:sendError", () =>
    say("The program behind this page has stopped. Every answer given is saved; start it again to go on."),
  );
  document.addEventListener("htmx:timeout", () => say("The program behind this page is busy; wait a moment."));
  document.addEventListener("htmx:responseError", (event) => {
    const { status, responseText } = event.detail.xhr;
    say(status === 403 ? "This page is of an earlier start. Open the address that the program printed last." : responseText);
  });
  document.addEventListener("htmx:afterOnLoad", (event) => {
    if (event.detail.xhr.status < 400) say("");
  });
})();
