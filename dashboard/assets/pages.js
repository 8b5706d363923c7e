/* The browser's part of the pages to read: how wide the screen is, which lines of a graph are drawn,
   and what a run's graph shows where it was zoomed along time. */
(function () {
  "use strict";

  const none = () => window.dash_clientside.no_update;
  const graph = (id) => document.querySelector("#" + id + " .js-plotly-plot");

  // The text is checked when the typing pauses; the text itself is never late.
  let pause = null;
  const paused = (text) => {
    if (document.activeElement?.id !== "sheet-text") {
      window.clearTimeout(pause);
      pause = 0;
      return text; // of the form, or opened: nobody is typing
    }
    const first = pause === null;
    window.clearTimeout(pause);
    pause = window.setTimeout(() => {
      if (document.getElementById("sheet-text")) {
        window.dash_clientside.set_props("sheet-typed", { data: text });
      }
    }, 400);
    return first ? text : none();
  };

  // A page whose drawing depends on the width is drawn anew when the screen is turned.
  const small = window.matchMedia("(max-width: 699px)");
  small.addEventListener("change", () => {
    window.dash_clientside.set_props("narrow", { data: small.matches });
  });

  function ticked(places, id) {
    const plot = graph(id);
    if (!plot || !plot.data) return;
    const visible = plot.data.map((_, place) => places.includes(String(place)));
    if (plot.data.some((line, place) => (line.visible !== false) !== visible[place])) {
      window.Plotly.restyle(plot, { visible: visible });
    }
  }

  /* The graph of a run tells its moves to this file alone. Told to Dash, each would draw the lines
     of before once more, and go through every part of the page. */
  let look = {};
  const asked = { lines: null, range: null, waits: 0, under_way: null };
  function attend(figure, run, choices, narrow, shown) {
    const { theme, temp, mass } = choices || {};
    look = { run, theme, temp, mass, narrow, show: shown };
    document.getElementById("run-graph")?.setAttribute("data-show", shown);
    if (asked.lines !== figure.data) {
      asked.lines = figure.data;
      asked.range = figure.data.length ? figure.layout.xaxis.range : null;
      if (asked.under_way) asked.under_way.abort();
    }
    cancelAnimationFrame(asked.waits);
    takeOver();
  }

  function takeOver() {
    const plot = graph("run-graph");
    if (!plot || !plot.data || plot.classList.contains("dash-graph--pending")) {
      if (document.getElementById("run-graph")) asked.waits = requestAnimationFrame(takeOver);
      return;
    }
    plot.removeAllListeners("plotly_relayout");
    plot.on("plotly_relayout", zoomed);
    if (!asked.range || !plot.layout.xaxis) return;
    const [low, high] = plot.layout.xaxis.range;
    if (low !== asked.range[0] || high !== asked.range[1]) {
      zoomed({ "xaxis.range[0]": low, "xaxis.range[1]": high }); // moved before this file listened
    }
  }

  /* A graph writes all times of an axis alike: 0:10:00 beside 1:00:00. Here it is 10:00, as
     everywhere else. */
  function writeTimes(plot) {
    for (const part of plot.querySelectorAll(".xaxislayer-above, .hoverlayer")) {
      const texts = document.createTreeWalker(part, NodeFilter.SHOW_TEXT);
      while (texts.nextNode()) {
        const found = texts.currentNode;
        const text = found.data.replace(/\b0:0?(\d?\d:\d\d)\b/, "$1");
        if (text !== found.data) found.data = text;
      }
    }
  }

  function times(figure, id) {
    const plot = graph(id);
    if (!plot) {
      if (document.getElementById(id)) requestAnimationFrame(() => times(figure, id));
      return;
    }
    if (!plot.bainlogTimes) {
      plot.bainlogTimes = new MutationObserver(() => writeTimes(plot));
      plot.bainlogTimes.observe(plot, { childList: true, subtree: true });
    }
    writeTimes(plot);
  }

  // Of two zooms the later one counts.
  function zoomed(moved) {
    const [low, high] = [moved["xaxis.range[0]"], moved["xaxis.range[1]"]];
    if (low === undefined && !moved["xaxis.autorange"]) return;
    if (asked.under_way) asked.under_way.abort();
    asked.under_way = new AbortController();
    asked.range = low === undefined ? null : [low, high];
    const { run, ...chosen } = look;
    const ends = low === undefined ? {} : { from: low, to: high };
    const about = Object.entries({ ...ends, ...chosen }).filter(([, value]) => value != null);
    show("/runs/" + run + "/window?" + new URLSearchParams(about), asked.under_way.signal);
  }

  async function show(address, signal) {
    let says = "The program does not answer: these lines may be too few for this window.";
    try {
      const answer = await fetch(address, { signal: signal });
      const told = answer.ok ? await answer.json() : { says: await answer.text() };
      const plot = graph("run-graph");
      if (!plot || signal.aborted) return;
      if (told.lines && told.lines.length === plot.data.length) {
        const lines = plot.data.map((line, place) => ({ ...line, ...told.lines[place] }));
        await window.Plotly.react(plot, lines, { ...plot.layout, annotations: told.notes });
      }
      says = told.says;
    } catch (cause) {
      if (signal.aborted) return;
    }
    window.dash_clientside.set_props("run-exact", { children: says });
  }

  // A check shows its place on the traces: its time, and as much again on both sides.
  document.addEventListener("click", (click) => {
    const button = click.target.closest && click.target.closest("[data-from]");
    const plot = graph("run-graph");
    if (!button || !plot || !plot.layout.xaxis) return;
    const [from, to] = [Number(button.dataset.from), Number(button.dataset.to)];
    const room = Math.max(to - from, 120);
    const at = (t_s) => 864000000 + 1000 * t_s;
    window.Plotly.relayout(plot, {
      "xaxis.range[0]": at(Math.max(from - room, 0)),
      "xaxis.range[1]": at(to + room),
    });
    plot.scrollIntoView({ block: "center" });
  });

  /* Runs that are compared: a button leads to the list of them, a group is left out by a tap, and a
     third run is compared as one of many. */
  document.addEventListener("click", (click) => {
    const on = click.target.closest && click.target.closest("[data-chooses],[data-keeps]");
    if (!on) return;
    if (on.dataset.keeps !== undefined) {
      const runs = on.dataset.keeps.split(" ").filter(Boolean);
      window.dash_clientside.set_props("tog-runs", { value: runs });
      return;
    }
    const list = document.getElementById(on.dataset.chooses);
    list.closest("details").open = true;
    list.focus();
  });

  function ways(runs) {
    const two = document.querySelectorAll(".which-runs li").length === 2;
    return two && (runs || []).length > 2 ? "many" : none();
  }

  // Another defect shows the pieces that have it; a tap on a piece adds it or takes it away.
  function pieces(defect, picked, kept) {
    const chosen = window.dash_clientside.callback_context.triggered.map((one) => one.prop_id);
    const none = window.dash_clientside.no_update;
    const known = kept || {};
    if (chosen.includes("out-piece-defect.value")) return [known[defect] || [], none];
    return [none, { ...known, [defect]: picked || [] }];
  }

  // What stands in the fields of results is read when it is saved.
  function results(clicks) {
    const fields = [...document.querySelectorAll("[data-result]")];
    return { n: clicks, typed: Object.fromEntries(fields.map((one) => [one.dataset.result, one.value])) };
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    pages: {
      narrow: () => small.matches,
      paused: paused,
      ticked: ticked,
      attend: attend,
      times: times,
      ways: ways,
      pieces: pieces,
      results: results,
    },
  });
})();
