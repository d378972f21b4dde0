// Pages that are opened again: forms from the store of this device are new entries, and what was typed goes back into
// its form.
self.OutboxPages = (() => {
  "use strict";
  const { OutboxStore: store, OutboxTyped: typed } = self;
  const { keptAt } = document.documentElement.dataset;

  const local = (moment) => {
    const at = new Date(moment);
    return new Date(at - at.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  };

  // A form in the store is opened many times: each time it is a new entry, written today. A form whose entry can be
  // made only once says so by `data-outbox-key="own"` and keeps its key.
  function renew({ el }) {
    if (!keptAt) return;
    for (const form of document.querySelectorAll("form[data-outbox]")) {
      const key = form.dataset.outboxKey === "own" ? null : form.elements.request_key;
      if (key) key.value = self.crypto.randomUUID();
      const on = form.elements.on;
      if (on?.type === "date" && on.value === local(keptAt) && on.value !== local(Date.now())) {
        on.value = local(Date.now());
        on.after(el("p", { class: "help" }, "Today by this device’s clock: check it."));
      }
      const unit = new URLSearchParams(location.search).get("unit");
      if (unit && form.elements.unit?.tagName === "SELECT" && !form.elements.unit.value) form.elements.unit.value = unit;
    }
  }

  // ---------------------------------------------------------------- what was typed goes back into its form

  const inWords = (pairs) => pairs.map((pair) => pair.join(": "));

  // `el` makes an element, `when` words of a moment, as `outbox.js` does.
  async function openTyped(account, { el, when }) {
    const list = (words) => (words.length ? el("ul", {}, ...words.map((each) => el("li", {}, each))) : "");
    const id = Number(location.hash.match(/^#outbox=(\d+)$/)?.[1]);
    const item = id ? await store.get(id) : null;
    if (!item || item.account !== account) return;
    const form = item.bare ? null : typed.formOf(item);
    if (form) await typed.moreRows(form, item.fields);
    const lost = form ? inWords(typed.fillIn(form, item.fields)) : inWords(item.shown);
    const missing = form ? "This has no place in the form now:" : "Its form is not on this page now. It said:";
    const box = el(
      "div", { class: "problems", role: "status", tabindex: "-1" },
      el("h2", {}, "Typed on this device, not recorded yet"),
      el("p", {}, `${form ? "" : `${item.label}. `}Written ${when(item.writtenAt)}.`),
      list(typed.problemsOf(item)),
      lost.length ? el("p", {}, missing) : "",
      list(lost),
    );
    if (form) form.prepend(box);
    else document.querySelector("h1")?.after(box);
    form?.closest("details")?.setAttribute("open", "");
    box.scrollIntoView({ block: "center" });
  }

  // The page that the server refused shows all that was typed itself.
  async function settleShown(account) {
    const keys = [...document.querySelectorAll("form[data-outbox]")].map((form) => form.elements.request_key?.value);
    if (keptAt !== undefined || !document.querySelector(".problems")) return;
    for (const item of await store.itemsOf(account)) {
      if (item.state === "look" && item.answer === "refused" && keys.includes(item.key)) await store.remove(item.id);
    }
  }

  return { renew, openTyped, settleShown };
})();
