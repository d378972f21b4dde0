// What the pages of a visit say to the server, and what they tell of its answers. Nothing without a page of a visit.
self.VisitSend = (() => {
  "use strict";
  const form = document.querySelector("form[data-visit]");
  const recordForm = document.querySelector("form[data-visit-record]");
  const choice = document.querySelector("form[data-visit-choice]");
  const kept = document.querySelector("[data-kept]");
  const { VisitStore: store } = self;
  const ref = form?.dataset.visit || recordForm?.dataset.visitRecord || choice?.dataset.visitChoice || "";
  if (!ref || !store) return null;
  const { link } = store;

  const say = (...words) => { if (kept) kept.replaceChildren(...words); };
  const clock = (moment) => new Date(moment || Date.now()).toTimeString().slice(0, 5);

  // A day by the clock of this device, as the pages write days.
  const day = (moment) => {
    const at = new Date(moment);
    return [at.getFullYear(), at.getMonth() + 1, at.getDate()].map((each) => String(each).padStart(2, "0")).join("-");
  };

  const FORBIDDEN = "Your log-in may not record this here: ask the clinic’s coordinator.";

  const token = () => document.querySelector("[name=csrfmiddlewaretoken]").value;

  const isUnbegun = (of) => of.startsWith("of-");

  const post = (address, body) => {
    body.set("csrfmiddlewaretoken", token());
    return fetch(address, { method: "POST", body, headers: { Accept: "application/json" } });
  };

  // Who signs in again has new tokens, and a page that was open or kept meanwhile has an old one. A new one is asked
  // for only under the name that the page was made for.
  async function hasNewToken() {
    const { state, account } = document.getElementById("outbox").dataset;
    const answer = await fetch(state, { cache: "no-store" });
    const now = answer.ok && !answer.redirected ? await answer.json() : {};
    if (!now.token || now.account !== account) return false;
    for (const field of document.querySelectorAll("[name=csrfmiddlewaretoken]")) field.value = now.token;
    return true;
  }

  const isData = (answer) => (answer.headers.get("Content-Type") || "").startsWith("application/json");

  async function send(address, body, of = ref) {
    body.set("device", store.device());
    if (isUnbegun(of)) for (const [name, value] of Object.entries(store.names(of))) body.set(name, value);
    let answer = await post(address, body);
    if (answer.status === 403 && !isData(answer) && (await hasNewToken())) {
      answer = await post(address, body);
      if (answer.status === 403) return { status: 400, said: { problem: FORBIDDEN }, goesOn: "" };
    }
    const goesOn = answer.headers.get("X-Visit") || "";
    if (answer.redirected) { // to where one signs in, or to another page of the visit
      const signIn = document.getElementById("outbox")?.dataset.signIn;
      return { status: new URL(answer.url).pathname === signIn ? 401 : 303, said: { to: answer.url }, goesOn };
    }
    if (!isData(answer)) return { status: answer.status, said: {}, goesOn };
    return { status: answer.status, said: await answer.json(), goesOn };
  }

  function take(revision) {
    for (const field of document.querySelectorAll("input[name=revision]")) field.value = String(revision);
  }

  // Pages that were left without a signal, oldest first. Stops where the server cannot be reached.
  // A visit that the server did not know of stays here as a whole until the server has all of it.
  async function sendWaiting(but = "", of = ref) {
    const took = { all: false, count: 0, stopped: 0, goesOn: "" };
    for (const key of store.pagesOf(of)) {
      const held = store.get(key);
      if (held?.stopped) took.stopped += 1; // it waits for a choice, and what is here is not all on the server
      if (!held || key === but || held.stopped || held.taken) continue;
      const body = new FormData();
      for (const [name, value] of Object.entries(held.data)) body.set(name, value);
      body.set("revision", String(held.revision));
      body.set("quiet", "1");
      body.set("typed_at", String(held.at));
      let answer;
      try { answer = await send(held.address, body, of); } catch { return took; }
      if (answer.status === 401 || answer.status === 403) { signedOut(); return took; }
      if (answer.status === 410) {
        if (isUnbegun(of)) store.noteOver(of);
        overAt(answer.said.gone);
        return took;
      }
      if (answer.status !== 200) { // this page needs a look; the others need not wait for it
        took.stopped += 1;
        if (answer.status === 409) {
          if (store.get(key)?.at === held.at) stay(key, { ...held, stopped: true }, answer.said.conflict);
          conflictAt(answer.said.conflict);
        } else stoppedAt(held, answer.said.problem);
        continue;
      }
      if (!isUnbegun(of)) {
        store.noteSent(of, held, answer.said.revision);
        if (store.get(key)?.at === held.at) store.drop(key); // unless it was typed anew meanwhile
        take(answer.said.revision);
      }
      took.count += 1;
      took.goesOn = answer.goesOn;
    }
    return { ...took, all: took.stopped === 0 };
  }

  // What the server did not take of a page stays here, under the name by which it knows the visit: `address` is the
  // page there.
  function stay(key, held, address) {
    const [, path, of, n, step] = address.match(/^(.*\/([0-9a-f-]{36})\/(\d+)\/([^/]+)\/)(?:\?.*)?$/) || [];
    const moved = of && store.pageKey(of, n, step);
    if (!moved || moved === key || store.get(moved)) return store.put(key, held) && key;
    if (!store.put(moved, { ...held, address: path, n, step })) return "";
    store.drop(key);
    return moved;
  }

  function conflictAt(address) {
    say("Another device kept another answer on a page of this visit. Both are kept: ", link(address, "look at the two answers"));
  }

  function stoppedAt(held, problem) {
    say(`The server could not take “${held.title}”. ${problem || ""} It is kept on this device: `, link(held.address, "open it"));
  }

  function overAt(address) {
    say("This visit is recorded already; what this device has of it was not added. ", link(address, "Look at the record"));
  }

  function signedOut() {
    say("You are signed out. What you typed is kept on this device: ", link(location.href, "sign in and come back here"));
  }

  return {
    form, recordForm, choice, kept, ref, say, clock, day, isUnbegun, send, take, sendWaiting, stay, conflictAt, overAt, signedOut,
    unbegun: (form || recordForm)?.dataset.unbegun === "1", isKept: "keptAt" in document.documentElement.dataset,
  };
})();
