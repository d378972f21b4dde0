// “Take along for today”: fetches the pages that the server names and keeps them on this device.
(() => {
  "use strict";
  const store = self.OutboxStore;
  const { el, when, many, keptAt } = self.Outbox || {};
  if (!store || !el) return;
  const MOST_PAGES = 4000;
  const MOST_BYTES = 120e6;
  const AT_ONCE = 3;
  const AFTER_ALL_LEFT = new Set([403, 404, 410]);

  // ---------------------------------------------------------------- what is named

  async function listed(address) {
    const response = await fetch(address, { credentials: "same-origin", cache: "no-store" });
    if (!response.ok || response.redirected) throw new Error(`status ${response.status}`);
    return response.json();
  }

  // The pages of each place in turn, as long as there is room for all of a place; what found none is named.
  async function chosen(address) {
    const { name, addresses, more = [] } = await listed(address);
    const found = new Set(addresses);
    const without = [];
    for (const each of more) {
      const place = without.length ? null : await listed(each.address);
      if (place && found.size + place.addresses.length <= MOST_PAGES) place.addresses.forEach((one) => found.add(one));
      else without.push(each.name);
    }
    return { name, addresses: [...found].slice(0, MOST_PAGES), cut: Math.max(0, found.size - MOST_PAGES), without };
  }

  // ---------------------------------------------------------------- fetching

  // A visit that is being typed names its further pages itself.
  const furtherOf = (page) => (page.querySelector("form[data-visit]:not([data-unbegun])")?.dataset.along || "").split(" ");

  async function takePage(address, along) {
    const { account } = self.Outbox;
    const headers = { "X-Keep": "1" }; // to be kept: steps of a visit are given before the unit is identified
    const response = await fetch(address, { credentials: "same-origin", cache: "no-store", headers });
    if (AFTER_ALL_LEFT.has(response.status)) await store.dropPage(account, address);
    const html = response.ok ? await response.text() : "";
    const found = new DOMParser().parseFromString(html, "text/html");
    if (!html || found.getElementById("outbox")?.dataset.account !== account) throw new Error(`status ${response.status}`);
    const title = store.titleOf(html);
    const kept = [...new Set([address, response.url])];
    for (const each of kept) await store.keepPage(account, each, html, title, along);
    return { kept, size: new Blob([html]).size, further: furtherOf(found).filter(Boolean) };
  }

  async function takeAll(addresses, along, tell) {
    const took = { pages: 0, bytes: 0, kept: [], missed: [], full: 0 };
    const left = [...addresses];
    const named = new Set(addresses);
    const name = (address) => {
      if (named.has(address) || named.size >= MOST_PAGES) return;
      named.add(address);
      left.push(address);
    };
    async function one() {
      for (let next = left.shift(); next; next = left.shift()) {
        if (took.bytes > MOST_BYTES) took.full += 1;
        else {
          try {
            const { kept, size: bytes, further } = await takePage(next, along);
            took.kept.push(...kept);
            took.bytes += bytes;
            took.pages += 1;
            further.forEach(name);
          } catch {
            took.missed.push(next);
          }
        }
        tell(took, named.size);
      }
    }
    await Promise.all(Array.from({ length: AT_ONCE }, one));
    return took;
  }

  // ---------------------------------------------------------------- said

  const size = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;
  const listedShort = (names) => names.slice(0, 3).join(", ") + (names.length > 3 ? ` and ${names.length - 3} more` : "");

  function ended(plan, took, dropped) {
    const missed = took.missed.length;
    const said = [`On this device: ${many(took.pages, "page")} of ${plan.name}, ${size(took.bytes)}, from ${when(Date.now())}.`];
    if (missed) said.push(`${many(missed, "page")} could not be fetched; the signal may be too weak. Try again.`);
    const full = plan.cut + took.full;
    if (full) said.push(`${many(full, "page")} had no room.`);
    if (plan.without.length) {
      said.push(`No room for ${listedShort(plan.without)}: open the page of that clinic and take it along by itself.`);
    }
    if (dropped) said.push(`${many(dropped, "page")} that no longer belong were removed.`);
    said.push(`They are removed when you sign out, and after ${store.DAYS} days.`);
    return said.join(" ");
  }

  async function takeAlong(button, said) {
    button.disabled = true;
    const along = button.dataset.takeAlong;
    try {
      await store.takeOver(self.Outbox.account);
      said.textContent = "Taking along …";
      const plan = await chosen(along);
      let told = 0;
      const took = await takeAll(plan.addresses, along, ({ pages, bytes, missed }, all) => {
        if (Date.now() - told < 1000) return; // it is read out too
        told = Date.now();
        said.textContent = `Taking along: ${pages + missed.length} of ${many(all, "page")}, ${size(bytes)} …`;
      });
      if (!took.pages) throw new Error("nothing came");
      const dropped = took.missed.length || took.full ? 0 : await store.dropAlong(self.Outbox.account, along, took.kept);
      said.textContent = ended(plan, took, dropped);
    } catch {
      said.textContent = "Nothing was taken along: the server did not answer, or you are signed out. Try again.";
    }
    button.disabled = false;
  }

  function offer() {
    const { account } = self.Outbox;
    const can = "caches" in self && "serviceWorker" in navigator && account && keptAt === undefined;
    for (const button of can ? document.querySelectorAll("[data-take-along]") : []) {
      const said = el("p", { class: "muted small take-along-said", role: "status" });
      (button.closest(".actions") || button).after(said);
      button.hidden = false;
      button.addEventListener("click", () => takeAlong(button, said));
    }
  }

  document.addEventListener("outbox:ready", offer);
})();
