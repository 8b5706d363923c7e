/* The browser's part of the pages to read: how wide the screen is, which lines of a graph are drawn,
   and what a run's graph shows where it was zoomed along time. */
(function () {
  "use strict";

  const none = () => window.dash_clientside.no_update;
  const graph = (id) => document.querySelector("#" + id + " .js-plotly-plot");

  // The text is checked when the typing pauses; the text itself is never late.
  let pause = null;
  const paused = (text) => {
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
    if (document.querySelector(".run-graph")) {
      window.dash_clientside.set_props("narrow", { data: small.matches });
    }
  });

  function ticked(places, id) {
    const plot = graph(id);
    if (!plot || !plot.data) return;
    const visible = plot.data.map((_, place) => places.includes(String(place)));
    if (plot.data.some((line, place) => (line.visible !== false) !== visible[place])) {
      window.Plotly.restyle(plot, { visible: visible });
    }
  }

  /* What comes back is put in place here: the answer of a callback would be thrown away when the
     graph tells of another size meanwhile. Of two zooms the later one counts. */
  let under_way = null;
  function zoomed(moved, run, choices, narrow) {
    const low = moved && moved["xaxis.range[0]"];
    if (low === undefined && !(moved && moved["xaxis.autorange"])) return;
    if (under_way) under_way.abort();
    under_way = new AbortController();
    const { theme, temp, mass } = choices || {};
    const ends = low === undefined ? {} : { from: low, to: moved["xaxis.range[1]"] };
    const asked = new URLSearchParams(
      Object.entries({ ...ends, theme, temp, mass, narrow }).filter(([, value]) => value != null)
    );
    show("/runs/" + run + "/window?" + asked, under_way.signal);
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

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    pages: { narrow: () => small.matches, paused: paused, ticked: ticked, zoomed: zoomed },
  });
})();
