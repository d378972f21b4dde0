// What this device keeps: entries that wait to be sent, and pages to look at without a signal.
// Shared by the pages and by the service worker; touches no document.
self.OutboxStore = (() => {
  "use strict";
  const DAYS = 14;
  const KEPT_FOR = DAYS * 24 * 3600 * 1000;
  const MOST_PAGES = 5000;
  const COUNTED_EACH = 50; // pages
  const PAGES = "pages-";
  let puts = 0;
  const news = "BroadcastChannel" in self ? new BroadcastChannel("outbox") : null;

  // ---------------------------------------------------------------- the database

  let opening = null;
  function database() {
    opening ??= new Promise((resolve, reject) => {
      const request = indexedDB.open("unit-standing", 1);
      request.onupgradeneeded = () => {
        request.result.createObjectStore("items", { keyPath: "id", autoIncrement: true });
        request.result.createObjectStore("meta", { keyPath: "name" });
      };
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
    return opening;
  }

  async function inStore(name, mode, work) {
    const db = await database();
    return new Promise((resolve, reject) => {
      const transaction = db.transaction(name, mode);
      const request = work(transaction.objectStore(name));
      transaction.oncomplete = () => resolve(request && request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }

  const all = () => inStore("items", "readonly", (store) => store.getAll());
  const get = (id) => inStore("items", "readonly", (store) => store.get(id));
  const meta = async (name) => (await inStore("meta", "readonly", (store) => store.get(name)))?.value ?? "";
  const setMeta = (name, value) => inStore("meta", "readwrite", (store) => store.put({ name, value }));

  // A channel does not speak to the page that uses it, so that one is told by an event.
  function tell() {
    if (news) news.postMessage("changed");
    self.dispatchEvent(new Event("outbox-changed"));
  }

  async function put(item) {
    const id = await inStore("items", "readwrite", (store) => store.put(item));
    tell();
    return id;
  }

  async function remove(id) {
    await inStore("items", "readwrite", (store) => store.delete(id));
    tell();
  }

  async function itemsOf(account) {
    return (await all()).filter((item) => item.account === account);
  }

  // The same form again takes the place of what waited under its key, and its turn. Within a group it goes to the end:
  // a visit that is recorded anew comes after the photos that were taken since.
  async function add(item) {
    const db = await database();
    const id = await new Promise((resolve, reject) => {
      const transaction = db.transaction("items", "readwrite");
      const store = transaction.objectStore("items");
      let added;
      store.getAll().onsuccess = ({ target }) => {
        const same = target.result.find((other) => other.account === item.account && other.key === item.key);
        if (same && item.group) store.delete(same.id);
        added = store.put(same && !item.group ? { ...item, id: same.id } : item);
      };
      transaction.oncomplete = () => resolve(added.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
    tell();
    return id;
  }

  // Change what waits under this number, in one transaction; false when it is no longer here, such as sent meanwhile.
  async function change(id, make) {
    const db = await database();
    const done = await new Promise((resolve, reject) => {
      const transaction = db.transaction("items", "readwrite");
      const store = transaction.objectStore("items");
      let here = false;
      store.get(id).onsuccess = ({ target }) => {
        here = Boolean(target.result);
        if (here) store.put(make(target.result));
      };
      transaction.oncomplete = () => resolve(here);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
    if (done) tell();
    return done;
  }

  // ---------------------------------------------------------------- whose pages

  const nameOf = (account) => PAGES + account;

  // Where to go afterwards makes no other page.
  function addressOf(address) {
    const url = new URL(address, self.location.origin);
    url.hash = "";
    url.searchParams.delete("next");
    url.searchParams.sort();
    return url.href;
  }

  async function dropPages(except = "") {
    if (!("caches" in self)) return;
    const names = (await caches.keys()).filter((name) => name.startsWith(PAGES) && name !== except);
    await Promise.all(names.map((name) => caches.delete(name)));
  }

  // No page is shown from the store before a page of the server has said again who is signed in.
  async function leave() {
    await setMeta("account", "");
    await dropPages();
  }

  async function takeOver(account) {
    if ((await meta("account")) !== account) {
      await dropPages(nameOf(account));
      await setMeta("account", account);
    }
    await setMeta("locked", "");
  }

  // ---------------------------------------------------------------- pages

  const plain = (text) =>
    text.trim().replaceAll("&quot;", "”").replaceAll("&#x27;", "’").replaceAll("&amp;", "&").replace(/\s+/g, " ");

  // One form, and little else; a page with several is also there to be looked at.
  const toFillIn = (html) => (html.match(/<form[^>]* data-(outbox|visit)=/g) || []).length === 1;

  // By its title, and what it is about where several pages have the same title.
  function titleOf(html) {
    const title = plain((html.match(/<title>([^<]*)<\/title>/) || ["", ""])[1]);
    const about = plain((html.match(/<p class="lede">([^<]{1,80})<\/p>/) || ["", ""])[1]);
    return toFillIn(html) && about ? `${title}: ${about}` : title;
  }

  const header = (page, name) => decodeURIComponent(page?.headers.get(name) || "");

  // `along`: with what it was taken along, so that it goes when that is taken along anew without it. Nothing is kept for
  // somebody who has signed out meanwhile.
  async function keepPage(account, address, html, title, along = "") {
    if (!account || !("caches" in self) || (await meta("account")) !== account) return;
    const cache = await caches.open(nameOf(account));
    const before = await cache.match(addressOf(address));
    const headers = {
      "Content-Type": "text/html; charset=utf-8",
      "X-Kept-At": String(Date.now()),
      "X-Title": encodeURIComponent(title),
      "X-To-Fill-In": toFillIn(html) ? "1" : "",
      "X-Along": encodeURIComponent(along || header(before, "X-Along")),
    };
    await cache.put(addressOf(address), new Response(html, { headers }));
    puts += 1;
    if (puts % COUNTED_EACH) return; // counting thousands of pages takes longer than keeping one
    const kept = await cache.keys();
    await Promise.all(kept.slice(0, Math.max(0, kept.length - MOST_PAGES)).map((request) => cache.delete(request)));
  }

  // Pages that were taken along with it before and are not among these addresses. Returns how many were dropped.
  async function dropAlong(account, along, addresses) {
    const cache = await caches.open(nameOf(account));
    const wanted = new Set(addresses.map(addressOf));
    let dropped = 0;
    for (const request of await cache.keys()) {
      if (wanted.has(request.url)) continue;
      const before = header(await cache.match(request), "X-Along");
      if (before === along && (await cache.delete(request))) dropped += 1;
    }
    return dropped;
  }

  async function dropPage(account, address) {
    if ("caches" in self) await (await caches.open(nameOf(account))).delete(addressOf(address));
  }

  async function pagesCache() {
    if (!("caches" in self)) return null;
    const account = await meta("account");
    if (!account || (await meta("locked"))) return null;
    return caches.open(nameOf(account));
  }

  async function fresh(cache, address) {
    const found = await cache.match(address);
    if (!found) return null;
    if (Date.now() - Number(found.headers.get("X-Kept-At")) <= KEPT_FOR) return found;
    await cache.delete(address);
    return null;
  }

  // The page of that address; of a form with something chosen beforehand also the bare form.
  async function findPage(address) {
    const cache = await pagesCache();
    if (!cache) return null;
    const url = new URL(addressOf(address));
    return (await fresh(cache, url.href)) || (url.search ? fresh(cache, url.origin + url.pathname) : null);
  }

  async function pages() {
    const cache = await pagesCache();
    if (!cache) return [];
    const found = [];
    for (const request of await cache.keys()) {
      const page = await fresh(cache, request.url);
      if (page) {
        const title = header(page, "X-Title");
        const [at, form] = [Number(page.headers.get("X-Kept-At")), Boolean(page.headers.get("X-To-Fill-In"))];
        found.push({ address: request.url, title, at, form });
      }
    }
    return found;
  }

  async function dropOldPages() {
    if (!("caches" in self)) return;
    for (const name of await caches.keys()) {
      if (!name.startsWith(PAGES)) continue;
      const cache = await caches.open(name);
      for (const request of await cache.keys()) await fresh(cache, request.url);
    }
  }

  return {
    DAYS, news, tell, all, get, add, put, change, remove, itemsOf, meta, setMeta, leave, takeOver, titleOf, keepPage, findPage,
    pages, dropAlong, dropPage, dropOldPages, addressOf,
  };
})();
