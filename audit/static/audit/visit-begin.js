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

  async function without() {
    const chosen = [...form.querySelectorAll("[name=units]:checked")];
    if (chosen.length !== 1) {
      tell("There is no signal. Without one a visit is begun for one unit at a time: choose one.");
      return;
    }
    const { value, dataset } = chosen[0];
    const at = `${form.dataset.onePage}?units=${value}`;
    if (!(await pages.findPage(new URL(dataset.of, location.href).href))) {
      tell("There is no signal, and the steps for this unit are not on this device. ", link(at, "Enter it on one page instead"), ".");
      return;
    }
    const ref = `of-${value}`;
    if (store.isQueued(ref)) store.forget(ref); // that one waits in the queue; this is another one
    location.assign(dataset.of);
  }

  // ------------------------------------------------------------------ what only this device has

  function lineOf(ref) {
    const line = document.createElement("li");
    const pagesHere = store.pagesOf(ref).map((key) => store.get(key));
    const start = document.createElement("p");
    const [{ address }] = pagesHere;
    start.append(link(address, "Open it"), ` · typed ${new Date(pagesHere.at(-1).at).toLocaleString("en-GB")}`);
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

  function show() {
    const refs = store.refs().filter((ref) => !store.isQueued(ref));
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
