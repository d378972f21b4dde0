// Keeps what is typed on the pages of a visit: on this device at once, on the server when it can be reached.
// Without this file the same pages work with their buttons.
"use strict";

(() => {
  const WAIT = 1200; // milliseconds after the last change
  const { VisitStore: store, VisitSend: server } = self;
  if (!server) return;
  const { form, recordForm, choice, kept, ref, unbegun, isKept, say, clock, send, take, sendWaiting } = server;
  const { stay, conflictAt, overAt, signedOut } = server;
  const { typedIn, fill } = store;
  let touched = false;

  // ------------------------------------------------------------------ one page

  function page() {
    const { step } = form.dataset;
    const key = store.pageKey(ref, form.dataset.n, step);
    const shown = Number(form.dataset.stepRevision);
    const held = store.get(key);
    const revision = form.querySelector("[name=revision]");
    form.querySelector("[name=device]").value = store.device();
    if (isKept || unbegun) for (const box of form.querySelectorAll("[name=class_stated]")) box.checked = false;
    if (held && !document.querySelector(".problems")) {
      fill(form, held.data);
      if (shown > held.revision) revision.value = String(held.revision); // then both answers are shown side by side
      say("Taken from this device: not on the server yet.");
    }
    const mirror = store.get(store.sentKey(ref, form.dataset.n, step));
    if (!held && mirror && isKept && mirror.revision > Number(revision.value)) {
      fill(form, mirror.data); // the page in the store of this device is older than what was sent from it
      revision.value = String(mirror.revision);
    }
    const rules = JSON.parse(form.dataset.rules || "null");
    if (rules && held) self.VisitCheck.mark(form, rules, typedIn);
    let timer = 0;
    let turn = 0;

    const mirrored = (data, at, to) => store.noteSent(ref, { n: form.dataset.n, step, data, at }, to);

    function keep() {
      touched = true;
      if (unbegun) store.begin(ref);
      const before = store.get(key);
      const base = before ? before.revision : Number(revision.value);
      const title = document.querySelector("h1").textContent.trim();
      const address = form.getAttribute("action");
      const place = store.members(ref).indexOf(ref);
      const n = unbegun ? String(place + 1) : form.dataset.n;
      const shown = self.OutboxTyped?.typedIn(form) || []; // as the page words it, to be looked through later
      return store.put(key, { data: typedIn(form), shown, revision: base, at: Date.now(), address, n, step, title });
    }

    async function quietly() {
      const mine = (turn += 1);
      const data = typedIn(form);
      const at = store.get(key)?.at || Date.now();
      const body = new FormData(form);
      body.delete("photo");
      body.set("quiet", "1");
      body.set("typed_at", String(at));
      let answer;
      try { answer = await send(form.getAttribute("action"), body); } catch {
        say("Kept on this device. No signal: it is sent when there is one.");
        return;
      }
      if (answer.status === 200) {
        take(answer.said.revision);
        mirrored(data, at, answer.said.revision);
        if (mine === turn) store.drop(key);
        else store.put(key, { ...store.get(key), revision: answer.said.revision }); // what was typed since rests on this
        say(`Kept on this device and on the server, ${clock()}.`);
      } else if (answer.status === 409) conflictAt(answer.said.conflict);
      else if (answer.status === 410) overAt(answer.said.gone);
      else if (answer.status === 401 || answer.status === 403) signedOut();
      else say(answer.said.problem || "Kept on this device. The server could not take it.");
    }

    const photos = self.VisitPhotos.ofPage(form, {
      say,
      about: () => ({
        address: form.dataset.photoTo, title: document.querySelector("h1").textContent.trim(),
        ref: store.lead(ref), more: unbegun ? Object.entries(store.names(ref)) : [],
      }),
    });

    function changed(event) {
      if (["photo", "photo_caption"].includes(event.target.name)) return;
      if (event.target.dataset.times && event.type === "change") stamp(event.target);
      turn += 1;
      if (rules) self.VisitCheck.mark(form, rules, typedIn);
      const queued = store.isQueued(ref);
      if (keep() && queued) say("Kept on this device. The visit waits to be recorded as it was: record it again to send this.");
      else say(store.get(key) ? "Kept on this device." : "This device has no room to keep it: go on to keep it on the server.");
      const none = event.target.type === "radio" && event.target.closest("fieldset").querySelector("[data-none]");
      if (none) none.hidden = false;
      clearTimeout(timer);
      if (!unbegun && !queued) timer = setTimeout(quietly, WAIT);
    }

    function stamp(box) {
      const time = form.querySelector(`[name="${box.dataset.times}"]`);
      time.value = box.checked ? time.value || clock() : "";
    }

    // In plain order: after the last page of a unit comes the next unit of the visit, and its record stands with the first.
    function nextHere() {
      const { next } = form.dataset;
      const refs = store.members(ref);
      if (!unbegun || refs.length < 2) return next;
      const [mine, first] = [ref, refs[0]].map((each) => each.slice(3));
      const after = refs[refs.indexOf(ref) + 1]?.slice(3);
      if (step === "end" && after) return form.getAttribute("action").replace(`/of/${mine}/end/`, `/of/${after}/identify/`);
      return next.replace(`/of/${mine}/record/`, `/of/${first}/record/`);
    }

    // Without the server. What differs stops here as well: then the register is put right first.
    function goOnHere() {
      const differs = step === "identify" && Object.values(typedIn(form)).includes("differs");
      const open = step === "identify" && [...form.querySelectorAll("fieldset.field")].some((set) => !set.querySelector(":checked"));
      const wrong = rules && !differs && !open ? self.VisitCheck.problems(rules, typedIn(form)) : [];
      if (wrong.length) {
        self.VisitCheck.mark(form, rules, typedIn);
        self.VisitCheck.show(form, wrong);
        return;
      }
      if (!differs && !open) {
        location.assign(nextHere()); // kept on this device, sent from one of the next pages
        return;
      }
      say(differs
        ? "Stop: the register is put right first, and that needs a signal. What you noted is kept on this device."
        : "First say whether this is the unit on record: read its plate.");
      kept?.scrollIntoView({ block: "center" });
    }

    async function goOn(event) {
      event.preventDefault();
      clearTimeout(timer);
      turn += 1;
      const button = event.submitter;
      const body = new FormData(form);
      body.delete("photo");
      if (button && button.name) body.set(button.name, button.value);
      if (button && button.value === "done") {
        const chosen = form.querySelector("[name=outcome]:checked");
        if (chosen && chosen.value !== "done") {
          say("Another outcome is chosen than “done”. Which is it? Choose it again, or keep what is chosen.");
          chosen.closest("details").open = true;
          chosen.focus();
          return;
        }
        form.querySelector("[name=outcome][value=done]").checked = true;
      }
      keep();
      const sentAt = store.get(key)?.at || Date.now();
      body.set("typed_at", String(sentAt));
      await photos.settled();
      let answer;
      try {
        if (unbegun && !(await sendWaiting(key)).all) throw new Error("not yet");
        answer = await send(form.getAttribute("action"), body);
      } catch {
        goOnHere();
        return;
      }
      if ([200, 422].includes(answer.status) && (store.get(key)?.at || sentAt) !== sentAt) {
        form.requestSubmit(button || undefined); // something was typed while it was on its way: that goes too
        return;
      }
      if (answer.status === 200 && answer.said.next) {
        if (unbegun) store.forget(ref);
        else mirrored(typedIn(form), sentAt, answer.said.revision);
        store.drop(key);
        location.assign(answer.said.next);
      } else if (answer.status === 401 || answer.status === 403) signedOut();
      else if (answer.status === 303) location.assign(answer.said.to);
      else if (unbegun && answer.goesOn) { // begun now: the server’s own page says what is wrong
        const isThere = answer.status === 422 && answer.said.revision;
        if (isThere || stay(key, store.get(key), answer.said.conflict || answer.goesOn) !== key) store.forget(ref);
        location.assign(answer.goesOn);
      }
      else {
        if (answer.status === 422 && answer.said.revision) {
          take(answer.said.revision);
          mirrored(typedIn(form), sentAt, answer.said.revision);
          store.drop(key);
        }
        if (button && button.name) {
          const hidden = document.createElement("input");
          Object.assign(hidden, { type: "hidden", name: button.name, value: button.value });
          form.append(hidden);
        }
        form.submit(); // the page says what is wrong, or shows both answers
      }
    }

    form.addEventListener("input", changed);
    form.addEventListener("change", changed);
    form.addEventListener("submit", goOn);
  }

  // ------------------------------------------------------------------ without the server

  // A page says other things where the server was not asked.
  function withoutServer() {
    for (const each of document.querySelectorAll("[data-when-kept]")) {
      each.hidden = false;
      for (const box of each.querySelectorAll("[disabled]")) box.disabled = false;
    }
    for (const each of document.querySelectorAll("[data-not-kept]")) each.hidden = true;
    for (const each of document.querySelectorAll("[data-more]")) leadsToFree(each);
  }

  // What is added next, after what was added on this device since the page was kept.
  function leadsToFree(to) {
    const [, start, first] = to.getAttribute("href").match(/^(.*-)(\d+)\/$/);
    const isTaken = (n) => [store.pageKey, store.sentKey].some((key) => store.get(key(ref, form.dataset.n, `${to.dataset.more}${n}`)));
    let n = Number(first);
    while (isTaken(n)) n += 1;
    to.setAttribute("href", `${start}${n}/`);
  }

  // ------------------------------------------------------------------ two answers to one page: one is chosen

  function choose() {
    const key = store.pageKey(ref, choice.dataset.n, choice.dataset.step);
    choice.addEventListener("submit", () => {
      const held = store.get(key);
      const { revision } = choice.elements;
      if (held) store.put(key, { ...held, revision: Number(revision.value), stopped: false });
    });
    choice.querySelector("[data-forget]").addEventListener("click", () => store.drop(key));
  }

  async function catchUp() {
    if (!navigator.onLine || store.isQueued(ref)) return;
    await sendWaiting(form ? store.pageKey(ref, form.dataset.n, form.dataset.step) : "");
  }

  // As the page is opened: what the server did not know of goes on there, and the last page is told anew.
  async function catchUpFirst() {
    if (recordForm && !isKept && await self.VisitRecord.followed()) return;
    if (!unbegun) {
      const before = store.pagesOf(ref).length;
      await catchUp();
      if (recordForm && !isKept && before && !store.pagesOf(ref).length) location.reload();
      return;
    }
    if (!navigator.onLine || store.isQueued(ref) || location.hash) return;
    if (store.begun(ref)?.over) {
      say("This visit is recorded already. What was typed here since then is on this device only.");
      return;
    }
    const there = store.goesOn(ref);
    const { all, count, goesOn } = await sendWaiting();
    if (!all || !(count || there) || touched) return;
    const to = there || samePage(goesOn);
    store.forget(ref);
    location.replace(to);
  }

  // The page that was opened here, in the visit as the server has it.
  function samePage(visit) {
    const place = store.members(ref).indexOf(ref) + 1;
    return `${visit}${recordForm ? "record" : `${place}/${form.dataset.step}`}/`;
  }

  const tidied = new Promise((go) => {
    document.addEventListener("outbox:ready", () => store.tidy().catch(() => {}).then(go));
    setTimeout(go, 3000); // a browser without a database has nothing to tidy
  });
  if (isKept || unbegun) withoutServer();
  if (form) page();
  if (recordForm) self.VisitRecord.last();
  if (choice) choose();
  else if (ref) tidied.then(catchUpFirst);
  if (!unbegun) window.addEventListener("online", catchUp);
})();
