// The pages of a visit that was begun, for when the signal goes: fetched once and kept on this device.
(() => {
  "use strict";
  const form = document.querySelector("form[data-visit]");
  if (!form || form.dataset.unbegun === "1" || "keptAt" in document.documentElement.dataset) return;
  const mark = `visit-along:${form.dataset.visit}`;

  async function keepOne(address) {
    const answer = await fetch(address, { cache: "no-store", headers: { "X-Keep": "1" } });
    if (!answer.ok || answer.redirected) return "";
    const html = await answer.text();
    const found = new DOMParser().parseFromString(html, "text/html");
    await self.OutboxStore.keepPage(self.Outbox.account, address, html, found.title);
    return found.querySelector("form[data-visit]")?.dataset.along || "";
  }

  async function takeAlong() {
    if (!self.OutboxStore?.keepPage || !self.Outbox?.account || sessionStorage.getItem(mark)) return;
    sessionStorage.setItem(mark, "1");
    const along = new Set(form.dataset.along.split(" "));
    try {
      for (const address of along) { // grows as pages of other units name theirs
        for (const more of (await keepOne(address)).split(" ").filter(Boolean)) along.add(more);
      }
      form.dataset.alongKept = "1";
    } catch {
      sessionStorage.removeItem(mark);
    }
  }

  if (self.Outbox?.account) takeAlong();
  else document.addEventListener("outbox:ready", takeAlong);
})();
