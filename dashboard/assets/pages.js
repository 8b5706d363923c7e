/* The browser's part of the pages to read: how wide the screen is, and when it was zoomed along
   time. A graph that only takes another size says nothing: the answer to a zoom under way would be
   thrown away for it. Draws nothing. */
(function () {
  "use strict";

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
    return first ? text : window.dash_clientside.no_update;
  };

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    pages: {
      narrow: () => window.innerWidth < 700,
      zoomed: (moved) =>
        moved && Object.keys(moved).some((key) => key.startsWith("xaxis."))
          ? moved
          : window.dash_clientside.no_update,
      paused: paused,
    },
  });
})();
