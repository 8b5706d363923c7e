/* The browser's part of the pages to read: how wide the screen is. Draws nothing. */
(function () {
  "use strict";

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    pages: { narrow: () => window.innerWidth < 700 },
  });
})();
