// Scanning into forms: a scanner that types, a button for the camera, and what was read shown beside the field.
//
// Fields say what they take: data-scan="lot|serial|gtin|unit" has a button; data-scan-fill="expiry|..." is filled along.
// data-scan="any" is the field of the scan page: what is read is sent with its form. data-scan-with names a field that
// follows while it holds the same; data-scan-send sends the form once it is filled. Without this file all of them are plain fields.
(() => {
  "use strict";
  const me = document.currentScript.dataset;
  const FAST = 60; // ms between two keys, on average: a scanner types faster than this, people slower
  const GAP = 250; // ms after which a new run of keys begins
  const SHORTEST = 4; // characters of the shortest lot that is taken for a scan
  const SEPARATOR = "\x1d";
  const FIELDS = "[data-scan]";
  let last = null;

  const make = (tag, text, attributes) => {
    const node = document.createElement(tag);
    if (text) node.textContent = text;
    for (const [name, value] of Object.entries(attributes || {})) node.setAttribute(name, value);
    return node;
  };

  const nameOf = (field) => {
    const label = field.labels && field.labels[0];
    return label ? label.firstChild.textContent.trim() : "field";
  };

  // ------------------------------------------------------------ buttons

  const equip = (root) => {
    const found = root.matches && root.matches(FIELDS) ? [root] : [];
    for (const field of [...found, ...(root.querySelectorAll ? root.querySelectorAll(FIELDS) : [])]) {
      if (field.dataset.scanReady || field.type === "hidden" || field.closest("template")) continue;
      field.dataset.scanReady = "1";
      const button = make("button", field.dataset.scan === "any" ? "Use the camera" : "Scan", { type: "button", class: "button button--quiet scan-open", ...(field.dataset.scan === "any" ? {} : { "aria-label": `Scan: ${nameOf(field)}` }) });
      button.addEventListener("click", () => photograph(field));
      field.after(button);
    }
  };

  // The place under a field where a scan is told of; made when it is first needed.
  const placeOf = (field) => {
    const holder = field.closest(".field") || field.parentElement;
    let place = holder.querySelector(":scope > .scan-said");
    if (!place) {
      place = make("div", "", { class: "scan-said", role: "status" });
      holder.append(place);
    }
    return place;
  };

  const tell = (field, ...nodes) => placeOf(field).replaceChildren(...nodes);
  const sentence = (text, bad) => make("p", text, { class: bad ? "field-error" : "scan-line" });

  // ------------------------------------------------------------ camera

  let camera = null;
  const cameraScript = () => {
    camera = camera || new Promise((resolve, reject) => {
      const script = make("script", "", { src: me.camera });
      script.addEventListener("load", () => resolve(window.ScanCamera));
      script.addEventListener("error", () => { camera = null; reject(new Error("not loaded")); });
      document.head.append(script);
    });
    return camera;
  };

  const photograph = async (field) => {
    try {
      const open = await cameraScript();
      const text = await open({ worker: me.worker, reader: me.reader, wasm: me.wasm });
      if (text) await scanned(field, text);
      else field.focus();
    } catch (problem) {
      tell(field, sentence("The camera part could not be loaded: there is no connection. Type what the label says.", true));
    }
  };

  // ------------------------------------------------------------ a scanner that types

  const isText = (node) => node.matches && node.matches("input:not([type=checkbox],[type=radio],[type=button],[type=submit]), textarea");
  const keeps = (node) => isText(node) || (node.matches && node.matches("select"));
  let run = null;

  // What a key sends: a character, a separator (control and ], or F8, are how scanners send it), or nothing.
  const sent = (event) => {
    if (event.key === "F8" || (event.ctrlKey && event.key === "]")) return SEPARATOR;
    return event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey ? event.key : "";
  };

  const began = (event, char) => ({
    target: event.target, before: keeps(event.target) ? event.target.value : null, keys: char, first: event.timeStamp, at: event.timeStamp,
  });

  const isScan = (event) =>
    run && run.target === event.target && run.keys.length >= SHORTEST && (event.timeStamp - run.first) / run.keys.length <= FAST;

  const onKey = (event) => {
    if (event.isComposing || event.key === "Shift" || event.key === "Control") return;
    if (event.target.type === "password") return;
    if ((event.key === "Enter" || event.key === "Tab") && isScan(event)) {
      // The scanner ends with Enter, which must neither send the form nor press a button.
      event.preventDefault();
      event.stopImmediatePropagation();
      const done = run;
      run = null;
      taken(done);
      return;
    }
    const char = sent(event);
    if (!char) { run = null; return; }
    if (run && run.target === event.target && event.timeStamp - run.at <= GAP) {
      run.keys += char;
      run.at = event.timeStamp;
    } else run = began(event, char);
    const fast = run.keys.length > 2 && (run.at - run.first) / (run.keys.length - 1) <= FAST;
    if (char === SEPARATOR || (fast && !isText(event.target))) event.preventDefault();
  };

  const restore = (done) => { if (done.before !== null) done.target.value = done.before; };
  const looksLikeFields = (text) => text.startsWith("]") || text.includes(SEPARATOR) || /^\(?01\)?\d{14}/.test(text) || /^https?:/i.test(text);

  const taken = (done) => {
    const { target, keys } = done;
    if (target.matches(FIELDS)) {
      restore(done);
      scanned(target, keys);
      return;
    }
    if (isText(target) && !looksLikeFields(keys)) return; // it may be what belongs there: a cycle number, a name
    const scope = target.closest("[data-row]") || target.closest("form");
    const field = (scope && scope.querySelector(FIELDS)) || last || document.querySelector(`main ${FIELDS}`);
    restore(done);
    if (field) scanned(field, keys);
  };

  // ------------------------------------------------------------ reading

  const token = (field) => {
    const form = field.form || document;
    const input = form.querySelector("[name=csrfmiddlewaretoken]") || document.querySelector("[name=csrfmiddlewaretoken]");
    return input ? input.value : "";
  };

  const ask = async (field, text) => {
    const body = new URLSearchParams({ scan: text, csrfmiddlewaretoken: token(field) });
    const answer = await fetch(me.to, { method: "POST", body, headers: { Accept: "application/json" }, credentials: "same-origin" });
    if (!(answer.headers.get("Content-Type") || "").includes("json")) throw new Error("signed out");
    return answer.json();
  };

  const scanned = async (field, text) => {
    last = field;
    if (field.dataset.scan === "any") {
      field.value = text;
      field.form.requestSubmit();
      return;
    }
    tell(field, sentence("Reading the code …"));
    try {
      said(field, await ask(field, text));
    } catch (problem) {
      unanswered(field, text, problem);
    }
  };

  const unanswered = (field, text, problem) => {
    const why = problem.message === "signed out"
      ? "You are signed out, so the code was not read. Sign in on another tab, then scan again."
      : "There is no connection, so the code was not read. Type the lot and the day from the label; the form is kept.";
    tell(field, sentence(why, true), rawOf(text));
  };

  const rawOf = (text) => {
    const details = make("details");
    details.append(make("summary", "The scan as it came"), make("code", text.replaceAll(SEPARATOR, "␝")));
    return details;
  };

  const inWords = (reading) =>
    [
      reading.lot && `lot ${reading.lot}`, reading.expiry && `use by ${reading.expiry}`, reading.serial && `serial ${reading.serial}`,
      reading.gtin && `article ${reading.gtin}`, reading.produced && `made on ${reading.produced}`,
    ].filter(Boolean).join(", ") || "nothing that belongs here";

  const said = (field, answer) => {
    const doubts = [...answer.doubts, ...(answer.readings.length === 1 ? answer.readings[0].doubts : [])];
    const lines = doubts.map((doubt) => sentence(doubt.message, true));
    if (answer.kind === "unit label" && !["unit", "serial"].includes(field.dataset.scan)) {
      const unit = answer.matches[0];
      lines.push(sentence(unit ? `This is the label of ${unit.title}, not of a lot.` : "This is a label of a unit, not of a lot.", true));
    } else if (answer.ask || answer.readings.length > 1) {
      lines.push(sentence(answer.readings.length ? "Compare with the label. Fill in what it says?" : "", false));
      for (const reading of answer.readings) lines.push(choice(field, answer, reading));
    } else lines.push(...fill(field, answer, answer.readings[0] || {}));
    tell(field, ...lines, rawOf(answer.raw));
  };

  const choice = (field, answer, reading) => {
    const button = make("button", `Yes: ${inWords(reading)}`, { type: "button", class: "button button--quiet scan-choice" });
    button.addEventListener("click", () => tell(field, ...fill(field, answer, reading), rawOf(answer.raw)));
    return button;
  };

  // ------------------------------------------------------------ filling in

  const set = (changed, target, value) => {
    if (!target || target.value === value) return;
    changed.push([target, target.value]);
    target.value = value;
    for (const kind of ["input", "change"]) target.dispatchEvent(new Event(kind, { bubbles: true }));
  };

  const targetFor = (field, name) => {
    if (field.dataset.scan === name) return field;
    const scope = field.closest("[data-row]") || field.form;
    return scope && scope.querySelector(`[data-scan="${name}"], [data-scan-fill="${name}"]`);
  };

  // The choices of a list that may be meant: those of the rows of the records that the scan names, lot by whole lot.
  const meant = (target, answer, reading) => {
    const lot = reading.lot ? reading.lot.trim().toUpperCase() : "";
    const refs = answer.matches.filter((m) => m.kind === "unit" || !lot || m.lots.includes(lot)).map((m) => m.ref);
    return [...target.options].filter((option) => refs.includes(option.value));
  };

  const choose = (changed, target, value) => {
    const before = target.value;
    set(changed, target, value);
    const second = target.dataset.scanWith && target.form.elements[target.dataset.scanWith];
    if (second && before && second.value === before) set(changed, second, value);
  };

  const whichOne = (field, target, options) => {
    const buttons = options.map((option) => {
      const button = make("button", option.textContent.trim(), { type: "button", class: "button button--quiet scan-choice" });
      button.addEventListener("click", () => {
        const changed = [];
        choose(changed, target, option.value);
        tell(field, sentence(`Chosen: ${option.textContent.trim()}.`), undo(field, changed));
      });
      return button;
    });
    return [sentence("Several in the list have this lot. Which one is in your hand?", true), ...buttons];
  };

  // The field that was scanned into takes plain text as it is; a serial number is looked for in a lot as well.
  const wanted = (target, field, name, answer, reading) =>
    reading[name] || (target === field && (answer.kind === "lot" || name === "serial") ? reading.lot : "") || "";

  const fill = (field, answer, reading) => {
    const changed = [];
    const lines = [];
    for (const name of ["lot", "expiry", "gtin", "serial", "produced", "unit"]) {
      const target = targetFor(field, name);
      if (!target) continue;
      if (target.tagName === "SELECT") {
        const options = meant(target, answer, reading);
        if (options.length === 1) choose(changed, target, options[0].value);
        else if (options.length) lines.push(...whichOne(field, target, options));
        else if (target === field) lines.push(...notListed(answer, reading));
      } else if (name === "unit") set(changed, target, answer.raw); // the server finds the unit by what its label says
      else if (wanted(target, field, name, answer, reading)) set(changed, target, wanted(target, field, name, answer, reading));
      else if (target === field && name !== "unit") lines.push(sentence(`The code holds no ${name === "gtin" ? "article number" : name}.`, true));
    }
    if (field.hasAttribute("data-scan-send") && changed.length) field.form.requestSubmit();
    const what = answer.kind === "unit label" ? (answer.matches[0] || { title: "a unit that is not on record here" }).title : inWords(reading);
    const told = sentence(`Read: ${what}. Compare it with the label.`);
    return [told, ...lines, ...(changed.length ? [undo(field, changed)] : [])];
  };

  const notListed = (answer, reading) => {
    const found = [sentence(`${reading.lot ? `Lot ${reading.lot}` : "This"} is not in the list.`, true)];
    const fresh = answer.new.find((each) => each.lot === reading.lot);
    if (fresh) {
      const line = make("p");
      line.append(make("a", "Add it as a new box of indicators", { href: `${fresh.address}&next=${encodeURIComponent(location.pathname + location.search)}` }));
      found.push(line);
    }
    return found;
  };

  const undo = (field, changed) => {
    const button = make("button", "Take it back", { type: "button", class: "linklike scan-undo" });
    button.addEventListener("click", () => {
      for (const [target, value] of changed.reverse()) set([], target, value);
      tell(field, sentence("Taken back: the fields are as they were."));
      field.focus();
    });
    return button;
  };

  document.addEventListener("keydown", onKey, true);
  document.addEventListener("focusin", (event) => { if (event.target.matches(FIELDS)) last = event.target; });
  equip(document.body);
  new MutationObserver((changes) => {
    for (const change of changes) for (const node of change.addedNodes) if (node.nodeType === 1) equip(node);
  }).observe(document.body, { childList: true, subtree: true });
})();
