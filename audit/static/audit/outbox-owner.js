// Whose this browser is: what one account typed into a visit is put aside under its name when it leaves or another one
// comes, and is back when it comes again. Runs before the scripts that read what was typed.
self.OutboxOwner = (() => {
  "use strict";
  const OWNER = "outbox-owner";
  const ASIDE = "aside:";
  const TYPED = ["visit:", "visit-sent:"];

  function keys() {
    try {
      return Array.from({ length: localStorage.length }, (_, n) => localStorage.key(n));
    } catch {
      return [];
    }
  }

  const typedKeys = () => keys().filter((key) => TYPED.some((start) => key.startsWith(start)));

  // Written before it is removed. Where there is no room for both, it is moved, and stays where it was if that fails.
  function rename(from, to) {
    const value = localStorage.getItem(from);
    try {
      localStorage.setItem(to, value);
      localStorage.removeItem(from);
    } catch {
      localStorage.removeItem(from);
      try {
        localStorage.setItem(to, value);
      } catch {
        localStorage.setItem(from, value);
      }
    }
  }

  function putAside(account) {
    for (const key of typedKeys()) rename(key, `${ASIDE}${account}:${key}`);
    try {
      localStorage.removeItem(OWNER);
      for (const key of Object.keys(sessionStorage)) if (key.startsWith("visit")) sessionStorage.removeItem(key);
    } catch {
      // No storage, nothing was kept in it.
    }
  }

  // Where the same page was typed anew, the earlier answer stays aside until the later one is on the server.
  function bringBack(account) {
    const start = `${ASIDE}${account}:`;
    for (const key of keys().filter((each) => each.startsWith(start))) {
      const name = key.slice(start.length);
      if (localStorage.getItem(name) === null) rename(key, name);
    }
  }

  function come(account) {
    try {
      const before = localStorage.getItem(OWNER);
      if (before && before !== account) putAside(before);
      bringBack(account);
      localStorage.setItem(OWNER, account);
    } catch {
      // Without storage there is nothing to part.
    }
  }

  // A page from the store of this device says who it was made for, not who is here now.
  const here = document.getElementById("outbox")?.dataset.account;
  if (here && !("keptAt" in document.documentElement.dataset)) come(here);

  const isQueued = (key) => /"(queued|taken)":true/.test(localStorage.getItem(key) || "");

  // How many pages of visits are on this device only, and neither in its queue nor with a visit on the server.
  const pages = () => keys().filter((key) => key.startsWith("visit:") && !isQueued(key)).length;
  return { putAside, pages };
})();
