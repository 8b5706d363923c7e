/* Help where one is: opens the dialog of dashboard/help; the key "?" does too. */
(function () {
  "use strict";

  // Opened once it is filled: a screen reader reads a dialog when it opens.
  let wanted = false;
  function open() {
    const dialog = document.getElementById("help-dialog");
    if (wanted && dialog && !dialog.open) dialog.showModal();
    wanted = false;
  }

  function tapped(event) {
    if (event.target.closest && event.target.closest("#help-open")) wanted = true;
  }

  function pressed(event) {
    const off = document.documentElement.dataset.keys === "off";
    if (event.key !== "?" || event.ctrlKey || event.metaKey || off) return;
    if (document.querySelector("dialog[open]")) return;
    if (event.target.closest && event.target.closest("input, textarea, select")) return;
    const mark = document.getElementById("help-open");
    if (!mark) return;
    event.preventDefault();
    mark.focus(); // where the focus goes back to
    mark.click();
  }

  document.addEventListener("click", tapped, true);
  document.addEventListener("keydown", pressed);

  window.dash_clientside = Object.assign({}, window.dash_clientside, { help: { filled: open } });
})();
