// Beginning a visit: with a signal on the server, without one on this device.
(() => {
  "use strict";
  const form = document.querySelector("form[data-visit-begin]");
  const said = document.querySelector("[data-begin-said]");
  const { VisitStore: store, OutboxStore: pages } = self;
  if (!form || !store) return;
  const { link } = store;

  const tell = (...words) => {
    said.hidden = false;
    said.replaceChildren(...words);
  };

  // Several units are one visit of which each has its own pages.
  async function without() {
    const chosen = [...form.querySelectorAll("[name=units]:checked")];
    const units = chosen.map(({ value, dataset }) => ({ unit: value, label: dataset.label }));
    const asked = units.map(({ unit }) => `units=${unit}`).join("&");
    for (const { dataset } of chosen) {
      if (await pages.findPage(new URL(dataset.of, location.href).href)) continue;
      tell(
        `There is no signal, and the steps for ${dataset.label} are not on this device. `,
        link(`${form.dataset.onePage}?${asked}`, "Enter it on one page instead"), ".",
      );
      return;
    }
    const [typed] = store.elsewhere(units);
    if (typed) {
      tell(
        `A visit of ${typed.label} is on this device already, with other units. Record it or delete it first: `,
        link("#here-only", "it stands above"), ".",
      );
      return;
    }
    store.beginWith(units);
    location.assign(chosen[0].dataset.of);
  }

  // ------------------------------------------------------------------ what only this device has

  function lineOf(ref) {
    const line = document.createElement("li");
    const pagesHere = store.pagesOf(ref).map((key) => store.get(key));
    const start = document.createElement("p");
    const [{ address }] = pagesHere;
    const labels = store.unitsOf(ref).map(({ label }) => label).join(", ");
    start.append(link(address, labels ? `Open it: ${labels}` : "Open it"), ` · typed ${new Date(pagesHere.at(-1).at).toLocaleString("en-GB")}`);
    const held = document.createElement("ul");
    for (const { title, data } of pagesHere) {
      const each = document.createElement("li");
      each.textContent = `${title}: ${Object.values(data).join("; ")}`;
      held.append(each);
    }
    const drop = document.createElement("button");
    Object.assign(drop, { type: "button", className: "button button--stop", textContent: "Delete it from this device" });
    const sure = document.createElement("details");
    const why = document.createElement("summary");
    why.textContent = "Delete it";
    sure.append(why, "It was never recorded, and this device has the only copy. ", drop);
    drop.addEventListener("click", () => { store.forget(ref); show(); });
    line.append(start, held, sure);
    return line;
  }

  // Where the server has the visit too, it is one line with one way on: through the pages that are here, which are sent.
  function isToldThere(ref) {
    const key = store.begun(ref)?.key || "";
    const there = document.querySelector(`[data-draft="${CSS.escape(ref)}"], [data-key="${CSS.escape(key)}"]`);
    if (!there) return false;
    const pagesHere = store.pagesOf(ref).map((each) => store.get(each));
    there.querySelector("[data-also-here]")?.remove();
    const said = document.createElement("p");
    said.dataset.alsoHere = "1";
    said.textContent = `On this device only, until it is opened: ${pagesHere.map(({ title }) => title).join(", ")}.`;
    there.querySelector("p").after(said);
    there.querySelector("a").href = pagesHere[0].address;
    return true;
  }

  function show() {
    const mine = store.refs().filter((ref) => !store.isQueued(ref) && !store.goesOn(ref));
    const refs = mine.filter((ref) => !isToldThere(ref));
    const place = document.querySelector("[data-here-only]");
    place.hidden = refs.length === 0;
    place.querySelector("ul").replaceChildren(...refs.map(lineOf));
  }

  document.addEventListener("outbox:ready", () => store.tidy().catch(() => {}).then(show));

  form.addEventListener("submit", async (event) => {
    if (!form.querySelector("[name=units]:checked")) return; // the server says so
    event.preventDefault();
    const body = new FormData(form);
    body.set("device", store.device());
    let answer;
    try {
      answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
    } catch {
      await without();
      return;
    }
    const isData = !answer.redirected && (answer.headers.get("Content-Type") || "").startsWith("application/json");
    if (isData && answer.ok) location.assign((await answer.json()).next);
    else form.submit(); // the server’s own page says what is wrong
  });
})();
