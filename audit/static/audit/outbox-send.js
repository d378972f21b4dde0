// Sending what waits on this device, and finishing a sign-out that was asked for without a signal.
// Shared by the pages and by the service worker; touches no document.
self.OutboxSend = (() => {
  "use strict";
  const { get, put, remove, itemsOf, meta, setMeta, tell } = self.OutboxStore;
  const SLOW = 60000;
  const AGAIN = new Set([429, 502, 503, 504]);
  const NEEDS_A_LOOK = new Set([
    "refused", "conflict", "over", "forbidden", "gone", "too-large", "fault", "shown", "form-too-old",
  ]);

  function bodyOf(item, token) {
    const body = new FormData();
    for (const [name, value] of item.fields) body.append(name, value);
    body.append("csrfmiddlewaretoken", token);
    return body;
  }

  async function within(ms, work) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), ms);
    try {
      return await work(stop.signal);
    } finally {
      clearTimeout(timer);
    }
  }

  async function post(item, token) {
    try {
      return await within(SLOW, async (signal) => {
        const headers = { "X-Outbox": item.account, "X-Written-At": item.writtenAt, "X-CSRFToken": token };
        const request = { method: "POST", body: bodyOf(item, token), credentials: "same-origin", signal, headers };
        const response = await fetch(item.address, request);
        const word = response.headers.get("X-Outbox-Answer");
        if (AGAIN.has(response.status) || !word) return { word: response.status >= 500 ? "busy" : "unreachable" };
        const text = await response.text();
        const wait = word === "full" ? 1000 * (Number(response.headers.get("Retry-After")) || 3600) : 0;
        const to = word === "recorded" ? JSON.parse(text).to : "";
        const goesOn = response.headers.get("X-Visit") || "";
        return { word, status: response.status, text, to, goesOn, after: wait && Date.now() + wait };
      });
    } catch {
      return { word: "unreachable" };
    }
  }

  const freshToken = (state) => within(SLOW, async (signal) => {
    const response = await fetch(state, { credentials: "same-origin", cache: "no-store", signal });
    if (!response.ok) throw new Error(`status ${response.status}`);
    return response.json();
  });

  async function send(item, state) {
    const answer = await post(item, item.token || "none");
    if (answer.word !== "form-too-old") return answer;
    try {
      const { account, token } = await freshToken(state);
      if (!account) return { word: "signed-out" };
      if (account !== item.account) return { word: "other-account" };
      item.token = token;
      return await post(item, token);
    } catch {
      return { word: "unreachable" };
    }
  }

  // The last ones that were recorded, so that a page which said that one waits can say so.
  async function noteRecorded(one) {
    await setMeta("recorded", [...((await meta("recorded")) || []), one].slice(-20));
  }

  // Deleted or written anew in the meantime: then this answer is about something that is no longer here.
  async function settle(item, answer) {
    const now = await get(item.id);
    if (!now || now.writtenAt !== item.writtenAt) return undefined;
    if (answer.word === "recorded") {
      await noteRecorded({ id: item.id, to: answer.to });
      return remove(item.id);
    }
    const changed = { ...item, answer: answer.word, after: answer.after || 0, tried: new Date().toISOString() };
    if (answer.word === "full") changed.said = (answer.text || "").slice(0, 200000);
    if (NEEDS_A_LOOK.has(answer.word)) {
      changed.state = "look";
      // The server has all that was typed of the visit: it is put right there.
      if (answer.goesOn && item.once) Object.assign(changed, { page: answer.goesOn, taken: true });
      changed.said = (answer.text || "").slice(0, 200000);
    }
    return put(changed);
  }

  // Strictly in order, up to the first that cannot be sent now. What needs a look holds up only the rest of its group.
  // What the server has no room for today (a photo) waits by itself until then: its visit is recorded without it, and
  // it follows.
  async function flushInTurn(account, state, heard) {
    const done = new Map();
    const stuck = new Set();
    let stopped = "";
    const answered = (id, answer) => {
      done.set(id, answer);
      if (heard) heard(id, answer);
    };
    for (const { id } of await itemsOf(account)) {
      const item = await get(id);
      if (!item) continue;
      if (item.state !== "waiting") {
        stuck.add(item.group || null);
      } else if (item.group && stuck.has(item.group)) {
        answered(id, { word: "held" });
      } else if (item.after > Date.now()) {
        answered(id, { word: "full", text: item.said });
      } else {
        const answer = await send(item, state);
        await settle(item, answer);
        answered(id, answer);
        if (NEEDS_A_LOOK.has(answer.word)) stuck.add(item.group || null);
        else if (answer.word !== "recorded" && answer.word !== "full") {
          stopped = answer.word;
          break;
        }
      }
    }
    await setMeta("stopped", stopped);
    tell();
    return { done, stopped };
  }

  // Sends what waits for the account, oldest first, one at a time in all tabs together.
  function flush(account, state, heard) {
    const work = () => flushInTurn(account, state, heard);
    return navigator.locks ? navigator.locks.request("outbox", work) : work();
  }

  // ---------------------------------------------------------------- signing out

  // Signed out here without a signal: the server is told as soon as it can be reached. Throws while it cannot.
  async function finishLeaving(state, signOut) {
    if (!(await meta("leaving"))) return;
    const { account, token } = await freshToken(state);
    if (account) {
      const body = new FormData();
      body.append("csrfmiddlewaretoken", token);
      const response = await within(SLOW, (signal) =>
        fetch(signOut, { method: "POST", body, credentials: "same-origin", redirect: "manual", signal }));
      if (response.type !== "opaqueredirect" && !response.ok) throw new Error(`status ${response.status}`);
    }
    await setMeta("leaving", "");
    tell();
  }

  return { flush, finishLeaving };
})();
