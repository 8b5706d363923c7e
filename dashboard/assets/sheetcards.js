/* Cards of the form of a sheet, drawn from what the program sends: stages, the head, what else is said
   of an ingredient, sub-recipes, vessels, results. sheetform.js says which, and hands on what is typed. */
(function () {
  "use strict";

  const node = (tag, look, text) => {
    const made = document.createElement(tag);
    if (look) made.className = look;
    if (text !== undefined) made.textContent = text;
    return made;
  };
  const name = (card) => card.table + ":" + card.place;
  const fieldName = (card, cell) => name(card) + ":" + cell.path.join(".");

  const CHOICES = {
    receiving: "receiving vessel", giving: "pouring vessel",
    simple: "simple: by the value alone", guarded: "guarded: met only with all of its uncertainty",
    "guarded 5 %": "guarded 5 %: met if wrong in 5 % at most",
  };
  function choiceText(cell, one) {
    if (!one) return cell.path.join() === "subrecipe" ? "none" : "as usual";
    return CHOICES[one] || one.replace(/^(calcium)_([a-z]+)_([a-z]+)$/, "$1 $2, $3");
  }

  function input(card, cell) {
    let made;
    if (cell.shape === "choice") {
      made = node("select");
      for (const one of ["", ...cell.choices]) made.append(new Option(choiceText(cell, one), one));
    } else {
      made = node("input");
      made.type = cell.shape === "switch" ? "checkbox" : "text";
      made.autocomplete = "off";
    }
    made.dataset.field = fieldName(card, cell);
    made.setAttribute("aria-label", cell.label + (card.id ? ", " + (card.named || card.title) : ""));
    show(made, cell.value);
    return made;
  }
  function show(field, value) {
    if (field === document.activeElement && field.type === "text" && field.dataset.dirty) return;
    if (field.type === "checkbox") field.checked = value === "true";
    else if (field.value !== value) field.value = value;
    delete field.dataset.dirty;
  }

  function line(card, about) {
    const row = node("div", "field-line");
    row.append(node("span", "field-name", about.label));
    const inputs = node("span", about.cells.length > 1 ? "field-ends" : "field-one");
    about.cells.forEach((cell, n) => {
      if (n) inputs.append(node("span", "soft", "to"));
      inputs.append(input(card, cell));
    });
    row.append(inputs, node("span", "soft field-unit", about.unit), node("small", "field-says look-stop"));
    return row;
  }

  const MOVES = { up: "Move up", down: "Move down" };
  const INSIDE = { ingredient: ["ingredient.alternative", "Add an alternative"], subrecipe: ["subrecipe.ingredient", "Add an ingredient to it"] };
  function actsOf(card) {
    const acts = node("div", "answers wrap"), inside = INSIDE[card.table];
    const known = card.table === "ingredient" ? {} : card.table === "stage" ? { ...MOVES, remove: "Remove" } : { remove: "Remove" };
    if (inside) acts.append(adds(...inside));
    for (const [act, title] of Object.entries(known)) {
      const button = node("button", "key small", title);
      button.type = "button"; button.dataset.cardAct = act;
      acts.append(button);
    }
    return acts;
  }
  function adds(table, title) {
    const button = node("button", "key small", title);
    button.type = "button"; button.dataset.cardAdd = table;
    return button;
  }
  function cardNode(card, open) {
    const item = node("li", card.outer < 0 ? "stage-card" : "stage-card is-inner");
    item.dataset.card = name(card);
    const fold = node("details");
    fold.open = open;
    const head = node("summary");
    if (card.table === "stage") head.append(node("span", "card-number", card.place + 1));
    head.append(node("b", "card-title"), node("span", "soft card-kind"), node("span", "soft card-aside"), node("span", "card-planned"));
    fold.append(head, ...card.lines.map((about) => line(card, about)), node("p", "hint card-more"));
    if (card.table !== "sheet") fold.append(actsOf(card));
    item.append(fold, node("ul", "card-says"));
    return item;
  }
  function fillCard(item, card) {
    const write = (look, text) => {
      const part = item.querySelector(look);
      if (part && part.textContent !== text) part.textContent = text;
    };
    write(".card-title", card.title); write(".card-kind", card.kind); write(".card-aside", card.aside);
    write(".card-planned", card.planned); write(".card-more", card.more);
    for (const about of card.lines) for (const cell of about.cells) {
      const field = item.querySelector(`[data-field="${CSS.escape(fieldName(card, cell))}"]`);
      if (field) show(field, cell.value);
    }
  }

  function addStage(kinds) {
    const row = node("div", "add-stage"), choice = node("select"), button = adds("stage", "Add a stage");
    choice.setAttribute("aria-label", "Kind of the new stage"); choice.id = "sheet-kind";
    for (const kind of kinds) choice.append(new Option(kind.title, kind.name));
    button.id = "sheet-stage-add";
    row.append(choice, button);
    return row;
  }
  function addOther() {
    const row = node("div", "add-stage");
    row.append(adds("subrecipe", "Add a sub-recipe"), adds("vessel", "Add a vessel"), adds("result", "Add a result"));
    return row;
  }
  function inOrder(cards) { // what is inside another stands below it
    const inner = cards.filter((one) => one.table === "subrecipe.ingredient");
    return cards.flatMap((one) => one.table === "subrecipe" ? [one, ...inner.filter((part) => part.outer === one.place)] : inner.includes(one) ? [] : [one]);
  }

  const shapes = {};
  let opened = null;
  function drawCards(place, given, kinds) {
    if (!place) return;
    const cards = inOrder(given);
    const now = JSON.stringify(cards.map((c) => [c.table, c.place, c.kind, c.id, c.outer, c.lines.map((l) => l.cells.map((x) => [x.path, x.choices]))]));
    if (now !== shapes[place.id] || !place.firstChild) {
      shapes[place.id] = now;
      const open = new Set([...place.querySelectorAll("details[open]")].map((d) => d.dataset.id));
      const had = document.activeElement && document.activeElement.dataset.field;
      const list = node("ol", "stage-cards");
      for (const card of cards) {
        const item = cardNode(card, open.has(card.table + card.id));
        item.querySelector("details").dataset.id = card.table + card.id;
        list.append(item);
      }
      place.replaceChildren(list);
      if (kinds) place.append(addStage(kinds));
      else if (place.id === "sheet-others") place.append(addOther());
      if (had) place.querySelector(`[data-field="${CSS.escape(had)}"]`)?.focus();
    }
    for (const card of cards) fillCard(place.querySelector(`[data-card="${name(card)}"]`), card);
    const item = opened && place.querySelector(`[data-card="${opened}"] details`);
    if (item) { item.open = true; item.querySelector("input, select").focus(); opened = null; }
  }

  function drawSays(place, says) {
    const starts = (whole, part) => part.every((step, n) => whole[n] === step);
    for (const item of place.querySelectorAll(".stage-card")) {
      const own = says.filter((one) => one.table + ":" + one.place === item.dataset.card);
      const left = new Set(own);
      for (const row of item.querySelectorAll(".field-line")) {
        const told = [];
        for (const field of row.querySelectorAll("[data-field]")) {
          const path = field.dataset.field.split(":")[2].split(".");
          const about = own.filter((one) => one.path.length && (starts(path, one.path) || starts(one.path, path)));
          about.forEach((one) => { left.delete(one); if (!told.includes(one.text)) told.push(one.text); });
          if (about.length) field.setAttribute("aria-invalid", "true");
          else field.removeAttribute("aria-invalid");
        }
        const says = row.querySelector(".field-says"), text = told.join(" ");
        if (says.textContent !== text) says.textContent = text;
      }
      const wrongs = own.some((one) => one.path.length && !left.has(one));
      item.classList.toggle("is-wrong", wrongs || [...left].some((one) => one.tone === "stop"));
      const list = item.querySelector(".card-says");
      const drawn = [...left].map((one) => one.tone + one.text).join("\n") + wrongs;
      if (list.dataset.drawn === drawn) continue;
      list.dataset.drawn = drawn;
      list.replaceChildren(...[...left].map((one) => {
        const row = node("li", "look-" + one.tone), mark = node("span", "sym sym-" + one.tone);
        mark.setAttribute("aria-hidden", "true");
        row.append(mark, node("span", "", one.text));
        return row;
      }));
    }
  }

  window.bainlogSheetCards = { draw: drawCards, says: drawSays, open: (card) => { opened = card; } };
})();
