/* What was typed into a sheet is not lost: a question before the page is left with changes that nobody
   saved, and undo and redo for the form. The text field has the browser's own undo as well. */
(function () {
  "use strict";

  const MOST = 200; // steps kept
  const ASKS = "This sheet has changes that are not saved. Leave without saving?";
  const byId = (id) => document.getElementById(id);
  const none = () => window.dash_clientside.no_update;
  const plain = (text) => String(text ?? "").replace(/\r\n?/g, "\n");
  const form = () => window.bainlogSheetForm;

  let kept = null, restored = false, here = ""; // the text as it was opened or saved
  let now = "", fresh = null, jump = null, view = "";
  let undone = [], before = [];

  function opened(_open, text) {
    kept = restored ? null : plain(text);
    restored = false; here = window.location.href;
    fresh = plain(text) === now ? null : plain(text);
    before = []; undone = [];
    return show();
  }
  function seen(text) {
    const next = plain(text);
    if (next === now) return none();
    const typed = form().view();
    const own = next === fresh || next === jump; // opened, undone or done again: no step
    if (!own && !(typed === "text" && view === "text" && before.length)) {
      before.push(now); undone = [];
      if (before.length > MOST) before.shift();
    }
    if (!own) view = typed;
    now = next; fresh = null; jump = null;
    return show();
  }
  function show() {
    for (const [id, steps] of [["sheet-undo", before], ["sheet-redo", undone]]) {
      const button = byId(id);
      if (button) button.disabled = !steps.length;
    }
    return none();
  }
  function go(from, to, tries = 1200) {
    if (form().busy() || plain(byId("sheet-text").value) !== now) { // what was typed last is on its way
      if (tries) window.setTimeout(() => go(from, to, tries - 1), 50);
      return;
    }
    const steps = from();
    if (!steps.length) return;
    to().push(now);
    jump = steps.pop(); view = "";
    window.dash_clientside.set_props("sheet-text", { value: jump });
  }
  const undo = () => go(() => before, () => undone), redo = () => go(() => undone, () => before);

  document.addEventListener("click", (event) => {
    const button = event.target.closest && event.target.closest("#sheet-undo, #sheet-redo, #sheet-back");
    if (!button) return;
    if (button.id === "sheet-back") restored = true; // what comes back was never saved
    else if (button.id === "sheet-undo") undo();
    else redo();
  });
  document.addEventListener("keydown", (event) => {
    const key = event.key.toLowerCase(), field = event.target;
    if (!(event.ctrlKey || event.metaKey) || event.altKey || (key !== "z" && key !== "y")) return;
    const inForm = field === document.body || (field.closest && field.closest("#sheet-form, .sheet-view-bar"));
    if (!byId("sheet-text") || !inForm || form().view() !== "form" || form().typing(field)) return;
    event.preventDefault();
    if (key === "y" || event.shiftKey) redo();
    else undo();
  }, true);

  // ---- leaving ----
  function unsaved() {
    const area = byId("sheet-text");
    return Boolean(area) && (form().busy() || plain(area.value) !== kept);
  }
  window.addEventListener("beforeunload", (event) => {
    if (unsaved()) event.preventDefault();
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest && event.target.closest("a[href]");
    if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const leaves = link.target !== "_blank" && !link.hasAttribute("download") && link.origin === window.location.origin;
    if (!leaves || link.pathname === window.location.pathname || !unsaved()) return;
    if (window.confirm(ASKS)) { kept = plain(byId("sheet-text").value); return; }
    event.preventDefault(); event.stopImmediatePropagation();
  }, true);
  window.addEventListener("popstate", (event) => {
    if (!unsaved() || window.confirm(ASKS)) return;
    event.stopImmediatePropagation();
    window.history.pushState(null, "", here);
  }, true);

  window.dash_clientside = Object.assign({}, window.dash_clientside, { sheetkeep: { opened: opened, seen: seen } });
})();
