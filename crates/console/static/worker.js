// Works while the network is away: keeps pages as last seen, and entries until they can be sent.
importScripts(QUEUE);
const SHELL_CACHE = `shell-${VERSION}`;
const PAGES = "pages";
const MOST_PAGES = 80;
const PATIENCE_MS = 4000;
const SENDING_MS = 10000;
const OFFLINE = `${BASE}/offline`;
const FORMS = /^\/(bench|load|tanks|put-right|jar-test|run|salt|meters|due|sprayers|ledger)(\/|$)/;

self.addEventListener("install", (event) => event.waitUntil((async () => {
  await (await caches.open(SHELL_CACHE)).addAll(SHELL);
  await remember(OFFLINE);
  await self.skipWaiting();
})()));

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith("shell-") && name !== SHELL_CACHE) await caches.delete(name);
  }
  await self.clients.claim();
})()));

async function remember(url) {
  try {
    const answer = await fetch(url, { headers: { accept: "text/html" } });
    if (answer.ok && !answer.redirected) await (await caches.open(PAGES)).put(url, answer);
  } catch { /* Later, then. */ }
}

// What lies outside the yard's own pages is none of ours; nor are the practice plant and the way in.
function below(url) {
  if (url.origin !== self.location.origin || !url.pathname.startsWith(`${BASE}/`)) return null;
  const path = url.pathname.slice(BASE.length);
  const apart = ["/practice", "/trainer", "/offline/", "/sign-", "/first", "/enrol", "/people", "/trust", "/worker.js"];
  return apart.some((start) => path.startsWith(start)) ? null : path;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method === "POST" && url.pathname === `${BASE}/sign-out`) {
    event.waitUntil(caches.delete(PAGES));
    return;
  }
  const path = below(url);
  if (path === null) return;
  if (request.method === "GET" && path.startsWith("/static/")) {
    event.respondWith(fixed(request));
  } else if (request.method === "GET" && (request.headers.get("accept") || "").includes("text/html")) {
    event.respondWith(page(event, url));
  } else if (request.method === "POST" && request.mode === "navigate") {
    event.respondWith(entry(request, path));
  }
});

async function fixed(request) {
  return (await caches.match(request, { ignoreVary: true })) || fetch(request);
}

const after = (ms) => new Promise((done) => { setTimeout(done, ms); });

// Pages are kept for as long as a shift may sign: out of touch for longer, a device keeps only what waits to be sent.
async function letGoWhenLate() {
  const since = await queue.note("contact");
  if (since === undefined || Date.now() - since < SHIFT_MS) return;
  const cache = await caches.open(PAGES);
  for (const key of await cache.keys()) {
    if (new URL(key.url).pathname !== OFFLINE) await cache.delete(key);
  }
}

// The newest page, or as it was last seen.
async function page(event, url) {
  await letGoWhenLate();
  const cache = await caches.open(PAGES);
  // Back shows what was seen, with the same entry's id: sent again, it is the same entry.
  if (event.request.isHistoryNavigation) {
    const before = await cache.match(url.href, { ignoreVary: true });
    if (before) return before;
  }
  const fresh = fetch(event.request).then((answer) => {
    const kind = answer.headers.get("content-type") || "";
    if (answer.ok && !answer.redirected && kind.startsWith("text/html")) {
      event.waitUntil(cache.put(url.href, answer.clone()).then(() => trim(cache)));
      event.waitUntil(queue.setNote("contact", Date.now()));
    }
    if (answer.type === "opaqueredirect") event.waitUntil(forget());
    return answer;
  });
  event.waitUntil(fresh.catch(() => {}));
  let seen = await cache.match(url.href, { ignoreVary: true });
  // A form asked with a question that was not seen before: the form itself, which says that it answers nothing.
  if (!seen && FORMS.test(url.pathname.slice(BASE.length))) {
    seen = await cache.match(url.origin + url.pathname, { ignoreVary: true });
  }
  try {
    const answer = await (seen ? Promise.race([fresh, after(PATIENCE_MS)]) : fresh);
    if (answer && !away(answer)) return answer;
  } catch { /* Away. */ }
  return seen || (await cache.match(OFFLINE, { ignoreVary: true })) || fresh;
}

// A proxy's word that nobody is behind it.
const away = (answer) => [502, 503, 504].includes(answer.status) && !answer.headers.has("server-timing");

// Sent to the way in, this device is not known any more: what it kept of the yard goes. What waits to be sent stays.
async function forget() {
  const answer = await fetch(OFFLINE, { headers: { accept: "text/html" } }).catch(() => null);
  const wayIn = answer && answer.redirected && new URL(answer.url).pathname.slice(BASE.length);
  if (wayIn === "/sign-in" || wayIn === "/first") await caches.delete(PAGES);
}

async function trim(cache) {
  const keys = await cache.keys();
  for (const key of keys.slice(0, Math.max(0, keys.length - MOST_PAGES))) {
    if (new URL(key.url).pathname !== OFFLINE) await cache.delete(key);
  }
}

// An entry goes to the yard's machine, or is kept until it can.
async function entry(request, path) {
  const kind = request.headers.get("content-type") || "";
  if (!kind.startsWith("application/x-www-form-urlencoded")) return fetch(request);
  const fields = new URLSearchParams(await request.clone().text());
  const id = fields.get("entry_id");
  if (!id) return fetch(request).catch(() => Response.redirect(`${OFFLINE}#needs-network`, 303));
  const wasUsed = await queue.attempt(id);
  try {
    const answer = await Promise.race([fetch(request), after(SENDING_MS)]);
    if (answer && !away(answer)) return answer;
  } catch { /* Away. */ }
  await queue.keep(path, fields, wasUsed);
  return Response.redirect(OFFLINE, 303);
}
