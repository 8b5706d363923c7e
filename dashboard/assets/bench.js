/* The browser's part of the page at the bench: asks, counts ages, sends taps and keys, sounds.

   Data comes from the one route of dashboard/live/page.py; this file draws no numbers but the age of
   the last sample. Text from outside is put in as text, never as markup. */
(function () {
  "use strict";

  const DOUBLE_TAP_MS = 700; // a second tap within this time is the same wet finger
  const NEXT_AGAIN_MS = 2000; // no stage is over so soon: a slow second tap must not skip one
  const BEAT_MS = 150; // how often the page asks; the next question waits for the answer before
  const ANSWER_MS = 10000; // an answer that takes longer is given up
  const AGAIN_MS = 1000; // a question that failed is asked again after this
  const CUT_MS = 2500; // silence after which the page says that it is old
  const LOST_MS = 10000; // silence after which a connection that does not fail is lost, too
  const AGE_MS = 300; // how often ages are counted
  const OLD_S = 3; // age at which a sample is marked old, before the recorder says so
  const TITLES = { "5 min": "Last 5 minutes", "20 min": "Last 20 minutes", all: "The whole batch" };
  const none = () => window.dash_clientside.no_update;
  const set = (id, data) => window.dash_clientside.set_props(id, { data: data });

  const asked = { n: 0, at: 0, window: "20 min", scale: null, ui: 0, looking: false };
  const silent = { failed: false, ticked: 0, stalled: 0 };
  const heard = { at: 0, t_s: null, moved: 0, speed: 1, seen: {}, phase: null, gone: false };
  const last = { what: "", at: 0, n: 0 };
  let choices = {};
  let cut = false;

  const here = () => document.getElementById("bench-page") !== null;

  function question() {
    asked.n += 1;
    asked.at = performance.now();
    return {
      n: asked.n,
      window: asked.window,
      scale: asked.scale,
      ui: asked.ui,
      looking: asked.looking,
      table: document.querySelector("#table-fold[open]") !== null,
      sensors: document.querySelector("#sensors-fold[open]") !== null,
      compact: window.innerWidth < 700,
      height: (document.getElementById("strip") || {}).clientHeight || null,
      width: (document.getElementById("strip") || {}).clientWidth || null,
    };
  }

  function waiting() {
    const most = silent.failed ? AGAIN_MS : ANSWER_MS;
    return asked.at !== 0 && performance.now() - asked.at < most;
  }

  /* A question that cannot be sent is the sign of a lost connection; a late answer is not. */
  const has = { page: null, known: null };
  async function askNow() {
    if (!here() || document.hidden || waiting() || !choices.theme) return;
    const page = document.getElementById("bench-page");
    if (has.page !== page) Object.assign(has, { page: page, known: null });
    const ask = question();
    const isLast = () => ask.n === asked.n && page.isConnected;
    try {
      const heard = await window.fetch("/beat", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ ask: ask, known: has.known, choices: choices }),
      });
      if (!heard.ok) throw new Error(heard.statusText);
      const made = await heard.json();
      if (isLast()) take(made);
    } catch (cause) {
      if (isLast()) silent.failed = true;
    }
  }

  function take(made) {
    has.known = made.known;
    for (const [name, inside] of Object.entries(made.parts)) {
      window.bainlogParts.draw(document.getElementById(name), inside);
    }
    answered(made.told);
    if (made.figure) window.bainlogStrip.draw(made.figure);
    if (made.extend) window.bainlogStrip.extend(made.extend);
  }

  function beat() {
    if (!here() || document.hidden) return;
    if (document.querySelector(".strip:not([data-looking])")) dress();
    askNow();
  }

  function answered(told) {
    const now = performance.now();
    asked.at = 0;
    Object.assign(silent, { failed: false, stalled: 0 });
    heard.at = now;
    heard.gone = told.gone;
    heard.speed = told.speed || 1;
    heard.seen = told.seen || {};
    if (told.t_s !== heard.t_s) heard.moved = now;
    heard.t_s = told.t_s;
    if (heard.phase !== told.phase) {
      heard.phase = told.phase;
      keepAwake();
      for (const old of document.querySelectorAll("#undo-dialog[open],#move-dialog[open]")) old.close();
    }
    const page = document.getElementById("bench-page");
    if (page) {
      page.dataset.seq = told.n;
      page.dataset.state = told.phase;
    }
    unfold();
    fill();
    const words = document.getElementById("strip-trouble");
    if (words) words.textContent = told.trouble || "";
    const about = document.getElementById("head-run");
    if (about) about.textContent = told.about || "";
    age();
  }

  /* A dialog that was opened while nobody answered has no fields yet: ask for them again. */
  let filled = 0;
  function fill() {
    const empty = [["start", "#start-fields"], ["end", "#end-fields"]].find(
      ([name, fields]) => document.querySelector(`#${name}-dialog[open] ${fields}:empty`) !== null
    );
    if (!empty || performance.now() - filled < AGAIN_MS) return;
    filled = performance.now();
    set("opened", { name: empty[0] + "-dialog", n: Date.now() });
  }

  /* The table of sensors opens by itself when it has something to say, and closes after that. */
  let opened = false;
  function unfold() {
    const fold = document.getElementById("sensors-fold");
    if (!fold) return;
    const opens = fold.querySelector("[data-opens-fold]") !== null;
    if (opens !== opened) fold.open = opens;
    opened = opens;
  }

  /* ---- ages: what is old must look old, also when nobody answers ---- */

  function age() {
    if (!here()) return;
    const now = performance.now();
    // While this browser itself got no time, answers may have come that it has not seen yet.
    silent.stalled += silent.ticked ? Math.max(0, now - silent.ticked - 2 * AGE_MS) : 0;
    silent.ticked = now;
    const silence = heard.at === 0 || document.hidden ? 0 : now - heard.at - silent.stalled;
    cut = silence > CUT_MS && (silent.failed || silence > LOST_MS);
    const slow = silence > CUT_MS && !cut;
    document.documentElement.dataset.cut = cut ? "1" : "0";
    document.documentElement.dataset.gone = heard.gone ? "1" : "0";
    const line = document.getElementById("cut-line");
    const told = cut ? "1" : slow ? "slow" : "0";
    if (line && line.dataset.cut !== told) {
      line.dataset.cut = told;
      line.textContent = cut
        ? "No connection. These values are old; the screen reconnects by itself."
        : slow
          ? "The computer is busy: new values come late."
          : "";
    }
    const t_now = heard.t_s === null ? null : heard.t_s + ((now - heard.moved) / 1000) * heard.speed;
    for (const place of document.querySelectorAll("[data-age-of]")) {
      const seen = heard.seen[place.dataset.ageOf];
      let text = window.bainlogWords.ageText(null);
      let old = true;
      if (seen !== undefined && seen !== null && t_now !== null) {
        const age_s = Math.max(0, t_now - seen);
        old = age_s > OLD_S * Math.max(1, heard.speed);
        text = window.bainlogWords.ageText(age_s);
      }
      if (place.textContent !== text) place.textContent = text;
      const row = place.closest("tr");
      if (row) row.dataset.old = old ? "1" : "0";
    }
  }

  /* ---- taps and keys ---- */

  let noteAfter = ""; // what is different today is written down once the batch has begun
  function send(what, about, note) {
    const now = performance.now();
    const mark = what === "next" ? what : what + JSON.stringify(about);
    const again_ms = what === "next" ? NEXT_AGAIN_MS : DOUBLE_TAP_MS;
    if (mark === last.what && now - last.at < again_ms) return "";
    last.what = mark;
    last.at = now;
    last.n += 1;
    if (what === "start") noteAfter = note || "";
    const n = last.n + "-" + Date.now();
    set(here() ? "command" : "run-command", { do: what, about: about, n: n });
    return n;
  }

  /* A dialog stays as it was typed until what it asked for is done, and says why it is not. */
  const awaited = { n: "", dialog: null, giving_up: 0 };
  function sendFrom(dialog, what, about, note) {
    const n = send(what, about, note);
    if (!n) return;
    refuse(dialog, "");
    Object.assign(awaited, { n: n, dialog: dialog });
    hold(true);
    clearTimeout(awaited.giving_up);
    awaited.giving_up = setTimeout(() => heardOf(n, "No answer yet. Nothing you typed is lost; try again."), ANSWER_MS);
  }

  function hold(now) {
    for (const key of awaited.dialog.querySelectorAll(".answers .key.go")) key.disabled = now;
  }

  function heardOf(n, refusal) {
    if (n !== awaited.n || !awaited.dialog) return;
    const dialog = awaited.dialog;
    clearTimeout(awaited.giving_up);
    hold(false);
    Object.assign(awaited, { n: "", dialog: null });
    if (refusal && dialog.open) refuse(dialog, refusal);
    else dialog.close();
  }

  function refuse(dialog, text) {
    const place = dialog.querySelector(".refused");
    if (!place) return;
    place.textContent = text;
    if (text) place.scrollIntoView({ block: "nearest" });
  }

  /* The second tap of a wet finger falls on what lay below a dialog that the first one closed. */
  const NEAR_PX = 40;
  const before = { at: 0, x: 0, y: 0, dialog: null };
  function fell(event) {
    const now = performance.now();
    const near = Math.hypot(event.clientX - before.x, event.clientY - before.y) < NEAR_PX;
    const byFinger = event.detail > 0;
    if (byFinger && before.dialog && !before.dialog.open && near && now - before.at < DOUBLE_TAP_MS) {
      event.stopImmediatePropagation();
      event.preventDefault();
    }
    const dialog = event.target.closest("dialog[open]");
    Object.assign(before, { at: now, x: event.clientX, y: event.clientY, dialog: dialog });
  }

  function tapped(event) {
    const on = event.target.closest(
      "[data-do],[data-opens],[data-closes],[data-window],[data-scale],#back-to-live,#note-go"
    );
    if (!on || on.disabled) return;
    if (on.dataset.opens) open(on.dataset.opens);
    if (on.dataset.do) send(on.dataset.do, JSON.parse(on.dataset.about || "{}"));
    if (on.dataset.window) show(on.dataset.window);
    if (on.id === "back-to-live") show(asked.window);
    if (on.id === "note-go") note();
    if (on.dataset.closes) {
      const dialog = on.closest("dialog");
      if (dialog) dialog.close();
    }
  }

  /* Much is drawn anew each second: a tap that began on the drawing before has no click. */
  let down = null;
  function lowered(event) {
    down = event.target.closest("button");
  }

  function lifted(event) {
    const up = event.target.closest("button");
    if (down && up && !down.isConnected && sameActs(down, up)) up.click();
    down = null;
  }

  function sameActs(one, other) {
    const acts = JSON.stringify(Object.assign({}, one.dataset));
    return acts !== "{}" && acts === JSON.stringify(Object.assign({}, other.dataset));
  }

  function open(name) {
    const dialog = document.getElementById(name);
    if (!dialog || dialog.open) return;
    const fields = document.getElementById(name.replace("-dialog", "-fields"));
    if (fields) fields.replaceChildren(); // of the last time: what is typed there would be lost
    set("opened", { name: name, n: Date.now() });
    refuse(dialog, "");
    if (name === "note-dialog") document.getElementById("note-text").value = "";
    dialog.showModal();
    asks(true);
    const field = dialog.querySelector("textarea, select");
    if (field) field.focus();
  }

  /* While a dialog asks, nothing below it has the accent. */
  function asks(now) {
    document.documentElement.dataset.asked = now ? "1" : "0";
  }

  function note() {
    const field = document.getElementById("note-text");
    const dialog = field.closest("dialog");
    const text = field.value.trim();
    if (text) return sendFrom(dialog, "note", { text: text });
    refuse(dialog, "Write what happened first.");
    field.focus();
  }

  function pressed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (choices.keys === "off" || document.querySelector("dialog[open]")) return;
    const at = event.target;
    const field = at.closest && at.closest("input, textarea, select, [contenteditable=true]");
    // A dialog that has just closed keeps the focus in its field until the next picture is drawn.
    if (field && !field.closest("dialog:not([open])")) return;
    const key = event.key.toLowerCase();
    if (!/^[a-z0-9]$/.test(key)) return;
    const button = document.querySelector(
      /^[0-9]$/.test(key) ? `button[data-piece="${key}"]` : `button[data-key="${key}"]`
    );
    if (button && !button.disabled) {
      event.preventDefault();
      button.click();
    }
  }

  /* A menu closes when something in it was chosen that is done with that, and by a tap elsewhere. */
  function shut(at) {
    for (const menu of document.querySelectorAll("details.menu[open]")) {
      const inside = at !== null && menu.contains(at);
      if (inside && !at.closest("[data-do],[data-opens]")) continue;
      if (menu.contains(document.activeElement)) menu.querySelector("summary").focus();
      menu.open = false;
    }
  }

  /* ---- what came of a command ---- */

  let hiding = 0;
  function said(told) {
    const place = document.getElementById("toast");
    if (!told || !place) return;
    heardOf(told.n, told.do ? "" : told.text);
    if (told.do === "start" && noteAfter) {
      send("note", { text: noteAfter });
      noteAfter = "";
    }
    place.replaceChildren();
    place.dataset.tone = told.tone;
    const words = document.createElement("span");
    words.textContent = told.text;
    place.append(words);
    if (told.undo) {
      const undo = document.createElement("button");
      undo.type = "button";
      undo.className = "key small";
      undo.textContent = "Undo";
      undo.dataset.do = "undo";
      undo.dataset.about = JSON.stringify({ event: told.undo });
      place.append(undo);
    }
    if (told.run) {
      const link = document.createElement("a");
      link.className = "key small";
      link.textContent = "Open the run";
      link.href = "/runs/" + encodeURIComponent(told.run);
      place.append(link);
    }
    place.dataset.shown = "1";
    clearTimeout(hiding);
    hiding = setTimeout(
      () => {
        place.dataset.shown = "0";
        place.replaceChildren();
      },
      told.tone === "stop" || told.run ? 20000 : 9000
    );
    askNow();
  }

  /* ---- looking back ---- */

  function show(name) {
    asked.window = name;
    asked.looking = false;
    asked.ui += 1;
    dress();
    askNow();
  }

  function looked() {
    asked.looking = true;
    dress();
  }

  function dress() {
    const back = document.getElementById("back-to-live");
    if (back) back.hidden = !asked.looking;
    const words = document.getElementById("strip-back");
    if (words) words.hidden = !asked.looking;
    const strip = document.querySelector(".strip");
    if (strip) strip.dataset.looking = asked.looking ? "1" : "0";
    const title = document.getElementById("strip-title");
    const said = TITLES[asked.window];
    if (title && title.textContent !== said) title.textContent = said;
    for (const chip of document.querySelectorAll("[data-window]")) {
      chip.setAttribute("aria-pressed", String(chip.dataset.window === asked.window));
    }
  }

  /* ---- sound: an oscillator, unlocked by a tap, never the only sign ---- */

  let audio = null;
  function beep(high, long) {
    if (!audio || audio.state !== "running") return;
    const tone = audio.createOscillator();
    const level = audio.createGain();
    const now = audio.currentTime;
    tone.type = "triangle";
    tone.frequency.value = high;
    level.gain.setValueAtTime(0, now);
    level.gain.linearRampToValueAtTime(0.4, now + 0.02);
    level.gain.linearRampToValueAtTime(0, now + long);
    tone.connect(level).connect(audio.destination);
    tone.start(now);
    tone.stop(now + long);
  }

  function sounding() {
    return audio !== null && audio.state === "running";
  }

  function toggleSound() {
    const Context = window.AudioContext || window.webkitAudioContext;
    if (!Context) return;
    if (sounding()) {
      audio.suspend().then(dressChoices);
      return;
    }
    audio = audio || new Context();
    audio.resume().then(() => {
      beep(660, 0.25);
      dressChoices();
    });
  }

  function alarmSound() {
    if (!here() || !(cut || heard.gone || document.querySelector('[data-sounds="1"]'))) return;
    beep(880, 0.18);
    setTimeout(() => beep(620, 0.28), 220);
  }

  /* ---- screen ---- */

  let awake = null;
  function keepAwake() {
    if (!navigator.wakeLock || document.hidden || heard.phase !== "recording") return;
    navigator.wakeLock.request("screen").then(
      (lock) => (awake = lock),
      () => (awake = null)
    );
  }

  function choose(name) {
    const next = Object.assign({}, choices);
    if (name === "sound") return toggleSound();
    if (name === "full") {
      if (document.fullscreenElement) document.exitFullscreen();
      else document.documentElement.requestFullscreen().catch(() => {});
      return;
    }
    if (name === "keys") next.keys = choices.keys === "off" ? "on" : "off";
    if (name === "temp") next.temp = choices.temp === "F" ? "C" : "F";
    if (name === "mass") next.mass = choices.mass === "oz" ? "g" : "oz";
    if (name === "theme") next.theme = choices.theme === "light" ? "dark" : "light";
    if (name === "size") next.size = choices.size === "large" ? "normal" : "large";
    set("choices", next);
  }

  function dressChoices() {
    const texts = {
      size: [choices.size === "large" ? "Large" : "Normal", null],
      sound: [sounding() ? "On" : "Off", sounding()],
      keys: [choices.keys === "off" ? "Off" : "On", choices.keys !== "off"],
      full: [document.fullscreenElement ? "On" : "Off", document.fullscreenElement !== null],
      temp: [choices.temp === "F" ? "°F" : "°C", null],
      mass: [choices.mass === "oz" ? "oz" : "g", null],
      theme: [choices.theme === "light" ? "Light" : "Dark", null],
    };
    for (const button of document.querySelectorAll("[data-choice]")) {
      const found = texts[button.dataset.choice];
      if (!found) continue;
      button.querySelector(".choice-label").textContent = found[0];
      if (found[1] !== null) button.setAttribute("aria-pressed", String(found[1]));
    }
  }

  function dressFrame(chosen) {
    choices = chosen || {};
    if (choices.theme !== "light" && choices.theme !== "dark") {
      const light = window.matchMedia("(prefers-color-scheme: light)").matches;
      choices = Object.assign({}, choices, { theme: light ? "light" : "dark" });
      setTimeout(() => set("choices", choices), 0);
    }
    document.documentElement.dataset.theme = choices.theme;
    document.documentElement.dataset.size = choices.size === "large" ? "large" : "normal";
    document.documentElement.dataset.keys = choices.keys === "off" ? "off" : "on";
    setTimeout(dressChoices, 0);
    return choices.theme;
  }

  function dressMenu(path) {
    const about = document.getElementById("head-run");
    if (about && path !== "/") about.textContent = "";
    setTimeout(() => {
      for (const link of document.querySelectorAll("a.place")) {
        const to = link.getAttribute("href");
        const on = to === "/" ? path === "/" : (path || "").startsWith(to);
        if (on) link.setAttribute("aria-current", "page");
        else link.removeAttribute("aria-current");
      }
    }, 0);
    return none();
  }

  document.documentElement.lang = "en";
  document.addEventListener("click", fell, true);
  document.addEventListener("click", tapped);
  document.addEventListener("pointerdown", lowered);
  document.addEventListener("pointerup", lifted);
  document.addEventListener("click", (event) => {
    const on = event.target.closest("[data-choice]");
    if (on) choose(on.dataset.choice);
  });
  document.addEventListener("keydown", pressed);
  document.addEventListener("fullscreenchange", dressChoices);
  document.addEventListener("close", () => asks(false), true);
  document.addEventListener("click", (event) => shut(event.target));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") shut(null);
  });
  document.addEventListener("strip-looked", looked);
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) return;
    asked.at = 0;
    silent.stalled = performance.now() - heard.at; // nothing was asked meanwhile
    askNow();
    keepAwake();
    age();
  });
  setInterval(beat, BEAT_MS);
  setInterval(age, AGE_MS);
  setInterval(alarmSound, 3000);

  window.bainlogBench = { send: send, sendFrom: sendFrom };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    bench: { said: said },
    frame: { dress: dressFrame, here: dressMenu },
  });
})();
