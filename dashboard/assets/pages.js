/* The browser's part of the pages to read: how wide the screen is, and when it was zoomed along
   time. A graph that only takes another size says nothing: the answer to a zoom under way would be
   thrown away for it. Draws nothing. */
(function () {
  "use strict";

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    pages: {
      narrow: () => window.innerWidth < 700,
      zoomed: (moved) =>
        moved && Object.keys(moved).some((key) => key.startsWith("xaxis."))
          ? moved
          : window.dash_clientside.no_update,
    },
  });
})();
