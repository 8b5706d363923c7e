/* How long ago something was, as logger/words/durations.py writes it (age_text); a test holds this
   script to that module. The only text that is made in the browser, because it ticks there. */
(function () {
  "use strict";

  function ageText(age_s) {
    if (age_s === null || age_s === undefined || !Number.isFinite(age_s)) return "no sample";
    if (age_s < 1) return "now";
    if (age_s < 119.5) return Math.floor(age_s + 0.5) + " s ago";
    const minutes = Math.floor(age_s / 60 + 0.5);
    if (minutes < 60) return minutes + " min ago";
    const hours = Math.floor(minutes / 60);
    return hours + " h " + (minutes % 60 ? (minutes % 60) + " min ago" : "ago");
  }

  globalThis.bainlogWords = { ageText: ageText };
})();
