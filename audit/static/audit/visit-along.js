// The pages of a visit that was begun, for when the signal goes: each fetched once and kept on this device.
(() => {
  "use strict";
  const form = document.querySelector("form[data-visit]");
  if (!form || form.dataset.unbegun === "1" || "keptAt" in document.documentElement.dataset) return;
  const mark = `visit-along:${form.dataset.visit}`;

  // Which pages there are, and which of them this tab has kept: who goes on while they are fetched begins no second time.
  function held() {
    try { return JSON.parse(sessionStorage.getItem(mark)) || {}; } catch { return {}; }
  }

  const { known = [], done = [] } = held();
  const along = new Set([...known, ...form.dataset.along.split(" ")]);
  const kept = new Set(done);

  async function keepOne(address) {
    const answer = await fetch(address, { cache: "no-store", headers: { "X-Keep": "1" } });
    if (!answer.ok || answer.redirected) return;
    const html = await answer.text();
    const found = new DOMParser().parseFromString(html, "text/html");
    await self.OutboxStore.keepPage(self.Outbox.account, address, html, found.title);
    for (const more of (found.querySelector("form[data-visit]")?.dataset.along || "").split(" ")) if (more) along.add(more);
  }

  // The pages that come next first.
  function next() {
    const all = [...along];
    const here = all.indexOf(form.getAttribute("action")) + 1;
    return [...all.slice(here), ...all.slice(0, here)].find((each) => !kept.has(each));
  }

  async function takeAlong() {
    if (!self.OutboxStore?.keepPage || !self.Outbox?.account) return;
    try {
      for (let address = next(); address; address = next()) { // grows as pages of other units name theirs
        await keepOne(address);
        kept.add(address);
        sessionStorage.setItem(mark, JSON.stringify({ known: [...along], done: [...kept] }));
      }
      form.dataset.alongKept = "1";
    } catch { /* the signal went, or the page was left: the next page goes on with it */ }
  }

  if (self.Outbox?.account) takeAlong();
  else document.addEventListener("outbox:ready", takeAlong);
})();
