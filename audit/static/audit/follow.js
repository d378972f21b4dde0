// A page about something that is being made looks again by itself, without losing the focus. Without this script the
// browser opens the page anew; with ?still=1 neither happens.
(() => {
  "use strict";
  const me = document.currentScript;
  const seconds = Number(me.dataset.seconds);
  const main = document.getElementById("main");

  // The link that had the focus: the one of the same words, else one that leads to the same page.
  const found = (was) => {
    const href = was.getAttribute("href");
    const links = [...main.querySelectorAll("a[href]")].filter((a) => a.getAttribute("href") === href);
    return links.find((a) => a.textContent === was.textContent) || links[0];
  };

  const show = (text) => {
    const seen = new DOMParser().parseFromString(text, "text/html");
    const fresh = seen.getElementById("main");
    if (!fresh) { location.reload(); return false; }
    if (fresh.innerHTML !== main.innerHTML) {
      const was = main.contains(document.activeElement) ? document.activeElement : null;
      main.replaceChildren(...fresh.childNodes);
      document.title = seen.title;
      if (was) (found(was) || main).focus();
    }
    return seen.querySelector("script[data-seconds]") !== null;
  };

  const again = async () => {
    let on = true;
    try {
      const answer = await fetch(location.href, { credentials: "same-origin", cache: "no-store" });
      if (answer.ok && !answer.redirected) on = show(await answer.text());
      else location.reload();
    } catch {
      on = true; // no signal: look again later
    }
    if (on) setTimeout(again, seconds * 1000);
  };
  setTimeout(again, seconds * 1000);
})();
