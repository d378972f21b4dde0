// Says that a form is being worked on when the answer takes more than a second. Forms that are kept on the device
// while they are sent say so themselves, see outbox.js.
(() => {
  const AFTER = 1000; // milliseconds

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.matches("[data-outbox]:not([data-outbox-plain])")) return;
    setTimeout(() => {
      if (form.querySelector(":scope > .busy")) return;
      const said = document.createElement("p");
      said.className = "note busy";
      said.setAttribute("role", "status");
      const bar = document.createElement("progress");
      bar.setAttribute("aria-label", "Being worked on");
      said.append("This takes a moment. The page changes when it is done. ", bar);
      form.append(said);
    }, AFTER);
  });
  // Gone where the page is shown again as it stood, or where a file came and the page stayed.
  const gone = () => document.querySelectorAll(".busy").forEach((each) => each.remove());
  window.addEventListener("pageshow", gone);
  window.addEventListener("focus", gone);
})();
