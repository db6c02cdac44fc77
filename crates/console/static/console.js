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
