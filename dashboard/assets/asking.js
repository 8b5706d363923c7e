/* The dialogs of the page at the bench and of one run: what is asked at the start and at the end of
   a batch, and when something was done.

   Fields are made here, because they are the browser's own and no part of the page is drawn anew
   while somebody types. Text from outside is put in as text, never as markup. */
(function () {
  "use strict";

  const none = () => window.dash_clientside.no_update;
  const byId = (id) => document.getElementById(id);

  function made(tag, attributes, text) {
    const part = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) part.setAttribute(name, value);
    if (text !== undefined) part.textContent = text;
    return part;
  }

  function field(label, attributes, value) {
    const row = made("div", { class: "field" });
    row.append(made("label", { for: attributes.id }, label));
    const input = made("input", Object.assign({ type: "text", autocomplete: "off" }, attributes));
    input.value = value || "";
    row.append(input);
    return row;
  }

  const symbol = (look) => made("span", { class: "sym sym-" + look, "aria-hidden": "true" });

  /* ---- start ---- */

  const SHOWN = 4; // so many lots stand open; the rest too where one of them has changed

  function startForm(form) {
    const place = byId("start-fields");
    if (!form || !place) return none();
    const own = byId("sheet-choice");
    if (own && own.value === "" && form.sheet) own.options[0].textContent = form.sheet;
    const line = made("div", { class: "two-fields" });
    line.append(
      field("Operator", { id: "start-operator", maxlength: "200" }, form.operator),
      field("Batch size", { id: "start-size", maxlength: "200", placeholder: "12 pieces, 1.2 kg" }, form.size)
    );
    place.replaceChildren(line);
    if (form.lots.length) place.append(lotsOf(form));
    const foot = made("div", { class: "two-fields" });
    if (form.ready.length) foot.append(readyOf(form.ready));
    const today = made("div", { class: "field" });
    today.append(
      made("label", { for: "start-note" }, "What is different today (optional)"),
      made("textarea", { id: "start-note", rows: "2", maxlength: "4000" })
    );
    foot.append(today);
    place.append(foot);
    const says = byId("start-says");
    if (says) says.textContent = form.says;
    return none();
  }

  function lotsOf(form) {
    const lots = made("fieldset", { class: "lots" });
    lots.append(made("legend", {}, "Lots"));
    const rows = form.lots.map(lotRow);
    lots.append(...rows.slice(0, SHOWN));
    if (rows.length > SHOWN) {
      const rest = made("details", { class: "more-of" });
      rest.open = form.lots.slice(SHOWN).some((lot) => lot.taken);
      rest.append(made("summary", {}, rows.length - SHOWN + " more, as last time"), ...rows.slice(SHOWN));
      lots.append(rest);
    }
    return lots;
  }

  function lotRow(lot, n) {
    const row = made("div", { class: "lot" });
    const id = "start-lot-" + n;
    const input = made("input", { id: id, type: "text", autocomplete: "off", maxlength: "200" });
    input.value = lot.lot;
    Object.assign(input.dataset, { ingredient: lot.ingredient, ofSheet: lot.of_sheet });
    const told = made("span", { class: "lot-told", "aria-live": "polite" });
    const tell = () => {
      const same = input.value.trim() === lot.lot;
      told.textContent = same ? (lot.lot ? "as last time" : "") : "new since last time";
      row.dataset.changed = same ? "0" : "1";
    };
    input.addEventListener("input", tell);
    tell();
    row.append(made("label", { for: id }, lot.ingredient), made("span", { class: "lot-amount" }, lot.amount), input, told);
    if (lot.instead.length) row.append(insteadOf(lot, n, input));
    return row;
  }

  /* What the sheet allows in place of an ingredient; its lot is another one, and not known. */
  function insteadOf(lot, n, input) {
    const label = made("label", { class: "lot-instead" }, "Taken: ");
    const choice = made("select", { id: "start-instead-" + n });
    choice.append(made("option", { value: "" }, lot.ingredient + ", " + lot.amount));
    for (const other of lot.instead) {
      choice.append(made("option", { value: other.name }, other.name + ", " + other.amount));
    }
    choice.addEventListener("change", () => {
      input.dataset.taken = choice.value;
      input.value = choice.value ? "" : lot.lot;
      input.dispatchEvent(new Event("input"));
    });
    label.append(choice);
    if (lot.taken) {
      choice.value = lot.taken;
      choice.dispatchEvent(new Event("change"));
    }
    return label;
  }

  function readyOf(lines) {
    const part = made("div", { class: "ready" });
    part.append(made("h3", {}, "Ready?"));
    for (const line of lines) {
      const row = made("p", { class: "look-" + line.look });
      row.append(symbol(line.look), made("span", {}, line.says));
      part.append(row);
    }
    return part;
  }

  function start() {
    const sheet = byId("sheet-choice").value;
    const about = sheet ? { sheet: sheet } : {};
    for (const name of ["operator", "size"]) {
      const input = byId("start-" + name);
      if (input && input.value.trim()) about[name] = input.value.trim();
    }
    const lots = {}, instead = {};
    for (const input of document.querySelectorAll("#start-fields [data-ingredient]")) {
      const lot = input.value.trim(), taken = input.dataset.taken;
      if (taken) instead[input.dataset.ingredient] = taken;
      if (lot !== (taken ? "" : input.dataset.ofSheet)) lots[taken || input.dataset.ingredient] = lot;
    }
    if (Object.keys(lots).length) about.lots = lots;
    if (Object.keys(instead).length) about.instead = instead;
    const note = (byId("start-note") || { value: "" }).value.trim();
    window.bainlogBench.sendFrom(byId("start-dialog"), "start", about, note);
  }

  /* ---- end ---- */

  function choice(kind, name, value, label, checked) {
    const row = made("label", { class: "tick" });
    const input = made("input", { type: kind, name: name, value: value });
    input.checked = checked;
    row.append(input, made("span", {}, label));
    return row;
  }

  const CAME = [["accepted", "Accepted", "good"], ["rejected", "Rejected", "stop"], ["", "Decide later", "ring"]];

  function cameOf(said) {
    const box = made("fieldset", { class: "came" });
    box.append(made("legend", { class: "unseen" }, "This batch is"));
    for (const [value, label, look] of CAME) {
      const row = choice("radio", "end-came", value, label, value === said);
      row.className = "tick came-one came-" + look;
      row.insertBefore(symbol(look), row.lastChild);
      box.append(row);
    }
    return box;
  }

  /* One line of chips; a piece is good, or has defects, or was not looked at. */
  function chips(title, name, defects, piece) {
    const box = made("fieldset", { class: "piece-came" });
    box.append(made("legend", {}, title));
    if (piece) box.append(choice("checkbox", name, "", "good", false));
    for (const defect of defects) box.append(choice("checkbox", name, defect, defect, false));
    for (const row of box.querySelectorAll(".tick")) row.classList.add("chip-tick");
    if (piece) {
      box.dataset.piece = piece;
      box.addEventListener("change", (event) => {
        for (const other of box.querySelectorAll("input")) {
          const apart = event.target.value === "" ? other !== event.target : other.value === "";
          if (event.target.checked && apart) other.checked = false;
        }
        tally();
      });
    }
    return box;
  }

  function piecesSaid() {
    return [...document.querySelectorAll("#end-fields [data-piece]")]
      .map((box) => ({ piece: Number(box.dataset.piece), of: [...box.querySelectorAll("input:checked")] }))
      .filter((one) => one.of.length)
      .map((one) => ({ piece: one.piece, defects: one.of.map((input) => input.value).filter(Boolean) }));
  }

  function tally() {
    const counts = new Map();
    for (const one of piecesSaid()) {
      for (const word of one.defects.length ? one.defects : ["good"]) counts.set(word, (counts.get(word) || 0) + 1);
    }
    byId("end-says").textContent = [...counts].map(([word, count]) => count + " " + word).join(", ");
  }

  function endForm(form) {
    const place = byId("end-fields");
    if (!form || !place) return none();
    place.replaceChildren();
    if (form.still_in) place.append(made("p", { class: "look-warn still-in", role: "status" }, form.still_in));
    byId("end-go").classList.toggle("main", !form.still_in);
    byId("end-back").classList.toggle("main", Boolean(form.still_in));
    place.append(cameOf(form.came));
    if (form.defects.length) {
      if (form.pieces.length) {
        const head = made("p", { class: "piece-head" });
        head.append(made("b", {}, "Each piece "), made("span", {}, "tap what is true; skip what you did not look at"));
        place.append(head);
      }
      for (const piece of form.pieces) {
        place.append(chips(String(piece), "end-piece-" + piece, form.defects, piece));
      }
      place.append(chips(form.pieces.length ? "All" : "What is wrong with it?", "end-defect", form.defects));
      for (const input of place.querySelectorAll("input[name=end-defect]")) {
        input.checked = form.wrong.includes(input.value);
      }
    }
    byId("end-says").textContent = "";
    place.append(field("Another defect", { id: "end-new", maxlength: "200" }));
    const measures = made("div", { class: "measured" });
    form.results.forEach((one, n) => {
      const label = one.name.charAt(0).toUpperCase() + one.name.slice(1) + (one.unit ? ", " + one.unit : "");
      const row = field(label, { id: "end-result-" + n, type: "number", step: "any" });
      Object.assign(row.querySelector("input").dataset, { name: one.name, unit: one.unit });
      measures.append(row);
    });
    place.append(measures);
    const note = made("div", { class: "field" });
    note.append(
      made("label", { for: "end-text" }, "In your own words"),
      made("textarea", { id: "end-text", rows: "2", maxlength: "4000" })
    );
    place.append(note, photoOf(form));
    byId("end-text").value = form.note;
    return none();
  }

  function photoOf(form) {
    const part = made("details", { class: "more-of" });
    const fields = made("div", { class: "photo-fields" });
    window.bainlogPhoto.fill(fields, form.pieces, form.run);
    part.append(made("summary", {}, "Add a photo"), fields);
    return part;
  }

  let ending = false; // a photo is on its way
  async function end() {
    if (ending) return;
    ending = true;
    const about = {};
    const came = document.querySelector("#end-fields input[name=end-came]:checked");
    if (came && came.value) about.outcome = came.value;
    const wrong = [...document.querySelectorAll("#end-fields input[name=end-defect]:checked")];
    if (wrong.length) about.defects = wrong.map((input) => input.value);
    const pieces = piecesSaid();
    if (pieces.length) about.pieces = pieces;
    const added = (byId("end-new") || { value: "" }).value.trim();
    if (added) {
      about.defects = [...new Set([...(about.defects || []), added])];
      about.new_defects = [added];
    }
    const measured = [...document.querySelectorAll("#end-fields [data-name]")].filter((input) => input.value);
    if (measured.length) {
      about.results = measured.map((input) => ({
        name: input.dataset.name,
        value: input.valueAsNumber,
        unit: input.dataset.unit,
      }));
    }
    const text = byId("end-text");
    if (text && text.value.trim()) about.text = text.value.trim();
    try {
      if (!(await window.bainlogPhoto.sendChosen())) return;
      window.bainlogBench.sendFrom(byId("end-dialog"), "run_end", about);
    } finally {
      ending = false;
    }
  }

  /* ---- when something was done ---- */

  let moved = null;

  const clock = (t_s) => window.bainlogWords.clockText(t_s);
  const seconds = (text) => window.bainlogWords.clockSeconds(text);

  function openMove(choices) {
    const dialog = byId("move-dialog");
    if (!dialog || !choices.length) return;
    for (const other of document.querySelectorAll("dialog[open]")) other.close();
    const which = byId("move-which");
    which.replaceChildren();
    if (choices.length > 1) {
      choices.forEach((one) => {
        const chip = made("button", { type: "button", class: "chip" }, one.what);
        chip.addEventListener("click", () => pick(one));
        which.append(chip);
      });
    }
    byId("move-field").replaceChildren(
      field("Time on the run's clock", { id: "move-time", maxlength: "12", inputmode: "text" }, "")
    );
    dialog.showModal();
    pick(choices[0]);
    byId("move-time").focus();
    byId("move-time").select();
  }

  function pick(one) {
    moved = one;
    byId("move-dialog-title").textContent = "Move: " + one.what;
    byId("move-time").value = clock(one.t_s);
    says("It is at " + clock(one.t_s) + " now. The old time is kept beside the new one.");
    for (const chip of document.querySelectorAll("#move-which .chip")) {
      chip.setAttribute("aria-pressed", String(chip.textContent === one.what));
    }
  }

  function says(text) {
    byId("move-says").textContent = text;
  }

  /* Whole seconds that were not touched stay what they were, to the microsecond. */
  function wanted() {
    const typed = byId("move-time").value;
    return typed.trim() === clock(moved.t_s) ? moved.t_s : seconds(typed);
  }

  function step(by_s) {
    const t_s = wanted();
    if (t_s === null) return says("Write minutes and seconds, such as 12:04.");
    byId("move-time").value = clock(t_s + by_s);
    says("From " + clock(moved.t_s) + " to " + byId("move-time").value + ".");
  }

  function move() {
    const t_s = wanted();
    if (t_s === null) {
      says("Write minutes and seconds, such as 12:04.");
      byId("move-time").focus();
      return;
    }
    const about = { event: moved.event, to_s: t_s };
    if (moved.run) about.run = moved.run;
    const dialog = byId("move-dialog");
    if (t_s !== moved.t_s) window.bainlogBench.sendFrom(dialog, "move", about);
    else dialog.close();
  }

  /* ---- taps ---- */

  function tapped(event) {
    const on = event.target.closest("[data-moves],[data-step],#start-go,#end-go,#move-go");
    if (!on || on.disabled) return;
    if (on.dataset.moves) openMove(JSON.parse(on.dataset.moves));
    if (on.dataset.step) step(Number(on.dataset.step));
    if (on.id === "start-go") start();
    if (on.id === "end-go") end();
    if (on.id === "move-go") move();
  }

  document.addEventListener("click", tapped);
  document.addEventListener(
    "close",
    (event) => {
      // What was listed is old when the dialog opens again: nobody must tap it meanwhile.
      if (event.target.id === "undo-dialog") {
        window.dash_clientside.set_props("undo-list", { children: [] });
      }
    },
    true
  );
  document.addEventListener("change", (event) => {
    if (event.target.id === "sheet-choice") {
      window.dash_clientside.set_props("opened", {
        data: { name: "start-dialog", sheet: event.target.value, n: Date.now() },
      });
    }
  });
  document.addEventListener("keydown", (event) => {
    const at = event.target;
    if (event.key !== "Enter" || !at.matches || !at.matches("dialog input")) return;
    const go = at.closest("dialog").querySelector(".answers .key.go");
    if (go) {
      event.preventDefault();
      go.click();
    }
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    asking: {
      start: startForm,
      end: endForm,
      listed: () => {
        let frames = 60; // the list is drawn in one of the next
        const look = () => {
          if (!document.querySelector("#undo-dialog[open]")) return;
          const first = document.getElementById("undo-last");
          if (first) first.focus();
          else if (frames-- > 0) requestAnimationFrame(look);
        };
        setTimeout(look, 0);
        return none();
      },
    },
  });
})();
