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

  // Several units of one visit that was begun here: each has its pages, the first one has the key of all.
  const unitsOf = (ref) => get(`${SENT}${ref}:with`) || [];
  const members = (ref) => {
    const units = unitsOf(ref);
    return units.length ? units.map(({ unit }) => `of-${unit}`) : [ref];
  };
  const lead = (ref) => members(ref)[0];

  // The pages of a visit that only this device has, in the order in which they were typed.
  const pagesOf = (ref) => members(ref).flatMap((each) => keys(`${TYPED}${each}:`))
    .sort((one, other) => (get(one)?.at || 0) - (get(other)?.at || 0));

  const pageKey = (ref, n, step) => `${TYPED}${ref}:${n}/${step}`;
  const sentKey = (ref, n, step) => `${SENT}${ref}:${n}/${step}`;

  // What the server took of a page, typed at `at`: pages of this device that were kept before do not know of it.
  function noteSent(ref, { n, step, data, at }, revision) {
    const key = sentKey(ref, n, step);
    if ((get(key)?.at || 0) <= at) put(key, { data, revision, at }); // of two that cross on their way the later one stands
  }

  function device() {
    let name = get("visit-device");
    if (!name) {
      name = Array.from(crypto.getRandomValues(new Uint8Array(10)), (b) => b.toString(16).padStart(2, "0")).join("");
      put("visit-device", name);
    }
    return name;
  }

  // A visit that was begun without a signal has a key made here, under which the server begins it once it can.
  const begun = (ref) => get(`${SENT}${lead(ref)}:key`);
  const noteBegun = (ref, held) => put(`${SENT}${lead(ref)}:key`, held);

  function begin(ref) {
    const held = begun(ref) || { key: crypto.randomUUID(), at: Date.now() };
    noteBegun(ref, held);
    return held.key;
  }

  // What of a visit goes with everything that is sent of it while the server may not know of it.
  const names = (ref) => ({ visit_key: begin(ref), units: unitsOf(ref).map(({ unit }) => unit).join(" ") });

  // Begin one for these units, in their order: [{unit, label}].
  function beginWith(units) {
    const refs = units.map(({ unit }) => `of-${unit}`);
    for (const ref of refs) {
      if (isQueued(ref)) forget(ref);
      else if (begun(ref)?.over) startAnew(ref);
    }
    if (units.length > 1) for (const ref of refs) put(`${SENT}${ref}:with`, units);
    return refs[0];
  }

  // Which units of it are being typed with others already, of which one is not among these.
  const elsewhere = (units) => units.filter(({ unit }) => {
    const held = unitsOf(`of-${unit}`).map((each) => each.unit);
    const mine = units.map((each) => each.unit);
    return pagesOf(`of-${unit}`).length > 0 && !isQueued(`of-${unit}`) && (held.length ? held : [unit]).join() !== mine.join();
  });

  // All of it is on the server, or in the queue of this device.
  function forget(ref) {
    for (const each of members(ref)) {
      for (const key of [...keys(`${TYPED}${each}:`), ...keys(`${SENT}${each}:`)]) drop(key);
    }
  }

  const isQueued = (ref) => pagesOf(ref).some((key) => get(key)?.queued);

  function markQueued(ref) {
    for (const key of pagesOf(ref)) put(key, { ...get(key), queued: true });
  }

  // What was changed after it was queued stays: it is not on the record. So does the key, or it would begin another one.
  function dropQueued(ref) {
    const [had, refs] = [begun(ref), members(ref)];
    for (const key of pagesOf(ref)) if (get(key)?.queued) drop(key);
    const left = pagesOf(ref).length;
    for (const each of refs) for (const key of keys(`${SENT}${each}:`)) if (!left || !/:(key|with)$/.test(key)) drop(key);
    if (left && had) noteOver(ref);
  }

  // It is on record. What was typed since is still here, and belongs to the next one.
  function noteOver(ref) {
    if (begun(ref)) noteBegun(ref, { ...begun(ref), over: true });
  }

  function startAnew(ref) {
    for (const key of pagesOf(ref)) if (get(key)?.taken) drop(key);
    for (const each of members(ref)) for (const key of keys(`${SENT}${each}:`)) drop(key);
  }

  // The server refused to record it and has all of it: from here on it goes on there, and what is typed since follows.
  function goOnAt(ref, address) {
    for (const key of pagesOf(ref)) {
      const held = get(key);
      if (held.queued) put(key, { ...held, queued: false, taken: true });
    }
    if (begun(ref)) noteBegun(ref, { ...begun(ref), goesOn: address });
  }

  const goesOn = (ref) => begun(ref)?.goesOn || "";

  // The visits of which pages are on this device only.
  const refs = () => [...new Set(keys(TYPED).map((key) => lead(key.slice(TYPED.length).split(":")[0])))];

  // Visits whose record has left the queue since, or was refused.
  async function tidy() {
    const records = (await self.OutboxStore.all()).filter((item) => item.group && !item.bare);
    for (const ref of refs()) {
      const record = records.find((item) => item.group === ref);
      if (isQueued(ref) && !record) dropQueued(ref);
      else if (isQueued(ref) && record.taken) goOnAt(ref, record.page);
    }
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

  return {
    link, typedIn, fill, get, put, drop, pagesOf, pageKey, sentKey, noteSent, device, begun, begin, beginWith, elsewhere,
    names, unitsOf, members, lead, noteOver, forget, isQueued, markQueued, goesOn, refs, tidy,
  };
})();
