// Small comforts; every page works without them.
"use strict";

// A page that waits for the program looks again by itself when something has changed.
const watch = document.querySelector("[data-watch]");
if (watch) {
  let tries = 0;
  const look = async () => {
    try {
      const answer = await fetch(watch.dataset.watch, { headers: { Accept: "application/json" } });
      if (answer.ok) {
        const now = await answer.json();
        if (now.status !== watch.dataset.status || String(now.revision) !== watch.dataset.revision) return location.reload();
      }
    } catch { /* offline: try again */ }
    if (++tries < 400) setTimeout(look, tries < 30 ? 1000 : 5000);
  };
  setTimeout(look, 1000);
}

// Sending by script keeps the chosen photos in the form when something has to be changed.
for (const form of document.querySelectorAll("form[data-send]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = form.querySelector("[data-said]");
    const button = form.querySelector("button");
    const words = button.textContent;
    button.disabled = true;
    button.textContent = "Sending…";
    said.hidden = true;
    try {
      const answer = await fetch(form.dataset.send, { method: "POST", body: new FormData(form), headers: { Accept: "application/json", "X-Form": "1" } });
      const got = await answer.json();
      if (answer.ok) {
        location.assign(got.key ? "/i/" + got.key : location.pathname);
        return;
      }
      said.textContent = got.detail;
      for (const old of form.querySelectorAll("[aria-invalid]")) old.removeAttribute("aria-invalid");
      const field = got.field && form.elements[got.field];
      if (field && field.setAttribute) {
        field.before(said); // where the eye goes with the focus
        field.setAttribute("aria-invalid", "true");
        field.focus();
      } else button.parentElement.after(said);
    } catch {
      button.parentElement.after(said);
      said.textContent = "The connection broke off. Nothing that you typed is lost; send it again.";
    }
    said.hidden = false;
    button.disabled = false;
    button.textContent = words;
  });
}
