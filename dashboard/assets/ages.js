/* How long ago something was, a time on the run's clock and a number with fixed decimals, as
   logger/words writes them (durations.age_text, durations.clock, digits.fixed); tests hold this
   script to that room. The only text that is made in the browser, because it ticks, is stepped or
   is painted there. */
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

  function clockText(t_s) {
    const below = Math.floor(Math.max(0, t_s));
    const rest = Math.max(0, t_s) - below;
    const whole = below + (rest > 0.5 || (rest === 0.5 && below % 2) ? 1 : 0);
    const two = (n) => String(n).padStart(2, "0");
    const hours = Math.floor(whole / 3600);
    const minutes = Math.floor(whole / 60) % 60;
    return (hours ? hours + ":" + two(minutes) : minutes) + ":" + two(whole % 60);
  }

  /* The time that was written so, in seconds; null for what is none. */
  function clockSeconds(text) {
    const found = /^\s*(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:\.\d+)?)\s*$/.exec(text);
    return found ? 3600 * Number(found[1] || 0) + 60 * Number(found[2]) + Number(found[3]) : null;
  }

  function fixedText(value, places) {
    const text = value.toFixed(places);
    return text.replace("-", Number(text) === 0 ? "" : "\u2212");
  }

  globalThis.bainlogWords = {
    ageText: ageText,
    clockText: clockText,
    clockSeconds: clockSeconds,
    fixedText: fixedText,
  };
})();
