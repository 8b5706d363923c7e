/* Draws what the server describes as elements, in place: what is the same stays the element it was,
   with its focus, and open where a person opened it.

   Takes the trees of dashboard/markup.py. Text is put in as text, never as markup. A button whose
   command has changed is a new one: a tap that began on the old one must not count for it. */
(function () {
  "use strict";

  const NAMES = { className: "class", htmlFor: "for" };
  const UNIT = /(\d) (?=(?:°[CF]|F°|K|g|oz|mm|%|min|s|h)(?!\w))/g; // stays on the line of its number
  const drawn = new WeakMap();

  function list(inside) {
    return (Array.isArray(inside) ? inside.flat(Infinity) : [inside]).map((made) => {
      if (made === null || made === undefined || typeof made === "boolean") return null;
      if (typeof made !== "object") return { text: String(made).replace(UNIT, "$1\u00a0") };
      return { tag: made.tag, props: made.props, inside: list(made.inside) };
    });
  }

  function acts(props) {
    return JSON.stringify(Object.entries(props).filter(([name]) => name.startsWith("data-")));
  }

  function same(one, other) {
    if (!one || !other || one.tag !== other.tag) return false;
    if (!one.tag) return true;
    if (one.props.id !== other.props.id) return false;
    return one.tag !== "button" || acts(one.props) === acts(other.props);
  }

  function set(at, name, value) {
    if (name === "style") {
      at.removeAttribute("style");
      Object.assign(at.style, value || {});
      return;
    }
    const key = NAMES[name] || name.toLowerCase();
    if (value === null || value === undefined || value === false) at.removeAttribute(key);
    else at.setAttribute(key, value === true ? "" : String(value));
  }

  function dress(at, before, now) {
    for (const name of Object.keys(before)) if (!(name in now)) set(at, name, null);
    for (const [name, value] of Object.entries(now)) {
      if (JSON.stringify(before[name]) !== JSON.stringify(value)) set(at, name, value);
    }
  }

  function made(part) {
    if (!part.tag) return document.createTextNode(part.text);
    const at = document.createElement(part.tag);
    dress(at, {}, part.props);
    fit(at, [], part.inside);
    return at;
  }

  /* Make what is inside an element as it should be now, from the last part to the first. */
  function fit(place, before, now) {
    let behind = null;
    for (let k = Math.max(before.length, now.length) - 1; k >= 0; k -= 1) {
      const [old, part] = [before[k], now[k]];
      if (same(old, part)) {
        part.at = old.at;
        if (!part.tag && part.text !== old.text) part.at.nodeValue = part.text;
        if (part.tag) {
          dress(part.at, old.props, part.props);
          fit(part.at, old.inside, part.inside);
        }
      } else {
        if (old) old.at.remove();
        if (part) {
          part.at = made(part);
          place.insertBefore(part.at, behind);
        }
      }
      if (part) behind = part.at;
    }
  }

  function draw(place, inside) {
    const now = list(inside);
    const before = drawn.get(place);
    if (!before) place.replaceChildren();
    fit(place, before || [], now);
    drawn.set(place, now);
  }

  window.bainlogParts = { draw: draw };
})();
