// Improves what already works without it: a form is sent once however often its button is pressed.
"use strict";
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  form.setAttribute("aria-busy", "true");
});
// Coming back to a page by the browser's back button makes its forms usable again; the entry's id stays, so that the
// same entry is still recorded once.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  }
});
// Buttons that print the page: without script there is none, and the browser prints as well.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
// A pad of large keys for gloves. Keyboards go on as before; a touch screen's own is kept away while the pad is there.
for (const form of document.querySelectorAll("form[data-padded]")) {
  const pad = form.querySelector("[data-pad]");
  const fields = [...form.querySelectorAll("input[inputmode=decimal]")];
  let here = form.querySelector("[data-pad-first]") || fields[0];
  if (!pad || !here) continue;
  pad.hidden = false;
  const enter = (field) => {
    here.classList.remove("pad-here");
    here = field;
    here.classList.add("pad-here");
  };
  for (const field of fields) {
    field.inputMode = "none";
    field.addEventListener("focus", () => enter(field));
  }
  enter(fields.find((field) => field.offsetParent && !field.value) || here);
  pad.addEventListener("click", (event) => {
    const key = event.target.dataset.key;
    if (!key) return;
    if (key === "next") {
      const shown = fields.filter((field) => field.offsetParent);
      enter(shown[(shown.indexOf(here) + 1) % shown.length]);
    } else if (key === "back") {
      here.value = here.value.slice(0, -1);
    } else {
      here.value += key === "−" ? "-" : key;
    }
    here.focus({ preventScroll: true });
  });
}
// Parts of a page that tell how things stand are fetched anew while the page is looked at; what is being typed stays.
const refreshed = () => document.querySelectorAll("[data-refresh][id]");
if (refreshed().length) {
  const again = async () => {
    if (document.visibilityState === "visible" && !document.querySelector("form[data-sent]")) {
      try {
        const answer = await fetch(location.href, { headers: { accept: "text/html" } });
        if (answer.ok) {
          const page = new DOMParser().parseFromString(await answer.text(), "text/html");
          for (const part of refreshed()) {
            const news = page.getElementById(part.id);
            if (!news || news.outerHTML === part.outerHTML) continue;
            const held = part.contains(document.activeElement) && document.activeElement.id;
            part.replaceWith(document.importNode(news, true));
            if (held) document.getElementById(held)?.focus({ preventScroll: true });
          }
        }
      } catch { /* The yard's network comes and goes. */ }
    }
    setTimeout(again, 2500);
  };
  setTimeout(again, 2500);
}
