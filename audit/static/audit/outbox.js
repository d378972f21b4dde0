// Entry forms that lose nothing: what is recorded is kept on the device first, then sent under its request key.
// A form takes part by `data-outbox="what it is"`; `data-outbox-group` names the draft it belongs to, and
// `data-outbox-key="own"` says that its entry can be made only once. Without this file, or without a database in the
// browser, every form is sent as it always was.
(() => {
  "use strict";
  const { OutboxStore: store, OutboxSend: sender, OutboxTyped: typed, OutboxOwner: owner, OutboxPages: pages } = self;
  const badge = document.getElementById("outbox");
  const page = document.documentElement;
  if (!store || !sender || !typed || !pages || !badge || !("indexedDB" in self)) return;

  const { state, signIn, signOut, worker } = badge.dataset;
  // Set on pages that come from the store of this device.
  const keptAt = page.dataset.keptAt;
  let account = badge.dataset.account;

  // ---------------------------------------------------------------- small helpers

  function el(tag, attributes = {}, ...children) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (typeof value === "function") made.addEventListener(name, value);
      else if (value === true) made.setAttribute(name, "");
      else if (value !== false && value !== "") made.setAttribute(name, value);
    }
    made.append(...children);
    return made;
  }

  const many = (n, one, more = `${one}s`) => `${n} ${n === 1 ? one : more}`;
  const entries = (n) => many(n, "entry", "entries");

  function when(moment) {
    const day = { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" };
    return new Date(moment).toLocaleString("en-GB", day);
  }

  function say(words, ...more) {
    document.querySelector(".outbox-said")?.remove();
    const said = el("p", { class: "note outbox-said", role: "status" }, words, ...more);
    document.querySelector("h1")?.after(said);
    return said;
  }

  // ---------------------------------------------------------------- how many wait

  async function count() {
    const found = account ? await store.itemsOf(account) : await store.all();
    const look = found.filter((item) => item.state === "look").length;
    badge.hidden = found.length === 0;
    const said = [[found.length - look, "waiting"], [look, look === 1 ? "needs a look" : "need a look"]];
    if (account) badge.textContent = said.filter(([n]) => n).map((pair) => pair.join(" ")).join(", ");
    else badge.textContent = `${found.length} waiting on this device: sign in to send`;
  }

  // ---------------------------------------------------------------- sending

  async function sendAll() {
    if (!account || navigator.onLine === false) return null;
    const waiting = (await store.itemsOf(account)).filter((item) => item.state === "waiting");
    if (!waiting.length) return null;
    const { done, stopped } = await sender.flush(account, state);
    const recorded = waiting.filter((item) => done.get(item.id)?.word === "recorded");
    if (recorded.length) say(`Sent and recorded: ${recorded.map((item) => item.label).join("; ")}.`);
    if (stopped === "signed-out") askToSignIn();
    return { done, stopped };
  }

  function askToSignIn() {
    const next = encodeURIComponent(location.pathname + location.search);
    say(
      "You are signed out. What you typed is kept on this device. ",
      el("a", { href: `${signIn}?next=${next}` }, "Sign in to send it"), ".",
    );
  }

  async function sendInTheBackground() {
    try {
      const registration = await navigator.serviceWorker?.getRegistration();
      await registration?.sync?.register("outbox");
    } catch {
      // Not every browser has it; the next page sends.
    }
  }

  // ---------------------------------------------------------------- a form is sent

  function itemOf(form, submitter) {
    const fields = [...new FormData(form, submitter)].filter(([name]) => name !== "csrfmiddlewaretoken");
    const unit = form.elements.unit?.selectedOptions?.[0];
    const about = unit?.value ? `, ${unit.textContent.trim()}` : "";
    return {
      account,
      key: form.elements.request_key.value,
      label: (form.dataset.outbox || document.title) + about,
      group: form.dataset.outboxGroup || "",
      once: form.dataset.outboxKey === "own",
      address: typed.addressOf(form),
      page: location.pathname + location.search,
      token: form.elements.csrfmiddlewaretoken?.value || "",
      fields,
      shown: typed.typedIn(form),
      writtenAt: new Date().toISOString(),
      state: "waiting",
    };
  }

  function sendPlainly(form, submitter) {
    form.dataset.outboxPlain = "1";
    // Not while the first submission is still being dispatched: then a browser ignores the second one.
    setTimeout(() => form.requestSubmit(submitter || undefined));
  }

  document.addEventListener("submit", (event) => {
    const { target: form, submitter } = event;
    if (form.matches(`form[action$="/sign-out/"]`)) return leaving(event, form);
    if (!form.matches("form[data-outbox]") || event.defaultPrevented || form.dataset.outboxPlain) return undefined;
    // A button that asks for more rows records nothing.
    if (!form.elements.request_key || !account || submitter?.formNoValidate) return undefined;
    event.preventDefault();
    if (!form.dataset.outboxBusy) {
      form.dataset.outboxBusy = "1";
      record(form, submitter);
    }
    return undefined;
  });

  async function record(form, submitter) {
    const busy = el("p", { class: "note", role: "status" }, "Recording …");
    form.append(busy);
    let id;
    try {
      id = await store.add(itemOf(form, submitter));
    } catch {
      sendPlainly(form, submitter);
      return;
    }
    const answer = await answerTo(id);
    busy.remove();
    delete form.dataset.outboxBusy;
    await shown(form, submitter, id, answer);
  }

  // For scripts that send without a form, such as a photo of a visit. `group`: sent in order, and held up together.
  // Resolves with its number once it is kept on this device; `send` sends it.
  function keep({ label, address, fields, shown = [], group = "", key = self.crypto.randomUUID(), ...more }) {
    if (!account) return Promise.reject(new Error("Nobody is signed in."));
    const token = document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
    return store.add({
      account, key, label, group, address: new URL(address, location.href).href, page: location.pathname + location.search,
      token, fields, shown, writtenAt: new Date().toISOString(), state: "waiting", bare: true, ...more,
    });
  }

  // Resolves with {id, word, said}: the word of the answer, and the server’s text, when it was tried once.
  async function send(id) {
    const { word, text = "" } = await answerTo(id);
    if (word !== "recorded") sendInTheBackground();
    return { id, word, said: text };
  }

  const queue = (about) => keep(about).then(send);

  function answerTo(id) {
    if (navigator.onLine === false) return Promise.resolve({ word: "unreachable" });
    const heard = new Promise((resolve) => {
      sender.flush(account, state, (each, answer) => each === id && resolve(answer))
        .then(({ stopped }) => resolve({ word: stopped || "unreachable" }), () => resolve({ word: "unreachable" }));
    });
    const late = new Promise((resolve) => setTimeout(resolve, self.Outbox.patience, { word: "late" }));
    return Promise.race([heard, late]);
  }

  async function shown(form, submitter, id, answer) {
    if (answer.word === "recorded") {
      document.dispatchEvent(new CustomEvent("outbox:recorded", { detail: { id } }));
      location.assign(answer.to);
    } else if (answer.word === "refused") {
      // The server’s own page shows what is wrong at each field; the copy goes when that page is here.
      form.elements.csrfmiddlewaretoken.value = (await store.get(id))?.token || form.elements.csrfmiddlewaretoken.value;
      sendPlainly(form, submitter);
    } else if (WHY[answer.word]) {
      await kept(form, id, answer.word);
    } else {
      location.assign(`${badge.getAttribute("href")}#waiting-${id}`);
    }
  }

  const WHY = {
    unreachable: "There is no signal.",
    late: "The server has not answered yet.",
    held: "Something of the same visit, written before it, needs a look first.",
    busy: "The server is busy.",
    "signed-out": "You are signed out.",
    "other-account": "Somebody else is signed in now in this browser. It is sent only under your own name.",
  };

  async function kept(form, id, word) {
    const item = await store.get(id);
    if (!item) return;
    const n = (await store.itemsOf(account)).length;
    const back = form.querySelector(".form-end a");
    const next = encodeURIComponent(badge.getAttribute("href"));
    const panel = el(
      "section", { class: "kept-panel", tabindex: "-1" },
      el("h2", {}, "Kept on this device, not recorded yet"),
      el("p", {}, `${WHY[word]} ${item.label}, written ${when(item.writtenAt)}. ${entries(n)} waiting; each is sent ` +
        "by itself, in order, as soon as the server can be reached."),
      el(
        "div", { class: "form-end" },
        word === "signed-out" || word === "other-account"
          ? el("a", { class: "button", href: `${signIn}?next=${next}` }, "Sign in to send it") : "",
        el("a", { class: "button button--quiet", href: badge.getAttribute("href") }, "What is waiting"),
        el("a", { class: "button button--quiet", href: location.pathname + location.search }, "Another of these"),
        back ? el("a", { href: back.getAttribute("href") }, "Back") : "",
      ),
    );
    form.replaceWith(panel);
    panel.focus();
    for (const each of document.querySelectorAll("[data-until-queued]")) each.hidden = true;
    self.addEventListener("outbox-changed", () => becameOf(id, panel));
    navigator.storage?.persist?.().catch(() => {});
    document.dispatchEvent(new CustomEvent("outbox:kept", { detail: { id, key: item.key, word } }));
    await sendInTheBackground();
  }

  // What became of it while the page stayed open: sent by this page, by another one or by the worker.
  async function becameOf(id, panel) {
    const item = await store.get(id);
    if (item?.state === "waiting") return;
    const { to = "" } = ((await store.meta("recorded")) || []).find((one) => one.id === id) || {};
    const told = to ? ["Sent and recorded", "Look at the record", to] : item
      ? ["Sent, and not recorded: it needs a look", "See what is wrong", `${badge.getAttribute("href")}#waiting-${id}`]
      : ["It no longer waits on this device", "What is waiting", badge.getAttribute("href")];
    const [title, words, href] = told;
    if (panel.querySelector("h2").textContent === title) return;
    panel.setAttribute("role", "status");
    panel.replaceChildren(el("h2", {}, title), el("div", { class: "form-end" }, el("a", { class: "button", href }, words)));
  }

  // ---------------------------------------------------------------- signing out

  const only = (n) => (n === 1 ? "is" : "are");

  // What of this person is only here, in words; "" when nothing is.
  async function onlyHere() {
    const left = account ? (await store.itemsOf(account).catch(() => [])).length : 0;
    const pages = owner?.pages() || 0;
    const said = [left && entries(left), pages && many(pages, "page of a visit", "pages of a visit")].filter(Boolean);
    return said.length ? `${said.join(" and ")} of yours ${only(left + pages)} only on this device.` : "";
  }

  async function leaving(event, form) {
    if (form.dataset.outboxPlain) return;
    event.preventDefault();
    await Promise.race([sendAll().catch(() => null), new Promise((go) => setTimeout(go, 5000))]);
    const left = await onlyHere();
    if (left && !form.dataset.outboxAsked) {
      form.dataset.outboxAsked = "1";
      form.closest("details")?.removeAttribute("open");
      say(
        `${left} It stays here, not encrypted, until you sign in on this device again; nobody else who signs in sees ` +
          "it on these pages. ",
        el("button", { class: "linklike", type: "button", click: () => form.requestSubmit() }, "Sign out all the same"),
      ).scrollIntoView({ block: "center" });
      return;
    }
    owner?.putAside(account);
    await store.leave().catch(() => {});
    // The worker sees to it that the server is told; without one, the next page does.
    if (!navigator.serviceWorker?.controller) await store.setMeta("leaving", "1").catch(() => {});
    form.dataset.outboxPlain = "1";
    form.submit();
  }

  async function finishLeaving() {
    if (account || navigator.onLine === false || !(await store.meta("leaving"))) return;
    await sender.finishLeaving(state, signOut);
    for (const note of document.querySelectorAll(".note--stop")) note.remove();
    say("You are signed out on the server too. ", el("a", { href: signIn }, "Sign in"), ".");
  }

  // ---------------------------------------------------------------- begin

  async function begin() {
    if (keptAt !== undefined) account ||= await store.meta("account");
    else if (account) await store.takeOver(account);
    self.Outbox.account = account;
    if (account) await pages.settleShown(account);
    pages.renew({ el });
    await pages.openTyped(account, { el, when });
    await count();
    document.dispatchEvent(new CustomEvent("outbox:ready"));
    await goOn();
  }

  async function goOn() {
    await finishLeaving().catch(() => {});
    return sendAll();
  }

  self.addEventListener("outbox-changed", () => count());
  store.news?.addEventListener("message", () => self.dispatchEvent(new Event("outbox-changed")));
  // “Back” after signing out: the browser shows the page as it was, whoever sits there now.
  self.addEventListener("pageshow", async ({ persisted }) => {
    if (!persisted || !account) return;
    page.hidden = true;
    if ((await store.meta("account").catch(() => account)) === account) page.hidden = false;
    else location.reload();
  });
  self.addEventListener("online", goOn);
  document.addEventListener("visibilitychange", () => document.hidden || goOn());
  setInterval(goOn, 60000);

  self.Outbox = { account, keptAt, patience: 15000, el, when, many, entries, sendAll, keep, send, queue };
  if (account && "serviceWorker" in navigator) navigator.serviceWorker.register(worker).catch(() => {});
  document.addEventListener("DOMContentLoaded", () => begin().catch(() => {}));
})();
