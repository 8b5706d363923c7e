/* A photo for a run: its fields, made smaller in the browser, sent to the route of dashboard/photos.

   The server decodes what comes and makes it small again: what happens here saves time on the way. */
(function () {
  "use strict";

  const LONGEST_PX = 1600;
  const MOST_BYTES = 20000000; // as MOST_GIVEN_BYTES of logger/store/photos/encoding.py
  const byId = (id) => document.getElementById(id);

  function made(tag, attributes, text) {
    const part = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) part.setAttribute(name, value);
    if (text !== undefined) part.textContent = text;
    return part;
  }

  function labelled(label, input) {
    const row = made("div", { class: "field" });
    row.append(made("label", { for: input.id }, label), input);
    return row;
  }

  // Dash calls before the page stands: what is not there yet is waited for.
  function fields(pieces, tries = 100) {
    const place = byId("photo-fields");
    if (!place && tries) requestAnimationFrame(() => fields(pieces, tries - 1));
    if (place && !place.childElementCount) fill(place, pieces, window.location.pathname.split("/")[2]);
    return "group";
  }

  let run = ""; // the one that the photo goes to
  function fill(place, pieces, of_run) {
    run = of_run;
    const file = made("input", { type: "file", id: "photo-file", accept: "image/*" });
    const of = made("select", { id: "photo-piece" });
    of.append(made("option", { value: "" }, "The batch"));
    for (const piece of pieces) of.append(made("option", { value: piece }, "Piece " + piece));
    const text = made("input", { type: "text", id: "photo-text", maxlength: "200", autocomplete: "off" });
    const save = made("button", { type: "button", class: "key small", id: "photo-save" }, "Save photo");
    save.addEventListener("click", () => send(save));
    place.append(
      labelled("Picture", file),
      labelled("It shows", of),
      labelled("In your own words", text),
      save,
      made("p", { id: "photo-said", class: "said", role: "status" })
    );
  }

  /* A picture that was chosen and not saved yet goes with the end of the batch. One that can't be
     saved is said and taken out of the form, so that the next press ends the batch without it. */
  async function sendChosen() {
    const chosen = byId("photo-file");
    if (!chosen || !chosen.files[0]) return true;
    byId("photo-said").textContent = "Working…";
    const said = await answered(chosen.files[0]);
    byId("photo-said").textContent = said;
    if (said === "Saved.") return true;
    chosen.value = "";
    chosen.closest("details").open = true;
    byId("photo-said").scrollIntoView({ block: "center" });
    return false;
  }

  async function smaller(file) {
    try {
      const picture = await createImageBitmap(file);
      const share = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(picture.width * share));
      canvas.height = Math.max(1, Math.round(picture.height * share));
      const ground = canvas.getContext("2d");
      ground.fillStyle = "white";
      ground.fillRect(0, 0, canvas.width, canvas.height);
      ground.drawImage(picture, 0, 0, canvas.width, canvas.height);
      const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.88));
      return made || file;
    } catch (cause) {
      return file; // the server says what is wrong with it
    }
  }

  async function send(button) {
    const [said, file] = [byId("photo-said"), byId("photo-file").files[0]];
    if (!file) {
      said.textContent = "Choose a picture first.";
      return;
    }
    button.disabled = true;
    said.textContent = "Working…";
    said.textContent = await answered(file);
    button.disabled = false;
  }

  function drawAgain() {
    if (!document.querySelector(".run-page")) return;
    window.dash_clientside.set_props("run-told", { data: "photo-" + Date.now() });
  }

  async function answered(file) {
    if (!file.size) return "Not saved. " + file.name + " is empty: choose another file.";
    const picture = await smaller(file);
    if (picture.size > MOST_BYTES) {
      return "Not saved. " + file.name + " is larger than 20 MB. Use a smaller copy.";
    }
    const about = { name: file.name, piece: byId("photo-piece").value, text: byId("photo-text").value };
    try {
      const answer = await fetch("/runs/" + run + "/photo?" + new URLSearchParams(about), {
        method: "POST",
        headers: { "Content-Type": "application/octet-stream" },
        body: picture,
      });
      if (answer.ok) {
        drawAgain();
        byId("photo-file").value = "";
        byId("photo-text").value = "";
      }
      return (await answer.text()).trim();
    } catch (cause) {
      return "Not saved: the program does not answer.";
    }
  }

  /* A photo is gone for good: the first press asks, the second removes; elsewhere takes it back. */
  let asking = null;
  async function remove(button) {
    button.disabled = true;
    try {
      const answer = await fetch(button.dataset.remove, { method: "DELETE" });
      if (answer.ok) {
        drawAgain();
        return;
      }
      button.replaceWith(made("span", { class: "said", role: "status" }, (await answer.text()).trim()));
    } catch (cause) {
      button.replaceWith(made("span", { class: "said" }, "Not removed: the program does not answer."));
    }
  }

  function label(button, says) {
    button.firstElementChild.textContent = says;
    button.setAttribute("aria-label", says + " " + button.dataset.of);
  }

  document.addEventListener("click", (event) => {
    const on = event.target.closest("[data-remove]");
    if (asking && asking !== on) label(asking, "Remove");
    if (on && asking === on) remove(on);
    else if (on) label(on, "Remove for good?");
    asking = asking === on ? null : on;
  });

  window.bainlogPhoto = { fill, sendChosen };
  window.dash_clientside = Object.assign({}, window.dash_clientside, { photo: { fields: (pieces) => fields(pieces) } });
})();
