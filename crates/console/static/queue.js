// What a device keeps while there is no network: entries in order, the keys of those on shift, the server's clock.
// Shared by the pages and the worker.
"use strict";
const queue = (() => {
  const KEPT = 200;
  const USED = 2000;
  const open = () => new Promise((done, fail) => {
    const asked = indexedDB.open("brine", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
      asked.result.createObjectStore("keys", { keyPath: "person" });
      asked.result.createObjectStore("used", { keyPath: "n", autoIncrement: true }).createIndex("id", "id");
      asked.result.createObjectStore("notes");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  // All or nothing, and on the disk before it is said to be done.
  const within = async (stores, mode, act) => {
    const base = await open();
    try {
      return await new Promise((done, fail) => {
        const transaction = base.transaction(stores, mode, { durability: "strict" });
        let answer;
        transaction.oncomplete = () => done(answer);
        transaction.onerror = transaction.onabort = () => fail(transaction.error);
        act(transaction, (value) => { answer = value; });
      });
    } finally {
      base.close();
    }
  };
  const note = (name) => within(["notes"], "readonly", (t, answer) => {
    const asked = t.objectStore("notes").get(name);
    asked.onsuccess = () => answer(asked.result);
  });
  const setNote = (name, value) => within(["notes"], "readwrite", (t) => t.objectStore("notes").put(value, name));
  const all = (store) => within([store], "readonly", (t, answer) => {
    const asked = t.objectStore(store).getAll();
    asked.onsuccess = () => answer(asked.result);
  });
  const put = (store, value) => within([store], "readwrite", (t) => t.objectStore(store).put(value));
  // Whether an entry's id was sent before: a page from the device's memory brings the same id again.
  const attempt = (id) => within(["used"], "readwrite", (t, answer) => {
    const store = t.objectStore("used");
    const asked = store.index("id").getKey(id);
    asked.onsuccess = () => {
      answer(asked.result !== undefined);
      if (asked.result === undefined) {
        const added = store.add({ id });
        added.onsuccess = () => store.delete(IDBKeyRange.upperBound(added.result - USED));
      }
    };
  });
  const offset = async () => (await note("offset")) || 0;
  const base64 = (bytes) => btoa(String.fromCharCode(...new Uint8Array(bytes)));
  // The key of somebody on shift, with its next count.
  const nextKey = (person, now) => within(["keys"], "readwrite", (t, answer) => {
    const store = t.objectStore("keys");
    const asked = store.get(person);
    asked.onsuccess = () => {
      const key = asked.result;
      if (!key || key.until < now) return;
      key.counter += 1;
      store.put(key);
      answer(key);
    };
  });
  // Keeps an entry. A PIN is never kept.
  const keep = async (path, fields, wasUsed) => {
    const person = fields.get("sign_who") || "";
    fields.delete("sign_who");
    fields.delete("sign_pin");
    if (wasUsed) fields.set("entry_id", crypto.randomUUID());
    const form = fields.toString();
    const ahead = await offset();
    const deviceMs = Date.now();
    const names = (await note("people")) || {};
    const packet = {
      v: 1, id: crypto.randomUUID(), path, form, author: names[person] || fields.get("author") || "",
      key: null, counter: 0, device_ms: deviceMs, offset_ms: ahead, signature: null,
    };
    const key = person ? await nextKey(person, deviceMs + ahead) : undefined;
    if (key) {
      packet.key = key.key;
      packet.counter = key.counter;
      packet.author = key.name;
      const text = ["brine entry 1", packet.id, path, key.key, key.counter, deviceMs, ahead, form].join("\n");
      const signed = await crypto.subtle.sign(
        { name: "ECDSA", hash: "SHA-256" }, key.privateKey, new TextEncoder().encode(text));
      packet.signature = base64(signed);
    }
    await put("entries", { packet, state: "waits", detail: "", unsigned: Boolean(person) && !key });
    return packet;
  };
  const waiting = async () => (await all("entries")).filter((one) => one.state === "waits");
  // What the console says of one entry alone: it steps aside, and those behind it go on.
  const OF_THIS_ONE = [400, 413, 422, 500];
  // Sends what waits, in order; stops where nothing gets through. One tab at a time.
  const send = (url) => navigator.locks.request("brine-send", { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    for (const one of await waiting()) {
      let answer;
      try {
        const body = JSON.stringify({ ...one.packet, sent_ms: Date.now() });
        answer = await fetch(url, {
          method: "POST", body, headers: { "content-type": "application/json" }, signal: AbortSignal.timeout(15000),
        });
      } catch {
        return;
      }
      let told = {};
      try { told = await answer.json(); } catch { /* Somebody else answered. */ }
      one.detail = told.detail || String(answer.status);
      if (answer.ok && (told.outcome === "recorded" || told.outcome === "held")) one.state = told.outcome;
      await put("entries", one);
      if (one.state === "waits" && !OF_THIS_ONE.includes(answer.status)) return;
    }
    const entries = await all("entries");
    const old = entries.filter((one) => one.state !== "waits").slice(0, -KEPT);
    if (old.length) {
      await within(["entries"], "readwrite", (t) => old.forEach((one) => t.objectStore("entries").delete(one.n)));
    }
  });
  // How far the server's clock is ahead; nothing when there is no network.
  const contact = async (url) => {
    const before = Date.now();
    try {
      const answer = await fetch(url, { cache: "no-store", signal: AbortSignal.timeout(5000) });
      if (!answer.ok) return false;
      const { now_ms: now } = await answer.json();
      await setNote("offset", Math.round(now - (before + Date.now()) / 2));
      return true;
    } catch {
      return false;
    }
  };
  // A pair of keys for a person on this device; the private one cannot be taken out of the browser.
  const beginShift = async (url, who, pin) => {
    const pair = await crypto.subtle.generateKey({ name: "ECDSA", namedCurve: "P-256" }, false, ["sign", "verify"]);
    const point = base64(await crypto.subtle.exportKey("raw", pair.publicKey));
    const answer = await fetch(url, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ who, pin, public: point }),
    });
    const told = await answer.json();
    if (answer.ok) {
      await put("keys", {
        person: told.person, name: told.name, key: told.key, until: told.until_ms, counter: 0,
        privateKey: pair.privateKey,
      });
    }
    return { ok: answer.ok, ...told };
  };
  return { all, attempt, beginShift, contact, keep, note, offset, send, setNote, waiting };
})();
