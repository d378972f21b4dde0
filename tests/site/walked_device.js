// Devices to walk at random: the site's own scripts, each tab in a scope of its own, with a network, a clock and a
// storage that the walk decides over. All devices live in one page of a real browser, so that forms, files, pictures
// and the database are real ones; what is made here is the window around the scripts, and no rule of theirs.
self.Walk = (() => {
  "use strict";
  const DEAD = "this tab is gone";
  const devices = new Map();
  const faults = [];
  let given = { scripts: {}, worker: "", shell: {} };
  let now = 0;
  let busy = 0;
  let woken = [];

  const begun = () => { busy += 1; };
  const ended = () => {
    busy -= 1;
    if (!busy) for (const go of woken.splice(0)) go();
  };
  const during = async (work) => {
    begun();
    try { return await work(); } finally { ended(); }
  };
  const never = () => new Promise(() => {});
  const turn = () => new Promise((go) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = go;
    channel.port2.postMessage(0);
  });

  // A test that hangs says nothing: after two minutes it fails.
  const patient = (promise, what) => Promise.race([promise, new Promise((_, fail) => {
    setTimeout(() => fail(new Error(`never over: ${what}`)), 120000);
  })]);

  // Until nothing is under way: no transaction, no picture, no request but those that the walk holds back.
  async function settled() {
    for (let calm = 0, turns = 0; calm < 2; turns += 1) {
      if (turns > 3000) throw new Error("never quiet");
      if (busy) await new Promise((go) => woken.push(go));
      await turn();
      calm = busy || ran(now) ? 0 : calm + 1;
    }
  }

  self.addEventListener("error", (event) => { if (!String(event.message).includes(DEAD)) faults.push(event.message); });
  self.addEventListener("unhandledrejection", (event) => {
    event.preventDefault();
    const words = String(event.reason?.stack || event.reason);
    if (!words.includes(DEAD)) faults.push(words);
  });

  // ---------------------------------------------------------------- the clock

  class Moment extends Date {
    constructor(...given) {
      if (given.length) super(...given);
      else super(now);
    }

    static now() { return now; }
  }

  function timersOf(alive) {
    const made = [];
    let last = 0;
    const set = (again) => (work, ms = 0, ...more) => {
      made.push({ id: (last += 1), at: now + ms, work: () => work(...more), again: again && ms });
      return last;
    };
    const clear = (id) => { const k = made.findIndex((one) => one.id === id); if (k >= 0) made.splice(k, 1); };
    const next = (until) => {
      const due = alive() ? made.filter((one) => one.at <= until).sort((a, b) => a.at - b.at || a.id - b.id)[0] : null;
      if (due?.again) due.at += due.again;
      else if (due) clear(due.id);
      return due;
    };
    return { made, next, setTimeout: set(false), setInterval: set(true), clearTimeout: clear, clearInterval: clear };
  }

  const scopes = () => [...devices.values()].flatMap((device) => [device.worker, device.tab].filter(Boolean));

  function ran(until) {
    for (const each of scopes()) {
      const due = each.timers.next(until);
      if (due) { due.work(); return true; }
    }
    return false;
  }

  async function wait(ms) {
    const end = now + ms;
    await settled();
    for (;;) {
      const coming = scopes().flatMap((each) => (each.isDead ? [] : each.timers.made.map((one) => one.at))).filter((at) => at <= end);
      if (!coming.length) break;
      now = Math.max(now, Math.min(...coming));
      ran(now);
      await settled();
    }
    now = end;
  }

  // ---------------------------------------------------------------- the network

  // What is asked of the server is handed out by `pump` and answered by its next call: the server is where the walk is.
  const asked = [];
  const unanswered = new Map();
  let wake = () => {};
  let last = 0;
  function served(request) {
    return new Promise((resolve) => {
      last += 1;
      unanswered.set(last, resolve);
      asked.push({ id: last, request });
      wake();
    });
  }

  let running = null;
  async function pump(name, args, answers) {
    for (const { id, text } of answers) {
      unanswered.get(id)(text);
      unanswered.delete(id);
    }
    if (name) {
      const mine = (running = { isOver: false });
      patient(Promise.resolve().then(() => calls[name](...args)), name).then(
        (found) => Object.assign(mine, { found: found ?? null }), (fault) => Object.assign(mine, { fault: String(fault.stack) }),
      ).finally(() => { mine.isOver = true; wake(); });
    }
    while (!asked.length && !running.isOver) await new Promise((go) => { wake = go; });
    if (asked.length) return { asked: asked.splice(0) };
    const told = running.fault ? {} : await seenNow();
    return { found: running.found, fault: running.fault, told };
  }

  const POSTS_ONLY = new Set(["held", "unheard", "repeated", "echoed", "lost"]);

  async function coded(file) {
    let text = "";
    for (const byte of new Uint8Array(await file.arrayBuffer())) text += String.fromCharCode(byte);
    return { name: file.name, type: file.type, base64: btoa(text) };
  }

  async function plain(address, { method = "GET", headers = {}, body = null, redirect = "follow" }) {
    const fields = [];
    for (const [name, value] of body || []) fields.push([name, value instanceof Blob ? await coded(value) : value]);
    const { pathname, search } = new URL(address, location.origin);
    return { method, path: pathname + search, headers: { ...headers }, fields, follow: redirect === "follow" };
  }

  function answered({ status, headers, body, path, redirected, to }) {
    const made = {
      status, redirected, to, headers: new Headers(headers), url: location.origin + path, ok: status >= 200 && status < 300,
      type: to ? "opaqueredirect" : "basic", text: async () => body, json: async () => JSON.parse(body),
    };
    return { ...made, clone: () => made };
  }

  const failed = () => new TypeError("Failed to fetch");

  async function reach(device, address, about, isHere) {
    if (!device.isOn) throw failed();
    const request = await during(() => plain(address, about));
    const isPost = request.method === "POST";
    const fate = isPost && POSTS_ONLY.has(device.fate) ? device.fate : "";
    if (isPost) device.fate = "";
    if (!device.isOn || fate === "lost") throw failed();
    const serve = async () => answered(JSON.parse(await served({ device: device.name, ...request })));
    if (fate === "held") {
      if (about.isCounted) ended(); // what is held back is under way for the page, and not for the walk
      return new Promise((resolve, reject) => {
        const arrived = (answer) => {
          if (about.isCounted) begun();
          if (isHere()) resolve(answer);
        };
        const one = { serve, resolve: arrived, reject };
        about.signal?.addEventListener("abort", () => reject(failed()));
        device.held.push(one);
      });
    }
    return during(async () => {
      const answer = await serve();
      if (fate === "repeated") await serve();
      if (fate === "echoed") device.held.push({ serve, resolve: () => {}, reject: () => {} });
      if (fate === "unheard") throw failed();
      return answer;
    });
  }

  // What was held back arrives now, whether or not its page still waits for it.
  async function deliver(name, k) {
    const device = devices.get(name);
    const [one] = device.held.splice(k, 1);
    if (one) await during(async () => one.resolve(await one.serve()));
    await settled();
  }

  // ---------------------------------------------------------------- what a device keeps

  function storageOf(held, alive) {
    const keys = () => [...held.keys()];
    return {
      getItem: (key) => (held.has(key) ? held.get(key) : null),
      setItem: (key, value) => { if (alive()) held.set(key, String(value)); },
      removeItem: (key) => { if (alive()) held.delete(key); },
      key: (n) => keys()[n] ?? null,
      get length() { return held.size; },
    };
  }

  function databaseOf(device, alive) {
    const counted = (request, ...names) => {
      begun();
      let over = false;
      for (const name of names) request.addEventListener(name, () => { if (!over) { over = true; ended(); } });
      return request;
    };
    const opened = (db) => ({
      transaction: (...of) => {
        if (!alive()) throw new Error(DEAD);
        return counted(db.transaction(...of), "complete", "abort");
      },
    });
    const open = (name, version) => {
      const request = counted(indexedDB.open(`${device.name}:${name}`, version), "success", "error");
      const about = {
        get result() { return about.making ? request.result : opened(request.result); },
        get error() { return request.error; },
        get transaction() { return request.transaction; },
      };
      request.onupgradeneeded = (event) => { about.making = true; about.onupgradeneeded?.(event); about.making = false; };
      request.onsuccess = (event) => { device.connections.push(request.result); about.onsuccess?.(event); };
      request.onerror = (event) => about.onerror?.(event);
      return about;
    };
    return { open };
  }

  const addressOf = (request) => new URL(typeof request === "string" ? request : request.url, location.origin).href;

  function cachesOf(device) {
    const cacheOf = (held) => ({
      match: async (request) => {
        const found = held.get(addressOf(request));
        return found && new Response(found.body, { headers: found.headers });
      },
      put: async (request, response) => {
        held.set(addressOf(request), { body: await response.text(), headers: Object.fromEntries(response.headers) });
      },
      delete: async (request) => held.delete(addressOf(request)),
      keys: async () => [...held.keys()].map((url) => ({ url })),
    });
    const open = async (name) => {
      if (!device.caches.has(name)) device.caches.set(name, new Map());
      return cacheOf(device.caches.get(name));
    };
    return {
      open,
      match: async (request, { cacheName }) => (await open(cacheName)).match(request),
      keys: async () => [...device.caches.keys()],
      delete: async (name) => device.caches.delete(name),
    };
  }

  // One holder at a time on a device; a tab that is gone holds none.
  function locksOf(device, tab) {
    const pump = () => {
      if (device.lock || !device.asking.length) return;
      const mine = device.asking.shift();
      device.lock = mine;
      Promise.resolve().then(mine.work).then(mine.resolve, mine.reject).finally(() => {
        if (device.lock === mine) device.lock = null;
        pump();
      });
    };
    const request = (_, work) => new Promise((resolve, reject) => {
      device.asking.push({ tab, work, resolve, reject });
      pump();
    });
    const leave = () => {
      device.asking = device.asking.filter((one) => one.tab !== tab);
      if (device.lock?.tab === tab) device.lock = null;
      pump();
    };
    return { request, leave };
  }

  // ---------------------------------------------------------------- a scope for scripts

  const OWN = [
    "crypto", "FormData", "File", "Blob", "URL", "URLSearchParams", "DOMParser", "Event", "CustomEvent", "AbortController",
    "Response", "Request", "Headers", "DataTransfer", "CSS", "FileReader", "TypeError",
  ];

  function scopeOf(device, tab, more) {
    const alive = () => {
      if (tab.left === 0) tab.isDead = true; // the walk kills it before what it would do next
      if (tab.left > 0) tab.left -= 1;
      return !tab.isDead;
    };
    const events = new EventTarget();
    const scope = Object.fromEntries(OWN.map((name) => [name, self[name]]));
    tab.timers = timersOf(() => !tab.isDead);
    tab.locks = locksOf(device, tab);
    tab.events = events;
    const { setTimeout: after, setInterval: each, clearTimeout: stop, clearInterval: end } = tab.timers;
    Object.assign(scope, {
      Date: Moment, setTimeout: after, setInterval: each, clearTimeout: stop, clearInterval: end,
      localStorage: storageOf(device.storage, alive), sessionStorage: tab.session,
      indexedDB: databaseOf(device, alive), caches: cachesOf(device),
      createImageBitmap: (...of) => during(() => createImageBitmap(...of)),
      fetch: (to, about = {}) => {
        if (!alive()) return never();
        const [address, all] = typeof to === "string" ? [to, about] : [to.url, { ...to, redirect: "manual" }];
        return reach(device, address, all, () => !tab.isDead);
      },
      addEventListener: events.addEventListener.bind(events), dispatchEvent: events.dispatchEvent.bind(events),
      removeEventListener: events.removeEventListener.bind(events), ...more,
    });
    scope.self = scope;
    scope.window = scope;
    return scope;
  }

  const made = new Map();
  function run(name, source, scope) {
    if (!made.has(name)) made.set(name, new Function("scope", `with (scope) { ${source}\n}\n//# sourceURL=${name}`));
    made.get(name)(scope);
  }

  // ---------------------------------------------------------------- the worker

  function workerOf(device) {
    const worker = { isDead: false, left: -1, session: {}, handlers: {} };
    const scope = scopeOf(device, worker, {
      navigator: { onLine: true }, location, registration: {}, clients: {}, skipWaiting() {},
      addEventListener: (name, handler) => { worker.handlers[name] = handler; },
    });
    run("worker", given.worker, scope);
    worker.scope = scope;
    return worker;
  }

  async function throughWorker(device, request) {
    const waits = [];
    let answer = null;
    device.worker.handlers.fetch({ request, respondWith: (p) => { answer = p; }, waitUntil: (p) => waits.push(p) });
    const response = await (answer || device.worker.scope.fetch(request));
    during(() => Promise.allSettled(waits));
    return response;
  }

  // ---------------------------------------------------------------- a tab

  const sessionOf = () => Object.defineProperties({}, {
    getItem: { value(key) { return this[key] ?? null; } },
    setItem: { value(key, value) { this[key] = String(value); } },
    removeItem: { value(key) { delete this[key]; } },
  });

  function leave(device) {
    const { tab } = device;
    if (!tab) return;
    tab.isDead = true;
    tab.locks.leave();
  }

  async function go(device, address, { method = "GET", body = null } = {}) {
    const to = new URL(address, device.url || location.origin);
    const mine = (device.going = (device.going || 0) + 1);
    await during(async () => {
      const request = { url: to.href.split("#")[0], method, body, mode: "navigate", isCounted: true, headers: { Accept: "text/html" } };
      let response;
      let url = to.href;
      try {
        response = await throughWorker(device, request);
        for (let hops = 0; response.type === "opaqueredirect" && hops < 6; hops += 1) {
          url = new URL(response.to, url).href;
          response = await throughWorker(device, { url, method: "GET", mode: "navigate", headers: { Accept: "text/html" } });
        }
      } catch {
        return; // the browser's own page of an error: what stood there stays
      }
      const html = await response.text();
      if (mine !== device.going) return; // another page was asked for meanwhile
      leave(device);
      open(device, url, html);
    });
  }

  function open(device, url, html) {
    const doc = new DOMParser().parseFromString(html, "text/html");
    const tab = { isDead: false, left: -1, session: device.session };
    const here = new URL(url);
    device.tab = tab;
    device.url = url;
    tab.doc = doc;
    // A page goes on to another one only while it is there itself.
    const onward = (...to) => { if (!tab.isDead) go(device, ...to); };
    const place = {
      href: here.href, pathname: here.pathname, search: here.search, hash: here.hash, origin: here.origin,
      assign: (to) => onward(to), replace: (to) => onward(to), reload: () => onward(here.href),
    };
    const submitted = (form, submitter) => {
      const method = (form.getAttribute("method") || "get").toUpperCase();
      onward(form.getAttribute("action") || here.href, { method, body: new FormData(form, submitter) });
    };
    tab.submit = (form, submitter = null) => {
      const event = new SubmitEvent("submit", { bubbles: true, cancelable: true, submitter });
      if (form.dispatchEvent(event)) submitted(form, submitter);
    };
    for (const form of doc.querySelectorAll("form")) {
      form.submit = () => submitted(form, null);
      form.requestSubmit = (button) => tab.submit(form, button);
    }
    const scope = scopeOf(device, tab, {
      document: doc, location: place, BroadcastChannel: undefined,
      navigator: {
        get onLine() { return device.isOn; },
        locks: { request: (...of) => tab.locks.request(...of) },
        serviceWorker: { controller: {}, register: async () => {}, getRegistration: async () => null },
      },
    });
    delete scope.BroadcastChannel;
    tab.scope = scope;
    for (const script of doc.querySelectorAll("script[src]")) {
      const name = script.getAttribute("src").split("/").at(-1);
      if (given.scripts[name]) run(name, given.scripts[name], scope);
    }
    doc.dispatchEvent(new Event("DOMContentLoaded"));
  }

  // The browser makes it when it is idle, and a page that nobody looks at may wait long for that.
  HTMLCanvasElement.prototype.toBlob = function atOnce(heard, type, quality) {
    const [about, text] = this.toDataURL(type, quality).split(",");
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    during(turn).then(() => heard(new Blob([bytes], { type: about.slice(5).split(";")[0] })));
  };

  // ---------------------------------------------------------------- for the walk

  function deviceOf(name) {
    const device = {
      name, isOn: true, fate: "", held: [], storage: new Map(), caches: new Map(), session: sessionOf(), connections: [],
      lock: null, asking: [], url: location.origin, tab: null,
    };
    devices.set(name, device);
    device.worker = workerOf(device);
    device.caches.set(`shell-${device.worker.scope.ABOUT.version}`, new Map(
      Object.entries(given.shell).map(([path, body]) => [location.origin + path, { body, headers: {} }]),
    ));
    return device;
  }

  const emptied = (name) => new Promise((resolve, reject) => {
    const request = indexedDB.open(`${name}:unit-standing`);
    request.onerror = () => reject(request.error);
    request.onupgradeneeded = () => request.transaction.abort();
    request.onsuccess = () => {
      const names = [...request.result.objectStoreNames];
      const all = request.result.transaction(names, "readwrite");
      for (const each of names) all.objectStore(each).clear();
      all.oncomplete = () => { request.result.close(); resolve(); };
    };
  });

  // Everything anew: devices that hold nothing, with the pages that they took along (address to text) as that account.
  async function reset(at, names, account, pages) {
    for (const device of devices.values()) leave(device);
    await settled();
    for (const device of devices.values()) for (const each of device.connections) each.close();
    devices.clear();
    now = at;
    faults.length = 0;
    for (const name of names) {
      await emptied(name).catch(() => {});
      const device = deviceOf(name);
      await during(() => device.worker.scope.OutboxStore.takeOver(account));
      await keep(name, account, pages);
    }
    await settled();
  }

  async function keep(name, account, pages) {
    const { OutboxStore } = devices.get(name).worker.scope;
    for (const [address, html] of Object.entries(pages)) {
      await during(() => OutboxStore.keepPage(account, address, html, OutboxStore.titleOf(html)));
    }
  }

  async function visit(name, address, about) {
    await go(devices.get(name), address, about);
    await settled();
  }

  const controls = (doc, name) => [...(doc?.querySelectorAll("main form") || [])].flatMap((form) => [...form.elements])
    .filter((control) => control.name === name && control.type !== "hidden");

  // The fields of the page, each name once, in their order: [name, kind, values that may be chosen].
  function fields(name) {
    const found = new Map();
    for (const form of devices.get(name).tab?.doc.querySelectorAll("main form") || []) {
      for (const one of form.elements) {
        if (!one.name || one.type === "hidden" || one.disabled) continue;
        if (!found.has(one.name)) found.set(one.name, [one.name, one.type, []]);
        found.get(one.name)[2].push(one.value);
      }
    }
    return [...found.values()];
  }

  // What a person sees in a field now; null where there is none.
  function seen(name, field) {
    const found = controls(devices.get(name).tab?.doc, field);
    if (!found.length) return null;
    if (found[0].type === "radio") return found.find((one) => one.checked)?.value || "";
    return found[0].type === "checkbox" ? (found[0].checked ? "on" : "") : found[0].value;
  }

  async function type(name, field, value, left = -1) {
    const { tab } = devices.get(name);
    const found = controls(tab?.doc, field);
    const control = found[0]?.type === "radio" ? found.find((one) => one.value === value) : found[0];
    if (!control || control.disabled) return false;
    if (control.type === "radio" || control.type === "checkbox") control.checked = true;
    else control.value = value;
    tab.left = left;
    control.dispatchEvent(new Event("input", { bubbles: true }));
    control.dispatchEvent(new Event("change", { bubbles: true }));
    await settled();
    tab.left = tab.isDead ? 0 : -1;
    return !tab.isDead;
  }

  async function photo(name, bytes, caption, left = -1) {
    const { tab } = devices.get(name);
    const [input] = controls(tab?.doc, "photo");
    const [words] = controls(tab?.doc, "photo_caption");
    if (!input) return false;
    words.value = caption;
    words.dispatchEvent(new Event("change", { bubbles: true }));
    const files = new DataTransfer();
    files.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], "photo.png", { type: "image/png" }));
    input.files = files.files;
    tab.left = left;
    input.dispatchEvent(new Event("change", { bubbles: true }));
    await settled();
    tab.left = tab.isDead ? 0 : -1;
    return !tab.isDead;
  }

  // Press the button of that text in the form that has it; the first one of the main form without.
  async function press(name, words, left = -1) {
    const { tab } = devices.get(name);
    const buttons = [...(tab?.doc.querySelectorAll("form button, main button") || [])];
    const button = buttons.find((one) => one.textContent.trim().replace(/\s+/g, " ").startsWith(words));
    if (!button) return false;
    tab.left = left;
    if (button.type === "submit" && button.form) tab.submit(button.form, button);
    else button.click();
    await settled();
    return true;
  }

  async function choose_unit(name, ref) {
    const box = devices.get(name).tab.doc.querySelector(`[name=units][value="${ref}"]`);
    if (box) box.checked = true;
    return Boolean(box);
  }

  // Signed in by typing: the worker sees it go by, and shows no kept page until a page says who it was.
  async function signed_in(name) {
    const { worker } = devices.get(name);
    const answer = { type: "opaqueredirect", ok: false };
    const fetched = worker.scope.fetch;
    worker.scope.fetch = async () => answer;
    const request = { method: "POST", url: location.origin + worker.scope.ABOUT.signIn, mode: "navigate" };
    await throughWorker(devices.get(name), request);
    worker.scope.fetch = fetched;
    await settled();
  }

  async function follow(name, words) {
    const device = devices.get(name);
    const links = [...(device.tab?.doc.querySelectorAll("main a[href]") || [])];
    const link = links.find((one) => one.textContent.trim().replace(/\s+/g, " ").startsWith(words));
    if (!link) return false;
    link.dispatchEvent(new Event("click", { bubbles: true, cancelable: true }));
    await visit(name, new URL(link.getAttribute("href"), device.url).href);
    return true;
  }

  async function network(name, isOn) {
    const device = devices.get(name);
    device.isOn = isOn;
    if (isOn && device.tab && !device.tab.isDead) device.tab.events.dispatchEvent(new Event("online"));
    await settled();
  }

  const fate = (name, word) => { devices.get(name).fate = word; };

  async function kill(name) {
    const device = devices.get(name);
    leave(device);
    device.session = sessionOf();
    device.tab = null;
    await settled();
  }

  // All that a person can see and that a device holds, for what the walk states at every step.
  async function seenNow() {
    const all = {};
    for (const name of devices.keys()) all[name] = await told(name);
    return all;
  }

  async function told(name) {
    const device = devices.get(name);
    const items = await during(() => device.worker.scope.OutboxStore.all());
    const tab = device.tab && !device.tab.isDead ? device.tab : null;
    const typed = (item) => item.fields.map(([field, value]) => [field, value instanceof Blob ? `${value.size} bytes` : value]);
    return {
      url: device.url, isOpen: Boolean(tab), held: device.held.length,
      title: tab?.doc.querySelector("h1")?.textContent.trim() || "",
      main: tab?.doc.querySelector("main")?.textContent.replace(/\s+/g, " ").trim() || "",
      kept: tab?.doc.querySelector("[data-kept]")?.textContent.replace(/\s+/g, " ").trim() || "",
      values: tab ? [...tab.doc.querySelectorAll("main form")].flatMap((form) => [...form.elements])
        .filter((one) => one.name && (one.checked || !["checkbox", "radio"].includes(one.type)))
        .map((one) => [one.name, one.value]) : [],
      // The visits that the page where they begin names, and the two sides of the page with two answers.
      lines: [...(tab?.doc.querySelectorAll("[aria-labelledby=open] li, [data-here-only]:not([hidden]) > ul > li") || [])]
        .map((line) => line.textContent.replace(/\s+/g, " ").trim()),
      columns: [1, 2].map((n) => [...(tab?.doc.querySelectorAll("main tbody tr") || [])]
        .map((row) => row.cells[n]?.textContent.trim() || "").join("; ")),
      badge: tab?.doc.getElementById("outbox")?.textContent || "",
      account: tab?.scope.Outbox?.account || "",
      storage: Object.fromEntries(device.storage),
      items: items.map((item) => ({ ...item, fields: typed(item), said: "" })),
      pages: tab?.scope.OutboxOwner?.pages() ?? null, runs: Boolean(tab?.scope.Outbox && tab.scope.VisitStore),
      faults: [...faults],
    };
  }

  const calls = {
    begin: (all) => { given = all; }, reset, keep, visit, seen, fields, type, photo, press, follow, choose_unit, signed_in, network,
    fate, kill, deliver, wait,
  };
  return { pump };
})();
