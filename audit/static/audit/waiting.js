// The page of what waits on this device, and the list of kept pages on the page without signal.
(() => {
  "use strict";
  const store = self.OutboxStore;
  const { el, when, many, entries, sendAll } = self.Outbox || {};
  const { answerPage, problemsOf } = self.OutboxTyped || {};
  if (!store || !el) return;
  const part = (name) => document.querySelector(`[data-${name}]`);
  const list = part("waiting-list");

  const WORDS = {
    waiting: "Waiting to be sent",
    full: "Waiting: the server keeps no more files today, and it is sent by itself later",
    held: "Waits for the one above of the same visit, which needs a look",
    refused: "Needs a look: the server could not record it as typed",
    conflict: "Needs a look: something else stands under this entry already",
    over: "Needs a look: this was finished already, and nothing was added to it",
    forbidden: "Needs a look: your role may not record this",
    gone: "Needs a look: the server knows no such page for you",
    "too-large": "Needs a look: the file is too large",
    fault: "Needs a look: the server failed on it",
    shown: "Needs a look: the server showed the form again and recorded nothing",
    "form-too-old": "Needs a look: the form could not be matched with your log-in",
  };
  const WAY_OUT = {
    refused: "Open the form: it is filled with what you typed. Put it right and record it.",
    conflict: "Nothing was overwritten. Open the form, look at what was changed, and record it again.",
    over: "Look at what was recorded. What is missing there is recorded as an entry of its own; then delete this.",
    forbidden: "Ask the clinic’s coordinator to record it or to give you the role; save it as a file to hand it on.",
    gone: "The clinic may no longer be yours, or the thing was moved. Save it as a file and hand it to the coordinator.",
    "too-large": "Open the form and choose a smaller file.",
    fault: "Try again. If it fails again, save it as a file and tell whoever runs this site.",
    shown: "Open the form and record it from there.",
    "form-too-old": "Sign out, sign in, and try again.",
  };
  const WAY_OUT_BARE = {
    refused: "Open its page and take it again there; then delete this.",
    "too-large": "Open its page and take it again in a smaller size; then delete this.",
  };

  const button = (words, click, kind = "button--quiet") =>
    el("button", { class: `button ${kind}`, type: "button", click }, words);
  const pairs = (found) =>
    el("dl", { class: "facts" }, ...found.flatMap(([label, value]) => [el("dt", {}, label), el("dd", {}, value)]));

  // ---------------------------------------------------------------- deleting asks first

  function deleteOf(item) {
    const place = el("div", { class: "waiting-delete" });
    const ask = () => {
      place.replaceChildren(
        el("p", {}, "It was never recorded, and this device has the only copy. Delete it?" +
          (item.group ? " What else waits of the same visit is then sent without it." : "")),
        button("Delete it for good", () => store.remove(item.id), "button--stop"),
        button("Keep it", start),
      );
      place.querySelector("button:last-child").focus();
    };
    const start = () => place.replaceChildren(button("Delete …", ask));
    start();
    return place;
  }

  // ---------------------------------------------------------------- what stands, what you typed

  function factsOf(html) {
    const found = new DOMParser().parseFromString(html, "text/html").querySelector("main");
    const rows = [...(found?.querySelectorAll("tbody tr") || [])].map((row) => [row.querySelector("th"), row.lastElementChild]);
    const terms = [...(found?.querySelectorAll("dl.facts dt") || [])].map((dt) => [dt, dt.nextElementSibling]);
    const text = (node) => node?.textContent.trim().replace(/\s+/g, " ") || "";
    return [...rows, ...terms].map((pair) => pair.map(text)).filter(([a, b]) => a && b && !b.startsWith("—") && a !== b);
  }

  async function showStanding(place, address) {
    try {
      const response = await fetch(address, { credentials: "same-origin" });
      if (response.ok && !response.redirected) place.append(pairs(factsOf(await response.text())));
    } catch {
      place.append(el("p", { class: "muted" }, "Its details are shown with a signal."));
    }
  }

  function sendAsNew(item) {
    const key = self.crypto.randomUUID();
    const fields = item.fields.map(([name, value]) => [name, name === "request_key" ? key : value]);
    return store.put({ ...item, key, fields, state: "waiting", answer: "", said: "" }).then(sendAll);
  }

  const sideBySide = (left, right) => el("div", { class: "side-by-side" }, left, right);
  const side = (title, ...rest) => el("div", {}, el("h3", {}, title), ...rest);

  // An entry stands under the same key already.
  function againstEntry(item, stands) {
    const address = stands.querySelector("a")?.getAttribute("href");
    const left = side("What stands", el("p", {}, stands.textContent.trim()));
    if (address) {
      left.append(el("p", {}, el("a", { href: address }, "Look at it, or correct it there")));
      showStanding(left, address);
    }
    const anew = button("Record as an entry of its own", () => sendAsNew(item));
    return el(
      "div", {},
      el("p", {}, "Nothing was overwritten. If what you typed corrects what stands, correct it there and delete this. " +
        (item.once ? "" : "If it is a second, separate event, record it as an entry of its own.")),
      sideBySide(left, side("What you typed, not recorded", pairs(item.shown))),
      item.once ? "" : el("div", { class: "form-end" }, anew),
    );
  }

  // Another device kept another answer to a page of the same visit; the server’s page has both.
  function againstDevice(rows) {
    const text = (cell) => cell.textContent.trim().replace(/\s+/g, " ");
    const label = (row) => text(row.cells[0]).replace(/ differs$/, ", differs");
    const column = (n) => pairs(rows.map((row) => [label(row), text(row.cells[n])]));
    return [el("p", {}, WAY_OUT.conflict), sideBySide(side("Kept already", column(1)), side("What you typed", column(2)))];
  }

  function conflictOf(item) {
    const said = answerPage(item);
    const stands = said.querySelector("[data-outbox-stands]");
    if (stands) return [againstEntry(item, stands)];
    const rows = [...said.querySelectorAll("main table tbody tr")].filter((row) => row.cells.length === 3);
    return rows.length ? againstDevice(rows) : null;
  }

  // ---------------------------------------------------------------- one entry

  async function again(item) {
    await store.put({ ...item, state: "waiting", answer: "", said: "", after: 0 });
    await sendAll();
  }

  function reasonOf(item) {
    if (item.answer === "forbidden") return [...answerPage(item).querySelectorAll("main > p")].map((p) => p.textContent);
    return problemsOf(item);
  }

  function partsOf(item) {
    const found = [pairs(item.shown)];
    const full = item.answer === "full" ? problemsOf(item) : [];
    if (full.length) found.unshift(el("ul", {}, ...full.map((words) => el("li", {}, words))));
    if (item.state !== "look") return found;
    const conflict = item.answer === "conflict" && !item.taken ? conflictOf(item) : null;
    if (conflict) return conflict;
    const reasons = reasonOf(item);
    if (reasons.length) found.unshift(el("ul", {}, ...reasons.map((words) => el("li", {}, words))));
    const visit = item.taken && "All that was typed is kept with the visit. Open it, put right what is named there, and record it.";
    found.unshift(el("p", {}, visit || (item.bare && WAY_OUT_BARE[item.answer]) || WAY_OUT[item.answer] || ""));
    return found;
  }

  // Nothing comes of sending again what stands in another way already.
  const FINAL = new Set(["conflict", "over"]);

  function entryOf(item, held) {
    const look = item.state === "look";
    const later = item.answer === "full" ? WORDS.full : WORDS.waiting;
    const words = look ? WORDS[item.answer] || WORDS.fault : held ? WORDS.held : later;
    const mayTry = item.taken ? false : look ? !FINAL.has(item.answer) : item.answer === "full";
    const href = `${item.page.split("#")[0]}#outbox=${item.id}`;
    const form = item.taken
      ? el("a", { class: "button", href: item.page }, "Open the visit")
      : el("a", { class: "button button--quiet", href }, item.bare ? "Open its page" : "Open the form");
    return el(
      "section", { class: "waiting-item", id: `waiting-${item.id}` },
      el("h2", {}, item.label),
      el("p", {}, el("strong", {}, words), `. Written ${when(item.writtenAt)}.`),
      ...partsOf(item),
      el("div", { class: "form-end" }, form, mayTry ? button("Try again", () => again(item)) : "",
        deleteOf(item)),
    );
  }

  function entriesOf(mine) {
    const stuck = new Set();
    return mine.map((item) => {
      const made = entryOf(item, item.group && stuck.has(item.group));
      if (item.state === "look" && item.group) stuck.add(item.group);
      return made;
    });
  }

  function saidOfOthers(account, n) {
    if (!n) return "";
    return account
      ? `${entries(n)} of another log-in on this device: sent when that person signs in here, and not shown to you.`
      : `${entries(n)} on this device. Sign in to see and send what is yours.`;
  }

  async function show() {
    const { account } = self.Outbox;
    const all = await store.all();
    const mine = account ? all.filter((item) => item.account === account) : [];
    const pages = account ? self.OutboxOwner?.pages() || 0 : 0;
    list.replaceChildren(...entriesOf(mine));
    part("waiting-do").hidden = mine.length === 0;
    part("waiting-none").hidden = all.length + pages > 0;
    const said = [
      pages ? `${many(pages, "page of a visit", "pages of a visit")} on this device only: sent when you open the visit.` : "",
      saidOfOthers(account, all.length - mine.length),
    ].filter(Boolean).join(" ");
    part("waiting-others").hidden = !said;
    part("waiting-others").textContent = said;
  }

  const STOPPED = {
    unreachable: "The server cannot be reached now. Everything stays here and is sent later.",
    busy: "The server is busy now. Everything stays here and is sent later.",
    "signed-out": "You are signed out. Sign in to send what waits.",
    "other-account": "Somebody else is signed in now. What waits is sent only under your own name.",
  };

  async function sendNow() {
    const said = part("waiting-said");
    said.hidden = false;
    said.textContent = "Sending …";
    const result = await sendAll();
    const left = (await store.itemsOf(self.Outbox.account)).length;
    const ended = left ? "What is left needs a look." : "Everything is sent and recorded.";
    said.textContent = result ? STOPPED[result.stopped] || ended : "No signal, or nothing that can be sent as it is.";
    said.hidden = !said.textContent;
  }

  // ---------------------------------------------------------------- as a file

  const coded = (file) => new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve({ file: file.name, type: file.type, base64: reader.result.split(",")[1] || "" });
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(file);
  });

  async function exported() {
    const found = [];
    for (const item of await store.itemsOf(self.Outbox.account)) {
      const fields = [];
      for (const [name, value] of item.fields) fields.push([name, value instanceof Blob ? await coded(value) : value]);
      const { key, label, address, writtenAt, state, answer = "", shown } = item;
      found.push({ request_key: key, label, address, written_at: writtenAt, state, answer, typed: shown, fields });
    }
    const text = JSON.stringify({ what: "entries that were never recorded", entries: found }, null, 2);
    const href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    el("a", { href, download: "waiting-to-be-sent.json" }).click();
    setTimeout(() => URL.revokeObjectURL(href), 10000);
  }

  // ---------------------------------------------------------------- the page without signal

  const line = (page) =>
    el("li", {}, el("a", { href: page.address }, page.title), el("span", { class: "muted small" }, ` from ${when(page.at)}`));

  // Pages to look at first; the many that are filled in are reached from them, and stand below.
  async function listPages() {
    const kept = (await store.pages()).sort((a, b) => a.title.localeCompare(b.title));
    const forms = kept.filter((page) => page.form);
    // By title: the first page of the site is one of them.
    const places = new Map(kept.filter((page) => !page.form).map((page) => [page.title, page]));
    part("kept-none").hidden = kept.length > 0;
    part("kept-list").replaceChildren(...[...places.values()].map(line));
    part("kept-more").hidden = !forms.length;
    part("kept-count").textContent = `${many(forms.length, "page")} to fill in`;
    part("kept-forms").replaceChildren(...forms.map(line));
  }

  document.addEventListener("outbox:ready", () => {
    if (part("kept-list")) listPages();
    if (!list) return;
    part("send-now").addEventListener("click", sendNow);
    part("export").addEventListener("click", exported);
    self.addEventListener("outbox-changed", show);
    show();
  });
})();
