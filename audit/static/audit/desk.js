"use strict";
// What makes the pages of the day quicker; each form works without it. Every form keeps the time of its entry, a leak
// test shows the rate that the server computes, boxes of test and control stay together, a reminder says when incubation is complete.
(() => {
  const started = Date.now();
  // A copy of the page that this device kept, from hours or days ago: its times and its answers are of then.
  const isKept = "keptAt" in document.documentElement.dataset;
  const field = (form, name) => form.elements.namedItem(name);

  // The clinic's own clock: the moment the page was made there, and what has passed on this device since.
  const clinicNow = (opened) => new Date(Date.parse(`${opened}Z`) + Date.now() - started).toISOString();

  const keepTime = (form) => {
    const [on, at, opened, ticking] = ["on", "at", "opened", "ticking"].map((name) => field(form, name));
    if (!on || !at || !opened || !opened.value) return;
    const filled = on.value === opened.value.slice(0, 10) && at.value === opened.value.slice(11);
    if (isKept || (filled && !navigator.onLine)) {
      // The day and the time are asked; a day that was put there by the device's clock stays.
      if (on.value === opened.value.slice(0, 10)) on.value = "";
      at.value = opened.value = "";
      const more = on.closest("details");
      if (more) more.open = true;
      return;
    }
    if (!filled) return;
    const made = opened.value;
    let runs = true;
    const stop = () => { runs = false; };
    const tick = () => {
      if (!runs) return;
      const now = clinicNow(made);
      on.value = now.slice(0, 10);
      at.value = now.slice(11, 16);
    };
    ticking.value = "1";
    at.addEventListener("input", stop);
    on.addEventListener("input", () => { stop(); at.value = ""; });
    form.addEventListener("click", (event) => { if (event.target.closest("button")) tick(); }, true);
    setInterval(tick, 20000);
    document.addEventListener("visibilitychange", tick);
  };

  // The server computes the rate, rounds it and holds it against the limit; here its answer is shown.
  const showRate = (form) => {
    const shown = form.querySelector("[data-rate]");
    if (!shown) return;
    const seen = field(form, "seen_rate");
    const before = [...shown.childNodes];
    const typed = ["rise", "unit_of_measure", "minutes", "limit"];
    let turn = 0;
    const sayLater = () => {
      seen.value = shown.dataset.whenSent;
      shown.textContent = "Without a signal no rate is shown: it is computed when this is sent.";
    };
    const say = ({ rate, limit, result }) => {
      seen.value = rate || "";
      if (!rate) { shown.replaceChildren(...before); return; }
      const strong = document.createElement("strong");
      strong.textContent = result;
      shown.replaceChildren(`${rate} kPa a minute, limit ${limit}: `, strong);
    };
    const ask = async (mine) => {
      const sent = new FormData(form);
      const query = new URLSearchParams([["look", "1"], ...typed.map((name) => [name, sent.get(name) || ""])]);
      let answer = null;
      try {
        const got = await fetch(`${form.action}?${query}`, { cache: "no-store", headers: { Accept: "application/json" } });
        if (got.ok) answer = await got.json();
      } catch { /* no signal */ }
      if (mine !== turn) return;
      if (answer) say(answer); else sayLater();
    };
    const look = () => {
      turn += 1;
      seen.value = "";
      const sent = new FormData(form);
      if (typed.some((name) => !sent.get(name))) { shown.replaceChildren(...before); return; }
      if (!navigator.onLine) { sayLater(); return; }
      const mine = turn;
      setTimeout(() => { if (mine === turn) ask(mine); }, 120);
    };
    form.addEventListener("input", ({ target }) => { if (typed.includes(target.name)) look(); });
    window.addEventListener("online", look);
  };

  const keepBoxesTogether = (form) => {
    const [lot, control] = [field(form, "lot"), field(form, "control_lot")];
    if (!lot || !control) return;
    let last = lot.value;
    lot.addEventListener("change", () => {
      if (control.value === last) control.value = lot.value;
      last = lot.value;
    });
  };

  // A check that failed or was not done says why: its note opens by itself.
  const openNotes = (form) => {
    form.addEventListener("change", ({ target }) => {
      const note = target.closest(".desk-check")?.querySelector("details");
      if (note && target.type === "radio") note.open = target.value !== "pass" || note.open;
    });
  };

  for (const form of document.querySelectorAll("form[data-desk]")) {
    openNotes(form);
    keepTime(form);
    showRate(form);
    keepBoxesTogether(form);
  }

  if (isKept) {
    const answers = ".answer .word, .quick .word, .desk-choose .standing";
    const day = self.Outbox?.when(document.documentElement.dataset.keptAt) || "an earlier day";
    for (const answer of document.querySelectorAll(answers)) {
      const words = document.createElement("strong");
      words.className = "note note--stop";
      words.textContent = `As of ${day}, without signal: ask before you rely on it.`;
      answer.after(words);
    }
    document.querySelector("section[aria-labelledby=advise]")?.remove();
  }

  const reminder = document.querySelector("[data-reminder]");
  const waiting = [...document.querySelectorAll("[data-ready]")];
  if (reminder && waiting.length) {
    // On a kept copy the device's own clock is all there is.
    const made = isKept ? started : Date.parse(reminder.dataset.now);
    const title = document.title;
    const look = () => {
      const now = made + Date.now() - started;
      for (const item of waiting.filter((each) => Date.parse(each.dataset.ready) <= now)) {
        waiting.splice(waiting.indexOf(item), 1);
        const state = item.querySelector("[data-state]");
        state.textContent = "Read it now";
        state.className = "state state--due";
        item.querySelector("details")?.setAttribute("open", "");
        reminder.classList.remove("hidden");
        reminder.classList.add("note");
        reminder.append(`${item.dataset.readyWords} `);
        document.title = `Ready to read: ${title}`;
      }
    };
    look();
    setInterval(look, 15000);
    document.addEventListener("visibilitychange", look);
  }

  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
})();
