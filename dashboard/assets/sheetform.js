/* The browser's part of the form of a sheet: what is typed handed on, one request after the other, the
   grid of ingredients, and lists pasted from a spreadsheet; sheetcards.js draws the cards. What a
   field means, and what is wrong with it, the program says. */
(function () {
  "use strict";

  const set = (id, props) => window.dash_clientside.set_props(id, props);
  const none = () => window.dash_clientside.no_update;
  const byId = (id) => document.getElementById(id);
  const api = () => {
    try { return window.dash_ag_grid.getApi("sheet-grid"); } catch { return null; }
  };

  // ---- what was done: one request at a time, so that each is made in the text of the last ----
  const WAIT_MS = 10000;
  let waiting = [], pasted = null, asked = 0, sentAt = null, sent = null, sentIn = "";
  const written = () => byId("sheet-text")?.value;
  function push(...changes) { waiting.push(...changes); flush(); }
  function flush() {
    if (sentAt !== null && Date.now() - sentAt < WAIT_MS) return;
    // What has no answer goes once more, before the rest; not into a text that is another one by now.
    const again = sentAt !== null && sent && written() === sentIn ? sent : null;
    if (!again && !waiting.length && !pasted) return;
    asked += 1; sentAt = Date.now(); sentIn = written();
    sent = { number: asked, changes: [...(again?.changes || []), ...waiting], pasted: again?.pasted || pasted };
    if (!again?.pasted) pasted = null;
    waiting = [];
    set("sheet-asked", { data: sent });
    window.setTimeout(flush, WAIT_MS);
  }
  function done(number) {
    if (number === asked) { sentAt = null; sent = null; flush(); }
    settle();
    return none();
  }

  // ---- what goes by the text waits until all that was typed is in it ----
  const GO = "#sheet-save, #sheet-start, #sheet-get";
  let held = null, inCell = false, toCome = 0, letGo = 0;
  const busy = () => inCell || toCome > 0 || waiting.length > 0 || pasted !== null || sentAt !== null;
  document.addEventListener("click", (event) => {
    const button = event.target.closest && event.target.closest(GO);
    if (!button || button === letGo) return;
    api()?.stopEditing();
    if (!busy()) return;
    event.preventDefault(); event.stopImmediatePropagation();
    held = button;
    window.setTimeout(settle, WAIT_MS);
  }, true);
  function settle() {
    const late = sentAt !== null && Date.now() - sentAt >= WAIT_MS;
    if (!held || (busy() && !late)) return;
    const button = held;
    held = null; letGo = button;
    button.click();
    letGo = 0;
  }
  let heard = null;
  function hear(grid) { // what is typed in a cell comes as a change a little later, or not at all
    if (grid === heard) return;
    heard = grid; inCell = false; toCome = 0;
    grid.addEventListener("cellEditingStarted", () => { inCell = true; });
    grid.addEventListener("cellEditingStopped", (event) => {
      inCell = false;
      if (event.valueChanged) toCome += 1;
      settle();
    });
  }


  // ---- what is being typed: the newest once the last has been answered ----
  let key = null, keys = 0, keyAt = null;
  function keyed(change) { key = { changes: change ? [change] : [] }; sendKey(); }
  function sendKey() {
    if (!key || (keyAt !== null && Date.now() - keyAt < WAIT_MS)) return;
    keys += 1; keyAt = Date.now();
    set("sheet-keyed", { data: { number: keys, ...key } });
    key = null;
  }

  // ---- cards; of ingredients the one of the selected row ----
  const cards = window.bainlogSheetCards, ALTERNATIVE = "ingredient.alternative";
  let drawn = null, says = [], shownRow = -1;
  function entry(anew) {
    const place = byId("sheet-entry");
    if (!place || !drawn) return;
    const many = drawn.rows.length, row = Math.min(Math.max(at.row, 0), many - 1);
    if (anew || row !== shownRow) {
      shownRow = row;
      const own = row < 0 ? [] : [entryCard(row), ...drawn.others.filter((one) => one.table === ALTERNATIVE && one.outer === row)];
      cards.draw(place, own, null);
    }
    cards.says(place, says);
  }
  function entryCard(row) {
    const values = drawn.entries[row] || {};
    const lines = drawn.entry.map((about) => ({ ...about, cells: about.cells.map((cell) => ({ ...cell, value: values[cell.path.join(".")] || "" })) }));
    return {
      table: "ingredient", place: row, id: "of-row", named: drawn.rows[row].name || "this ingredient",
      title: "More about " + (drawn.rows[row].name || "this ingredient"), kind: "", aside: "",
      planned: "", lines: lines, more: drawn.rows[row].more, outer: -1,
    };
  }

  let broken = "", view = "form";
  function draw(shown) {
    keyAt = null; sendKey();
    const place = byId("sheet-cards");
    if (!place || !shown) return none();
    broken = shown.broken;
    arrange();
    if (shown.broken) return "";
    if (shown.cards || sentAt === null) { rows = shown.rows; fill(); } // else a newer one comes
    if (shown.cards) drawn = shown;
    says = shown.says;
    if (shown.cards) cards.draw(place, shown.cards, shown.kinds);
    cards.says(place, says);
    if (shown.cards) cards.draw(byId("sheet-others"), shown.others.filter((one) => one.table !== ALTERNATIVE), null);
    cards.says(byId("sheet-others"), says);
    entry(Boolean(shown.cards));
    const elsewhere = byId("sheet-elsewhere");
    if (elsewhere.textContent !== shown.elsewhere) elsewhere.textContent = shown.elsewhere;
    if (wanted) requestAnimationFrame(() => focusCell(60));
    return shown.sum_says;
  }
  function arrange() {
    const form = byId("sheet-form"), says = byId("sheet-broken");
    if (!form) return;
    form.hidden = view !== "form";
    says.hidden = !broken; says.textContent = broken;
    form.querySelectorAll(":scope > section").forEach((part) => { part.hidden = Boolean(broken); });
  }
  function changeView(chosen) { view = chosen || "form"; arrange(); return view === "form"; }

  document.addEventListener("input", (event) => {
    const field = event.target, cell = editing(field);
    if (cell) keyed({ act: "set", table: "ingredient", place: cell.place, path: [cell.column], value: field.value });
    if (!field.dataset || !field.dataset.field || field.type !== "text") return;
    field.dataset.dirty = "1";
    keyed(change(field));
  });
  document.addEventListener("change", (event) => {
    const field = event.target;
    if (!field.dataset || !field.dataset.field) return;
    delete field.dataset.dirty;
    push(change(field));
  });
  function change(field) {
    const [table, place, path] = field.dataset.field.split(":");
    const value = field.type === "checkbox" ? String(field.checked) : field.value;
    return { act: "set", table: table, place: Number(place), path: path.split("."), value: value };
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest && event.target.closest("button");
    if (!button) return;
    const act = button.dataset.cardAct, row = button.dataset.rowAct, table = button.dataset.cardAdd;
    if (act) cardAct(act, button.closest(".stage-card"));
    if (row) rowAct(row);
    if (button.dataset.change) meant(JSON.parse(button.dataset.change));
    if (table) addCard(table, button.closest(".stage-card"));
    if (button.id === "sheet-list-add") {
      const list = byId("sheet-list");
      if (!list.value.trim()) return;
      paste(list.value, -1, "");
      set("sheet-list", { value: "" });
    }
  });
  const many = (table) => document.querySelectorAll(`[data-card^="${table}:"]`).length;
  function meant(change) { // one of the two things that an amount may be
    if (view === "form" && change.table === "ingredient") wanted = { row: change.place, column: "amount" };
    push(change);
  }
  function addCard(table, item) {
    if (!item) { // behind the last of its name
      cards.open(table + ":" + many(table));
      return push({ act: "add", table: table, place: many(table), value: table === "stage" ? byId("sheet-kind").value : "" });
    }
    const outer = Number(item.dataset.card.split(":")[1]);
    const before = drawn.others.filter((one) => one.table === table && one.outer <= outer).length;
    cards.open(table + ":" + before);
    push({ act: "add", table: table, place: outer });
  }
  function cardAct(act, item) {
    const [table, number] = item.dataset.card.split(":"), place = Number(number);
    if (act === "remove") return push({ act: "remove", table: table, place: place });
    const to = place + (act === "up" ? -1 : 1);
    if (to >= 0 && to < many(table)) { cards.open(table + ":" + to); push({ act: "move", table: table, place: place, to: to }); }
  }

  // ---- the grid ----
  let at = { row: -1, column: "name" }, wanted = null;
  function focusCell(tries) {
    const grid = api();
    if (!wanted || !grid) return;
    if (!grid.getDisplayedRowAtIndex(wanted.row)) {
      if (tries) requestAnimationFrame(() => focusCell(tries - 1));
      return;
    }
    const { row, column, edit } = wanted;
    wanted = null;
    grid.setFocusedCell(row, column);
    if (edit) grid.startEditingCell({ rowIndex: row, colKey: column });
  }
  function rowAct(act) {
    const grid = api(), many = grid ? grid.getDisplayedRowCount() : 0;
    const row = at.row < many ? at.row : many - 1, column = at.column;
    if (act === "add") {
      const phase = row >= 0 ? grid.getDisplayedRowAtIndex(row).data.phase : "";
      wanted = { row: row + 1, column: "name", edit: true };
      return push({ act: "add", table: "ingredient", place: Math.max(row, 0), values: [["phase", phase]] });
    }
    if (row < 0) return;
    if (act === "remove") {
      wanted = { row: Math.max(row - 1, 0), column: column };
      return push({ act: "remove", table: "ingredient", place: row });
    }
    const to = row + (act === "up" ? -1 : 1);
    if (to < 0 || to >= many) return;
    wanted = { row: to, column: column };
    push({ act: "move", table: "ingredient", place: row, to: to });
  }
  function placed(part) {
    const cell = part && part.closest && part.closest("#sheet-grid .ag-cell"), row = cell && cell.closest(".ag-row");
    return row ? { place: Number(row.getAttribute("row-id")), column: cell.getAttribute("col-id") } : null;
  }
  function editing(field) { return field.tagName === "INPUT" ? placed(field) : null; }

  document.addEventListener("focusin", (event) => {
    const cell = placed(event.target);
    if (!cell) return;
    at = { row: cell.place, column: cell.column };
    entry(false);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && editing(event.target)) keyed(null);
  }, true);
  function cells(changes) {
    toCome = Math.max(0, toCome - (changes || []).length);
    for (const one of changes || []) {
      const value = one.value === null || one.value === undefined ? "" : String(one.value);
      push({ act: "set", table: "ingredient", place: Number(one.rowId), path: [one.colId], value: value });
    }
    return none();
  }

  // Its script is large, and no other page has a grid: it is asked for once this page is open.
  const SCRIPT = "_dash-component-suites/dash_ag_grid/dash_ag_grid.min.js";
  let rows = null;
  const ready = () => set("sheet-grid-script", { data: true });
  function load() {
    if (window.dash_ag_grid) { window.setTimeout(ready); return none(); }
    const script = document.createElement("script");
    script.src = JSON.parse(byId("_dash-config").textContent).requests_pathname_prefix + SCRIPT;
    script.onload = ready;
    document.head.append(script);
    return none();
  }
  let filling = 0;
  function fill() {
    cancelAnimationFrame(filling);
    const grid = api();
    if (grid && rows) {
      hear(grid);
      set("sheet-grid", { rowData: rows });
      columns();
    } else if (byId("sheet-grid-place")) filling = requestAnimationFrame(fill); // it is on its way
    return none();
  }

  // Columns that go where there is no room, from the right; one that is gone is in the text.
  const ROOM = { of_batch: 460, tolerance: 520, price: 620, lot: 700 };
  function columns() {
    const grid = api(), width = byId("sheet-grid-place")?.clientWidth;
    if (!grid || !width) return;
    for (const [name, least] of Object.entries(ROOM)) {
      const fits = width >= least;
      if (grid.getColumn(name)?.isVisible() !== fits) grid.setColumnsVisible([name], fits);
    }
  }
  window.addEventListener("resize", columns);

  // ---- a list from a spreadsheet: the free grid takes none itself ----
  function paste(text, row, column) { pasted = { text: text, row: row, column: column }; flush(); }
  document.addEventListener("paste", (event) => {
    const cell = placed(event.target);
    if (!cell) return;
    const text = (event.clipboardData || { getData: () => "" }).getData("text/plain").replace(/\r?\n$/, "");
    if (editing(event.target) && !/[\t\n]/.test(text)) return;
    event.preventDefault();
    api()?.stopEditing(true);
    paste(text, cell.place, cell.column);
  });

  // A cell with what is wrong in it; the row says it in words below the name.
  const parts = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});
  parts.SheetCell = (props) => {
    const make = window.React.createElement, field = props.colDef.field, wrong = props.data.wrong || {};
    const value = make("span", { key: "v", className: wrong[field] ? "cell-bad" : "" }, props.value || (wrong[field] ? "–" : ""));
    if (field !== "name") return value;
    const says = Object.values(wrong).map((text, n) => make("small", { key: n, className: "cell-says" }, text));
    return make("span", { className: "cell-name" }, [value, ...says]);
  };

  const typing = (field) => Boolean(editing(field) || (field.dataset && field.dataset.dirty) || field.id === "sheet-list");
  window.bainlogSheetForm = { busy: busy, view: () => view, typing: typing };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    sheetform: { draw: draw, done: done, view: changeView, cells: cells, load: load, fill: fill },
  });
})();
