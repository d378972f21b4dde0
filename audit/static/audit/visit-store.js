// What this device keeps of visits that are being typed. Shared by the pages of a visit and the page that begins one.
self.VisitStore = (() => {
  "use strict";
  const TYPED = "visit:";
  const SENT = "visit-sent:";

  function get(key) {
    try { return JSON.parse(localStorage.getItem(key)); } catch { return null; }
  }

  function put(key, value) {
    try { localStorage.setItem(key, JSON.stringify(value)); return true; } catch { return false; }
  }

  function drop(key) {
    try { localStorage.removeItem(key); } catch { /* nothing was kept there */ }
  }

  function keys(start) {
    let found = [];
    try { found = Array.from({ length: localStorage.length }, (_, n) => localStorage.key(n)); } catch { /* none */ }
    return found.filter((key) => key.startsWith(start));
  }

  // The pages of a visit that only this device has, in the order in which they were typed.
  const pagesOf = (ref) => keys(`${TYPED}${ref}:`).sort((a, b) => (get(a)?.at || 0) - (get(b)?.at || 0));

  const pageKey = (ref, n, step) => `${TYPED}${ref}:${n}/${step}`;
  const sentKey = (ref, n, step) => `${SENT}${ref}:${n}/${step}`;

  function device() {
    let name = get("visit-device");
    if (!name) {
      name = Array.from(crypto.getRandomValues(new Uint8Array(10)), (b) => b.toString(16).padStart(2, "0")).join("");
      put("visit-device", name);
    }
    return name;
  }

  // A visit that was begun without a signal has a key made here, under which the server begins it once it can.
  const begun = (ref) => get(`${SENT}${ref}:key`);

  function begin(ref) {
    const held = begun(ref) || { key: crypto.randomUUID(), at: Date.now() };
    put(`${SENT}${ref}:key`, held);
    return held.key;
  }

  // All of it is on the server, or in the queue of this device.
  function forget(ref) {
    for (const key of [...keys(`${TYPED}${ref}:`), ...keys(`${SENT}${ref}:`)]) drop(key);
  }

  const isQueued = (ref) => pagesOf(ref).some((key) => get(key)?.queued);

  function markQueued(ref) {
    for (const key of pagesOf(ref)) put(key, { ...get(key), queued: true });
  }

  // What was changed after it was queued stays: it is not on the record.
  function dropQueued(ref) {
    for (const key of pagesOf(ref)) if (get(key)?.queued) drop(key);
    for (const key of keys(`${SENT}${ref}:`)) drop(key);
  }

  // The visits of which pages are on this device only.
  const refs = () => [...new Set(keys(TYPED).map((key) => key.slice(TYPED.length).split(":")[0]))];

  // Visits whose record has left the queue since.
  async function tidy() {
    const groups = new Set((await self.OutboxStore.all()).map((item) => item.group));
    for (const ref of refs()) if (isQueued(ref) && !groups.has(ref)) dropQueued(ref);
  }

  // ---------------------------------------------------------------- forms

  const PLAIN = new Set(["csrfmiddlewaretoken", "revision", "device", "photo", "photo_caption", "quiet", "go"]);

  function link(address, words) {
    const made = document.createElement("a");
    made.href = address;
    made.textContent = words;
    return made;
  }

  function typedIn(element) {
    const data = {};
    for (const [name, value] of new FormData(element)) {
      if (!PLAIN.has(name) && typeof value === "string" && value.trim()) data[name] = value.trim();
    }
    return data;
  }

  function fill(element, data) {
    for (const field of element.elements) {
      if (!field.name || PLAIN.has(field.name)) continue;
      if (field.type === "checkbox") field.checked = field.name in data;
      else if (field.type === "radio") field.checked = data[field.name] === field.value;
      else if (field.type !== "submit") field.value = data[field.name] || "";
      const shut = (field.checked || field.type !== "radio") && data[field.name] && field.closest("details:not([open])");
      if (shut) shut.open = true;
    }
  }

  return { link, typedIn, fill, get, put, drop, pagesOf, pageKey, sentKey, device, begun, begin, forget, isQueued, markQueued, refs, tidy };
})();
