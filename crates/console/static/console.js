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
// What is to be put right comes first; what was likely meant is taken by one button.
{
  const first = document.querySelector("[aria-invalid=true]");
  if (first && document.getElementById("refused")) {
    for (let up = first.closest("details"); up; up = up.parentElement.closest("details")) up.open = true;
    first.focus();
  }
  for (const button of document.querySelectorAll("[data-use]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const field = document.getElementById(button.dataset.for);
      field.value = button.dataset.use;
      field.removeAttribute("aria-invalid");
      button.closest(".bad-says").hidden = true;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.focus();
    });
  }
}
// A pad of large keys for gloves. Keyboards go on as before; a touch screen's own is kept away while the pad is there.
for (const form of document.querySelectorAll("form[data-padded]")) {
  const pad = form.querySelector("[data-pad]");
  const fields = [...form.querySelectorAll("input[inputmode=decimal]")];
  let here = form.querySelector("[data-pad-first]") || fields[0];
  if (!pad || !here || document.body.dataset.keys === "own") continue;
  pad.hidden = false;
  // On the last field, the last key sends the form where it has one button only.
  const next = pad.querySelector("[data-key=next]");
  const own = form.dataset.padded === "submits" && form.querySelector(":scope > [type=submit]");
  const words = next.textContent;
  form.classList.toggle("pad-submits", Boolean(own));
  const enter = (field) => {
    here.classList.remove("pad-here");
    here = field;
    here.classList.add("pad-here");
    const isLast = own && fields.filter((one) => one.offsetParent).at(-1) === here;
    next.type = isLast ? "submit" : "button";
    next.textContent = isLast ? own.textContent : words;
  };
  form.addEventListener("change", () => enter(here.offsetParent ? here : fields.find((one) => one.offsetParent) || here));
  for (const field of fields) {
    field.inputMode = "none";
    field.addEventListener("focus", () => enter(field));
  }
  enter(fields.find((field) => field.offsetParent && !field.value) || here);
  pad.addEventListener("click", (event) => {
    const key = event.target.dataset.key;
    if (!key || event.target.type === "submit") return;
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
// Without network: pages stay as last seen, with their age, and entries wait on the device. Browsers allow it only where
// the connection is trusted.
(async () => {
  const { worker, clock, made, zone } = document.body.dataset;
  const insecure = document.querySelector("[data-insecure]");
  if (!window.isSecureContext || !navigator.serviceWorker || !window.indexedDB) {
    if (insecure) insecure.hidden = false;
    return;
  }
  const scope = worker.slice(0, worker.lastIndexOf("/") + 1);
  navigator.serviceWorker.register(worker, { scope, updateViaCache: "none" }).catch(() => {
    if (insecure) insecure.hidden = false;
  });
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
  const time = (ms, more = {}) => new Intl.DateTimeFormat(document.documentElement.lang, {
    hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone, ...more,
  }).format(ms);
  const list = document.querySelector("[data-queue]");
  const line = document.querySelector("[data-queue-line]");
  const banner = document.querySelector("[data-away]");
  const shifts = document.querySelector("[data-shifts]");
  const now = document.querySelector("[data-send-now]");
  const sendUrl = `${scope}offline/send`;
  // Names by which entries are shown before they are sent.
  const signers = document.querySelectorAll("select[name=sign_who] option[value]:not([value=''])");
  if (signers.length) {
    await queue.setNote("people", Object.fromEntries([...signers].map((one) => [one.value, one.textContent])));
  }
  let isTouched = false;
  document.addEventListener("input", () => { isTouched = true; });
  const show = async (isAway) => {
    const entries = await queue.all("entries");
    const count = entries.filter((one) => one.state === "waits").length;
    const ahead = await queue.offset();
    const minutes = Math.floor((Date.now() + ahead - Number(made)) / 60000);
    banner.hidden = !isAway && count === 0 && !isStandIn;
    banner.querySelector("b").hidden = !isAway;
    banner.querySelector("[data-stand-in]").hidden = !isStandIn || asked.has("saved");
    const age = banner.querySelector("[data-away-age]");
    age.textContent = isAway && minutes >= 1 ? fill(age.dataset.text, { at: time(Number(made)), minutes }) : "";
    const link = banner.querySelector("[data-away-queue]");
    link.hidden = count === 0;
    link.textContent = count ? fill(link.dataset.text, { count }) : "";
    if (!list) return;
    line.textContent = count ? fill(line.dataset.some, { count }) : line.dataset.none;
    now.hidden = count === 0;
    list.replaceChildren(...entries.reverse().map((one) => {
      const item = document.createElement("li");
      const head = document.createElement("p");
      const bold = document.createElement("b");
      const at = one.packet.device_ms + one.packet.offset_ms;
      bold.textContent = `${time(at, { weekday: "short", day: "numeric", month: "short" })}, ${one.packet.author}`;
      const part = one.packet.path.split("/")[1];
      const link = [...document.querySelectorAll("nav a, .menu a")].find((a) => a.pathname.endsWith(`/${part}`));
      const values = [...new URLSearchParams(one.packet.form)]
        .filter(([name, value]) => value && !["entry_id", "author", "confirm"].includes(name))
        .map(([, value]) => value);
      head.append(bold, ` ${link ? link.textContent : one.packet.path}: ${values.join(", ")}`);
      const state = document.createElement("p");
      const text = fill(list.dataset[one.state], { row: one.detail });
      state.textContent = one.unsigned && one.state === "waits" ? `${text}, ${list.dataset.unsigned}` : text;
      if (one.state !== "recorded" && one.detail) state.textContent += `: ${one.detail}`;
      item.append(head, state);
      return item;
    }));
    if (shifts) {
      const valid = (await queue.all("keys")).filter((key) => key.until > Date.now() + ahead);
      shifts.replaceChildren(...valid.map((key) => {
        const item = document.createElement("li");
        item.textContent = fill(shifts.dataset.until, { name: key.name, at: time(key.until) });
        return item;
      }));
    }
  };
  // Shown in place of an answer that only the yard's machine can give.
  const isStandIn = location.search !== document.body.dataset.search;
  const asked = new URLSearchParams(location.search);
  if (isStandIn && !asked.has("saved")) {
    for (const [name, value] of asked) {
      for (const field of document.querySelectorAll(`form [name="${CSS.escape(name)}"]`)) {
        if (field.type === "radio") field.checked = field.value === value;
        else if (field.type !== "hidden") field.value = value;
      }
    }
    // What was asked may be kept as it is, where the page says so.
    const raw = document.querySelector("[data-raw]");
    if (raw && raw.dataset.raw.split(" ").some((name) => asked.get(name))) {
      const form = raw.querySelector("form");
      for (const [name, value] of form ? asked : []) {
        form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
      }
      raw.hidden = false;
    }
  }
  let isBusy = false;
  const look = async () => {
    if (isBusy) return;
    isBusy = true;
    try {
      const isHere = await queue.contact(clock);
      if (isHere) await queue.send(sendUrl);
      await show(!isHere);
      // A page from the device's memory is replaced as soon as it can be, unless somebody is typing.
      const isOld = Date.now() + await queue.offset() - Number(made) > 90000;
      if (isHere && isOld && wasAway && !isTouched && !list) location.reload();
      wasAway = wasAway || !isHere;
    } finally {
      isBusy = false;
    }
  };
  let wasAway = false;
  if (now) now.addEventListener("click", look);
  const shift = document.querySelector("form[data-shift]");
  if (shift) {
    shift.hidden = false;
    const said = shift.querySelector("[data-shift-said]");
    shift.addEventListener("submit", async (event) => {
      event.preventDefault();
      try {
        const told = await queue.beginShift(shift.dataset.url, shift.elements.who.value, shift.elements.pin.value);
        // The forms come along, opened before or not; the worker keeps what it is asked for.
        if (told.ok) {
          await navigator.serviceWorker.ready;
          for (const page of shift.dataset.pages.split(" ")) {
            await fetch(page, { headers: { accept: "text/html" } });
          }
        }
        said.textContent = told.ok ? shift.dataset.begun : told.detail;
      } catch {
        said.textContent = shift.dataset.noNetwork;
      }
      shift.elements.pin.value = "";
      delete shift.dataset.sent;
      await show(false);
    });
  }
  // Entries are worth more than a cache: the browser is asked not to clear them by itself.
  const isKept = navigator.storage?.persist ? await navigator.storage.persist() : false;
  const notKept = document.querySelector("[data-not-kept]");
  if (notKept) notKept.hidden = isKept;
  document.body.dataset.asked = "yes";
  const needsNetwork = document.querySelector("[data-needs-network]");
  if (needsNetwork) needsNetwork.hidden = location.hash !== "#needs-network";
  window.addEventListener("online", look);
  await look();
  setInterval(look, 15000);
})();

// Safety: unfolded the first time that this device shows it, then one line. A fold that the address names lies open.
{
  const key = (fold) => `safe:${fold.textContent.length}:${fold.textContent.slice(0, 40)}`;
  for (const fold of document.querySelectorAll("details.safe")) {
    try {
      if (localStorage.getItem(key(fold))) fold.open = false;
      localStorage.setItem(key(fold), "1");
    } catch { /* A browser that keeps nothing shows it each time. */ }
  }
  const named = () => {
    const at = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    const fold = at && (at.closest("details") || at.querySelector(":scope > details"));
    if (fold) fold.open = true;
    if (at) at.scrollIntoView();
  };
  named();
  addEventListener("hashchange", named);
}
