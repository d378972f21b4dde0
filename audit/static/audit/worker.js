// The service worker, served together with outbox-store.js from the root. Pages come from the network; what is kept
// is shown only when the network does not answer, and says so.
"use strict";

const SHELL = `shell-${ABOUT.version}`;
const PATIENCE = 8000;
const NEVER_KEPT = ["/admin/", "/inspect/", "/check/", "/invitation/", ABOUT.signIn, ABOUT.waiting, ABOUT.offline];
let generation = 0;

async function fillShell() {
  const cache = await caches.open(SHELL);
  // Without credentials: these two pages are kept for whoever uses the device, and name nobody.
  const own = [ABOUT.offline, ABOUT.waiting].map((path) => new Request(path, { credentials: "omit", cache: "reload" }));
  const files = ABOUT.shell.map((path) => new Request(path, { cache: "reload" }));
  await cache.addAll([...own, ...files]);
}

async function dropOldShells() {
  await self.clients.claim();
  const old = (await caches.keys()).filter((name) => name.startsWith("shell-") && name !== SHELL);
  await Promise.all(old.map((name) => caches.delete(name)));
  await OutboxStore.dropOldPages();
}

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(fillShell());
});
self.addEventListener("activate", (event) => event.waitUntil(dropOldShells()));

self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(sendLater());
});

async function sendLater() {
  await OutboxSend.finishLeaving(ABOUT.state, ABOUT.signOut[0]);
  const account = await OutboxStore.meta("account");
  if (account) await OutboxSend.flush(account, ABOUT.state);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && ABOUT.signOut.includes(url.pathname)) event.respondWith(signOut(request));
  else if (request.method === "POST" && url.pathname === ABOUT.signIn) event.respondWith(signIn(request));
  else if (request.method === "POST" && request.mode === "navigate") event.respondWith(sent(request));
  else if (request.method === "GET" && request.mode === "navigate") event.respondWith(page(event, url));
  else if (request.method === "GET" && url.pathname.startsWith(ABOUT.static)) event.respondWith(file(request));
});

// ---------------------------------------------------------------- files

async function file(request) {
  const kept = await caches.match(request, { cacheName: SHELL });
  if (kept && ABOUT.fixed) return kept;
  try {
    const response = await fetch(request);
    if (response.ok) {
      const copy = response.clone();
      caches.open(SHELL).then((cache) => cache.put(request, copy)).catch(() => {});
    }
    return response;
  } catch {
    return kept || Response.error();
  }
}

// ---------------------------------------------------------------- pages

const later = (ms) => new Promise((resolve) => setTimeout(resolve, ms, null));

// Signed out here without a signal: before anything else the server is told, or it would show whose device it was.
async function stillLeaving() {
  const finished = OutboxSend.finishLeaving(ABOUT.state, ABOUT.signOut[0]).then(() => true, () => false);
  return !(await Promise.race([finished, later(PATIENCE)]));
}

async function page(event, url) {
  if ((await OutboxStore.meta("leaving").catch(() => "")) && (await stillLeaving())) {
    return url.pathname === ABOUT.waiting ? shellPage(ABOUT.waiting, LEFT) : shellPage(ABOUT.offline, LEFT, LEFT_TITLE);
  }
  const born = generation;
  const network = fetch(event.request).then(
    (response) => {
      event.waitUntil(keep(response.clone(), url, born).catch(() => {}));
      return response;
    },
    () => null,
  );
  event.waitUntil(network);
  const kept = await OutboxStore.findPage(url.href).catch(() => null);
  const response = await (kept ? Promise.race([network, later(PATIENCE)]) : network);
  if (response) return response;
  if (kept) return marked(kept);
  return shellPage(url.pathname === ABOUT.waiting ? ABOUT.waiting : ABOUT.offline);
}

const attribute = (html, name) => (html.match(new RegExp(`\\b${name}="([^"]*)"`)) || ["", ""])[1];
const escaped = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll('"', "&quot;");

const NO_LONGER = [403, 404, 410];

async function keep(response, url, born) {
  const isPage = (response.headers.get("Content-Type") || "").startsWith("text/html");
  if (NO_LONGER.includes(response.status)) await OutboxStore.dropPage(await OutboxStore.meta("account"), url.href);
  if (/no-store/.test(response.headers.get("Cache-Control") || "")) return;
  if (response.status !== 200 || !isPage || NEVER_KEPT.some((path) => url.pathname.startsWith(path))) return;
  if (url.searchParams.has("as_of") || url.searchParams.has("known_at")) return;
  const html = await response.text();
  const account = attribute(html, "data-account");
  // Signed out while the page was on its way: it is not kept.
  if (!account || born !== generation) return;
  await OutboxStore.takeOver(account);
  await OutboxStore.keepPage(account, url.href, html, OutboxStore.titleOf(html));
}

async function marked(kept) {
  const at = new Date(Number(kept.headers.get("X-Kept-At")));
  const day = at.toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });
  const time = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const said = `Page kept on this device from ${day}, ${time}, shown without a signal. What was recorded since then is ` +
    "not on it.";
  const html = (await kept.text()).replace("<html", `<html data-kept-at="${at.toISOString()}"`);
  return pageOf(withNote(html, said, "kept-banner"));
}

function withNote(html, said, name) {
  return html.replace(/<main\b[^>]*>/, (tag) => `${tag}<p class="note ${name}" role="status">${escaped(said)}</p>`);
}

function pageOf(html) {
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": ABOUT.policy };
  return new Response(html, { headers });
}

async function shellPage(path, note = "", heading = "") {
  const kept = await caches.match(path, { cacheName: SHELL });
  if (!kept) return Response.error();
  const plain = (await kept.text()).replace("<html", '<html data-kept-at=""');
  const html = heading ? plain.replace(/<h1>[^<]*<\/h1>/, `<h1>${escaped(heading)}</h1>`) : plain;
  return pageOf(note ? withNote(html, note, "note--stop") : html);
}

// ---------------------------------------------------------------- what is sent without the outbox

async function sent(request) {
  try {
    return await fetch(request);
  } catch {
    return shellPage(ABOUT.offline, "Nothing was sent: this form needs the server. Go back and send it again later.");
  }
}

const LEFT_TITLE = "Signed out on this device";
const LEFT =
  "You are signed out on this device, and its pages are removed. The server could not be told yet: it is told by itself " +
  "as soon as there is a signal and this browser is open. What waits to be sent stays on this device for you.";

async function signOut(request) {
  generation += 1;
  await OutboxStore.leave();
  await OutboxStore.setMeta("leaving", "1");
  try {
    const response = await fetch(request);
    if (response.type === "opaqueredirect" || response.ok) await OutboxStore.setMeta("leaving", "");
    return response;
  } catch {
    await self.registration.sync?.register("outbox").catch(() => {});
    return shellPage(ABOUT.offline, LEFT, LEFT_TITLE);
  }
}

async function signIn(request) {
  // Until the next page says who it was, no kept page is shown: it may be somebody else’s.
  try {
    const response = await fetch(request);
    if (response.type === "opaqueredirect") {
      generation += 1;
      await OutboxStore.setMeta("locked", "1");
      await OutboxStore.setMeta("leaving", "");
    }
    return response;
  } catch {
    return shellPage(ABOUT.offline, "Signing in needs a signal. Go back and try again later.");
  }
}
