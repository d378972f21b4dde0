// The last page of a visit: what this device has of it is told there, and goes with it.
self.VisitRecord = (() => {
  "use strict";
  const { VisitStore: store, VisitSend: server } = self;
  if (!server?.recordForm) return null;
  const { recordForm, ref, unbegun, isKept, clock, sendWaiting } = server;
  const { link } = store;

  // The page was taken along before, maybe days before. A clock that is further from that day, or before it, is wrong.
  const DAYS_ALONG = 30;

  function mayBe(along, begun) {
    const days = (Date.parse(begun) - Date.parse(along)) / 86_400_000;
    return days >= 0 && days <= DAYS_ALONG;
  }

  function last() {
    const { elements } = recordForm;
    const others = unbegun ? store.unitsOf(ref) : [];
    if (others.length && store.lead(ref) !== ref) {
      const to = others[0].unit;
      location.replace(location.pathname.replace(`/of/${ref.slice(3)}/`, `/of/${to}/`));
      return;
    }
    if (others.length) tellUnits(others);
    elements.device.value = store.device();
    const begun = unbegun && store.begun(ref);
    if (begun) elements.request_key.value = begun.key;
    if (begun) elements.at.value = clock(begun.at);
    if (begun && mayBe(elements.on.value, server.day(begun.at))) elements.on.value = server.day(begun.at);
    if (isKept || unbegun) elements.departed_at.value = clock();
    showHeld();
    // Before the queue of the whole site takes the form: what waits on this device goes with it.
    recordForm.addEventListener("submit", (event) => {
      const keys = store.pagesOf(ref);
      if (unbegun && !keys.length && !store.begun(ref)) { // it would begin a visit that nothing of belongs to
        event.preventDefault();
        event.stopImmediatePropagation();
        server.say("Nothing of this visit was typed yet: begin with its first page.");
        return;
      }
      if (keys.length) elements.waiting.value = JSON.stringify(keys.map((key) => ({ ...store.get(key), shown: undefined })));
    }, { capture: true });
    document.addEventListener("outbox:kept", () => store.markQueued(ref));
    document.addEventListener("outbox:recorded", () => store.forget(ref));
    // This page answers a form with which all that was here was sent.
    if (recordForm.dataset.visitSent) store.forget(recordForm.dataset.visitSent);
  }

  // A visit of several units that only this device knows: it is recorded as one.
  function tellUnits(others) {
    const labels = others.map(({ label }) => label).join(", ");
    const units = document.createElement("input");
    Object.assign(units, { type: "hidden", name: "units", value: others.map(({ unit }) => unit).join(" ") });
    recordForm.append(units);
    recordForm.dataset.outbox = `Visit: ${labels}`;
    document.querySelector(".lede").textContent = labels;
  }

  function showHeld() {
    const list = document.querySelector("[data-visit-held]");
    for (const key of list ? store.pagesOf(ref) : []) {
      const { title, address, n, shown = [] } = store.get(key);
      const line = document.createElement("li");
      const of = store.unitsOf(ref)[Number(n) - 1];
      line.append(link(address, of ? `${of.label}: ${title}` : title));
      const answers = document.createElement("dl");
      answers.className = "facts";
      for (const [label, value] of shown) {
        const [term, said] = ["dt", "dd"].map((tag) => document.createElement(tag));
        term.textContent = label;
        said.textContent = value;
        answers.append(term, said);
      }
      if (shown.length) line.append(answers);
      list.append(line);
    }
  }

  // On the last page of a visit that was begun on this device: what was typed since it was refused goes there as well.
  async function followed() {
    const of = recordForm.dataset.beganAs || "";
    if (unbegun || store.begun(of)?.key !== recordForm.elements.request_key.value || store.isQueued(of)) return false;
    const { all, count } = await sendWaiting("", of);
    if (!all) return false;
    store.forget(of);
    if (count) location.reload();
    return count > 0;
  }

  return { last, followed };
})();
