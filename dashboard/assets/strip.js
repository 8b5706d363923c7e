/* Draws the strip of traces of the page at the bench on a canvas.

   Takes figures and points of dashboard/live/drawing in the form that plotly reads, as far as those
   use it: lines, areas, marks and names on one time axis and one or two lanes. A whole graph library
   took most of a small machine's core to draw them five times a second. Draws only, asks nothing;
   text from outside is drawn as text. Tells the page by events: ``strip-looked`` when a person moved
   the time shown, ``strip-painted`` after each picture. */
(function () {
  "use strict";

  const START_MS = 864_000_000; // where run time 0 stands, as in dashboard/live/drawing/canvas.py
  const TIME_STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200];
  const DRAG_PX = 3; // a finger that trembles does not look back
  const NEAR_PX = 24; // how near a point must be to be told
  const NAME_PX = 16; // names at the ends of lines are at least so far apart
  const DASHES = { dash: "9px,9px", dot: "3px,3px", dashdot: "9px,3px,3px,3px" };

  const strip = { traces: [], layout: null, range: null, told: "" };
  let ui = null;
  let moved = false;
  let drag = null;
  let pointed = null;
  let due = 0;
  let watched = null;

  const canvas = () => document.getElementById("strip-canvas");
  const clock = (x) => window.bainlogWords.clockText((x - START_MS) / 1000);

  /* ---- what is drawn ---- */

  function draw(figure) {
    strip.layout = figure.layout;
    strip.traces = (figure.data || []).map((trace) =>
      Object.assign({}, trace, { x: [...(trace.x || [])], y: [...(trace.y || [])] })
    );
    if (figure.layout.uirevision !== ui || !moved) {
      ui = figure.layout.uirevision;
      moved = false;
      strip.range = figure.layout.xaxis.range ? figure.layout.xaxis.range.map(Number) : null;
    }
    soon();
  }

  function extend(told) {
    const [update, numbers, limit] = told;
    numbers.forEach((number, place) => {
      const trace = strip.traces[number];
      if (!trace) return;
      for (const name of ["x", "y"]) {
        trace[name].push(...update[name][place]);
        const over = trace[name].length - limit[name][place];
        if (over > 0) trace[name].splice(0, over);
      }
    });
    soon();
  }

  function soon() {
    if (due) return;
    due = requestAnimationFrame(() => {
      due = 0;
      paint();
    });
  }

  /* ---- where it is drawn ---- */

  function frame(width, height) {
    const { layout, range } = strip;
    const m = layout.margin;
    const box = { left: m.l, right: width - m.r, top: m.t, bottom: height - m.b };
    const tall = box.bottom - box.top;
    const lanes = {};
    for (const [name, key] of [["y", "yaxis"], ["y2", "yaxis2"]]) {
      const axis = layout[key];
      if (!axis || axis.visible === false) continue;
      const [low, high] = axis.domain || [0, 1];
      const [from, to] = axis.range || [0, 1];
      const lane = { axis, from, to, bottom: box.bottom - low * tall, top: box.bottom - high * tall };
      lane.at = (y) => lane.bottom - ((y - from) / (to - from)) * (lane.bottom - lane.top);
      lanes[name] = lane;
    }
    const [first, last] = range || [0, 1];
    const at = (x) => box.left + ((x - first) / (last - first)) * (box.right - box.left);
    return { box, lanes, at, width, height, first, last };
  }

  function place(on, ref, value, across) {
    if (ref === "paper") {
      const { left, right, top, bottom } = on.box;
      return across ? left + value * (right - left) : bottom - value * (bottom - top);
    }
    return across ? on.at(value) : on.lanes[ref] ? on.lanes[ref].at(value) : NaN;
  }

  /* ---- painting ---- */

  function paint() {
    const place = canvas();
    if (!place || !strip.layout) return;
    watch(place);
    const width = place.clientWidth;
    const height = place.clientHeight;
    const fine = window.devicePixelRatio || 1;
    if (place.width !== Math.round(width * fine) || place.height !== Math.round(height * fine)) {
      place.width = Math.round(width * fine);
      place.height = Math.round(height * fine);
    }
    const pen = place.getContext("2d");
    pen.setTransform(fine, 0, 0, fine, 0, 0);
    pen.clearRect(0, 0, width, height);
    const on = frame(width, height);
    const { layout } = strip;
    if (layout.xaxis.visible !== false) timeAxis(pen, on);
    for (const lane of Object.values(on.lanes)) valueAxis(pen, on, lane);
    for (const shape of layout.shapes || []) within(pen, on, shape.yref, () => shapeOf(pen, on, shape));
    for (const trace of strip.traces) {
      const lane = on.lanes[trace.yaxis || "y"];
      if (!lane) continue;
      if (trace.mode !== "text") within(pen, on, trace.yaxis || "y", () => lineOrMarks(pen, on, lane, trace));
    }
    for (const [name, lane] of Object.entries(on.lanes)) {
      const ends = strip.traces.filter((trace) => trace.mode === "text" && (trace.yaxis || "y") === name);
      for (const [trace, y] of apart(ends, lane)) nameAtEnd(pen, on, y, trace);
    }
    on.named = [];
    for (const note of layout.annotations || []) words(pen, on, note);
    tell(pen, on);
    document.dispatchEvent(new Event("strip-painted"));
  }

  function within(pen, on, ref, doing) {
    const lane = on.lanes[ref] || on.box;
    pen.save();
    pen.beginPath();
    pen.rect(on.box.left, lane.top - 1, on.box.right - on.box.left, lane.bottom - lane.top + 2);
    pen.clip();
    doing();
    pen.restore();
  }

  function stroke(pen, line, colour) {
    pen.strokeStyle = (line && line.color) || colour;
    pen.lineWidth = (line && line.width) || 1;
    const dash = (line && line.dash) || "solid";
    pen.setLineDash(dash === "solid" ? [] : (DASHES[dash] || dash).split(",").map(parseFloat));
    pen.lineJoin = "round";
  }

  function font(pen, style, colour) {
    const family = strip.layout.font.family;
    pen.font = `${(style && style.size) || strip.layout.font.size}px ${family}`;
    pen.fillStyle = (style && style.color) || colour || strip.layout.font.color;
  }

  function timeAxis(pen, on) {
    const axis = strip.layout.xaxis;
    const most = axis.nticks || 9;
    const span_s = (on.last - on.first) / 1000;
    const step =
      1000 * (TIME_STEPS_S.find((s) => span_s / s <= most) || 86_400 * Math.ceil(span_s / 86_400 / most));
    font(pen, axis.tickfont);
    pen.textAlign = "center";
    pen.textBaseline = "top";
    const begin = Math.ceil(Math.max(0, on.first - START_MS) / step) * step;
    for (let x = START_MS + begin; x <= on.last; x += step) {
      rule(pen, axis.gridcolor, on.at(x), on.box.top, on.at(x), on.box.bottom);
      const said = clock(x);
      const edge = on.width - 1 - pen.measureText(said).width / 2;
      pen.fillText(said, Math.min(on.at(x), edge), on.box.bottom + 7);
    }
  }

  function valueAxis(pen, on, lane) {
    const rough = Math.abs(lane.to - lane.from) / (lane.axis.nticks || 6);
    const ten = 10 ** Math.floor(Math.log10(rough));
    const step = ten * [1, 2, 5, 10].find((s) => s * ten >= rough * 0.999);
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    font(pen, lane.axis.tickfont);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (let k = Math.ceil(lane.from / step - 1e-9); k * step <= lane.to + 1e-9 * step; k += 1) {
      const y = lane.at(k * step);
      rule(pen, lane.axis.gridcolor, on.box.left, y, on.box.right, y);
      pen.fillText(window.bainlogWords.fixedText(k * step, digits), on.box.left - 6, y);
    }
  }

  function rule(pen, colour, x0, y0, x1, y1) {
    stroke(pen, { color: colour, width: 1 });
    pen.beginPath();
    pen.moveTo(x0, y0);
    pen.lineTo(x1, y1);
    pen.stroke();
  }

  function shapeOf(pen, on, shape) {
    const [x0, x1] = [shape.x0, shape.x1].map((x) => place(on, shape.xref, x, true));
    const [y0, y1] = [shape.y0, shape.y1].map((y) => place(on, shape.yref, y, false));
    if (shape.type === "rect") {
      pen.fillStyle = shape.fillcolor;
      pen.fillRect(x0, y0, x1 - x0, y1 - y0);
      return;
    }
    stroke(pen, shape.line);
    pen.beginPath();
    pen.moveTo(x0, y0);
    pen.lineTo(x1, y1);
    pen.stroke();
  }

  function lineOrMarks(pen, on, lane, trace) {
    if (trace.mode === "markers") {
      trace.x.forEach((x, k) => mark(pen, trace.marker, k, on.at(x), lane.at(trace.y[k])));
      return;
    }
    pen.beginPath();
    let down = false;
    for (let k = 0; k < trace.x.length; k += 1) {
      const y = trace.y[k];
      if (y === null || y === undefined) down = false;
      else if (down) pen.lineTo(on.at(trace.x[k]), lane.at(y));
      else {
        pen.moveTo(on.at(trace.x[k]), lane.at(y));
        down = true;
      }
    }
    if (trace.fill) {
      pen.fillStyle = trace.fillcolor;
      pen.fill();
    }
    stroke(pen, trace.line);
    pen.stroke();
  }

  const SIDES = { "triangle-up": [3, 0], "triangle-right": [3, 90], "triangle-down": [3, 180],
    "triangle-left": [3, 270], diamond: [4, 0], square: [4, 45], octagon: [8, 22.5],
    "octagon-open": [8, 22.5], star: [10, 0] };

  function mark(pen, style, k, x, y) {
    const name = style.symbol[k];
    const [sides, turn] = SIDES[name] || SIDES.square;
    const wide = (style.size / 2) * (sides === 3 ? 1.2 : sides === 4 ? 1.25 : 1.05);
    pen.beginPath();
    for (let side = 0; side < sides; side += 1) {
      const angle = ((turn + (360 * side) / sides - 90) * Math.PI) / 180;
      const far = name === "star" && side % 2 ? 0.45 * wide : wide;
      pen[side ? "lineTo" : "moveTo"](x + far * Math.cos(angle), y + far * Math.sin(angle));
    }
    pen.closePath();
    const colour = Array.isArray(style.color) ? style.color[k] : style.color;
    if (name.endsWith("-open")) stroke(pen, { color: colour, width: 2.5 });
    else {
      pen.fillStyle = colour;
      pen.fill();
      stroke(pen, style.line);
    }
    pen.stroke();
  }

  /* ---- words ---- */

  const read = new Map();
  function plain(text) {
    // What comes is escaped for plotly; it is read into a document of its own and drawn as text.
    if (!read.has(text)) {
      if (read.size > 2000) read.clear();
      const body = new DOMParser().parseFromString(text, "text/html").body;
      read.set(text, body.textContent);
    }
    return read.get(text);
  }

  function words(pen, on, note) {
    font(pen, note.font);
    const lines = note.text.split("<br>").map(plain);
    const x = place(on, note.xref, note.x, true);
    const high = 1.3 * ((note.font && note.font.size) || 14);
    const anchor = note.yanchor || "middle";
    const y = place(on, note.yref, note.y, false);
    const tall = high * lines.length;
    const wish = anchor === "top" ? y + 2 : anchor === "bottom" ? y - tall + 1 : y - tall / 2;
    const lane = on.lanes[note.yref] || { top: 0, bottom: on.height };
    let first = Math.max(Math.min(wish, lane.bottom - tall), lane.top); // whole, at the edge, too
    for (const other of on.named.filter((one) => one.x === x && note.yref in on.lanes)) {
      if (first < other.end && other.first < first + tall) first = other.end; // below, never upon it
    }
    on.named.push({ x, first, end: first + tall });
    on.named.sort((one, other) => one.first - other.first);
    pen.textAlign = note.xanchor || "center";
    pen.textBaseline = "top";
    lines.forEach((line, k) => pen.fillText(line, x, first + k * high));
  }

  // Names at the ends of lines, each with its height: so far apart that each can be read.
  function apart(ends, lane) {
    const last = (trace) => trace.y[trace.y.length - 1];
    const there = ends.filter((trace) => last(trace) !== null && last(trace) !== undefined);
    const placed = there.map((trace) => [trace, lane.at(last(trace))]).sort((one, other) => one[1] - other[1]);
    placed.forEach((one, k) => { if (k) one[1] = Math.max(one[1], placed[k - 1][1] + NAME_PX); });
    let foot = lane.bottom;
    for (const one of [...placed].reverse()) {
      one[1] = Math.min(one[1], foot);
      foot = one[1] - NAME_PX;
    }
    return placed;
  }

  function nameAtEnd(pen, on, y, trace) {
    const dressed = /^<span style="color:([^"]*)">(.)<\/span>(.*)$/.exec(trace.text);
    const [colour, dash, rest] = dressed ? dressed.slice(1) : [null, "", trace.text];
    font(pen, trace.textfont);
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    const name = plain(rest.trim());
    const wide = pen.measureText(dash).width + 4;
    const whole = wide + pen.measureText(name).width;
    const x = Math.min(on.at(trace.x[trace.x.length - 1]) + 4, on.width - whole - 2);
    pen.fillText(name, x + wide, y);
    if (colour) pen.fillStyle = colour;
    pen.fillText(dash, x, y);
  }

  /* ---- the point under a finger ---- */

  function nearest(on) {
    let best = null;
    for (const trace of strip.traces) {
      const lane = on.lanes[trace.yaxis || "y"];
      if (!lane || !trace.hovertemplate) continue;
      trace.x.forEach((x, k) => {
        if (trace.y[k] === null || x < on.first || x > on.last) return;
        const far = Math.hypot(on.at(x) - pointed.x, lane.at(trace.y[k]) - pointed.y);
        const better = best === null || far < best.far || (far === best.far && trace.mode === "markers");
        if (far <= NEAR_PX && better) best = { far, trace, k, x: on.at(x), y: lane.at(trace.y[k]) };
      });
    }
    return best;
  }

  function tell(pen, on) {
    const found = pointed && !drag ? nearest(on) : null;
    strip.told = "";
    if (!found) return;
    const { trace, k } = found;
    const said = trace.hovertemplate
      .replace("<extra></extra>", "")
      .replace("%{x|%-H:%M:%S}", clock(trace.x[k]))
      .replace("%{y}", String(trace.y[k]).replace("-", "−"))
      .replace("%{fullData.name}", () => plain(trace.name || ""))
      .replace("%{text}", () => plain((trace.text && trace.text[k]) || ""));
    strip.told = said;
    const look = strip.layout.hoverlabel;
    font(pen, look.font);
    const wide = pen.measureText(said).width + 16;
    const x = Math.max(2, Math.min(found.x + 12, on.width - wide - 2));
    const y = Math.max(2, Math.min(found.y - 36, on.height - 30));
    pen.fillStyle = look.bgcolor;
    pen.fillRect(x, y, wide, 28);
    const colour = trace.marker ? trace.marker.color[k] : trace.line.color;
    stroke(pen, { color: colour, width: 2 });
    pen.strokeRect(x, y, wide, 28);
    font(pen, look.font);
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    pen.fillText(said, x + 8, y + 14);
  }

  /* ---- looking back: a drag moves the time shown ---- */

  function watch(place) {
    if (watched === place) return;
    watched = place;
    new ResizeObserver(soon).observe(place);
    const at = (event) => ({ x: event.offsetX, y: event.offsetY });
    place.addEventListener("pointerdown", (event) => {
      if (!strip.range || strip.layout.xaxis.fixedrange) return;
      drag = { x: event.offsetX, range: strip.range, id: event.pointerId };
      pointed = at(event);
      place.setPointerCapture(event.pointerId);
    });
    place.addEventListener("pointermove", (event) => {
      pointed = at(event);
      if (drag && drag.id === event.pointerId) slide(place, event.offsetX - drag.x);
      soon();
    });
    for (const end of ["pointerup", "pointercancel"]) {
      place.addEventListener(end, () => {
        drag = null;
        soon();
      });
    }
    place.addEventListener("pointerleave", () => {
      pointed = null;
      soon();
    });
  }

  function slide(place, px) {
    if (!moved && Math.abs(px) < DRAG_PX) return;
    const { l, r } = strip.layout.margin;
    const shift = (px / (place.clientWidth - l - r)) * (drag.range[1] - drag.range[0]);
    strip.range = drag.range.map((x) => x - shift);
    moved = true;
    document.dispatchEvent(new Event("strip-looked"));
  }

  window.bainlogStrip = Object.assign(strip, { draw: draw, extend: extend });
})();
