// What the work of a visit asks and how it may end, told on this device: read from the description that the judge made
// (`audit/pages/visit/guide/told.py`). What is added up here is only which of its answers apply, and the highest class.
self.VisitTold = (() => {
  "use strict";

  const isAnswered = (value) => value !== undefined && value !== null && String(value).trim() !== "";
  const isSo = (value, wanted) => isAnswered(value) && (wanted === null || wanted.includes(String(value)));
  const inOne = (cases, said) => cases.some((each) => Object.entries(each).every(([name, wanted]) => isSo(said[name], wanted)));
  const key = (...so) => so.map((each) => (each ? "1" : "0")).join("");
  const number = (text) => (/^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(String(text ?? "").trim()) ? Number(text) : null);
  const RANK = { A: 1, B: 2, C: 3 };
  const higher = (one, other) => ((RANK[other] || 0) > (RANK[one] || 0) ? other : one);

  // ---------------------------------------------------------------- what the answers amount to

  // The part that was fitted on a page: its name in small letters, "" where none of it was, undefined for none.
  function partOf(told, page, at, said) {
    if (said.decision === told.awaited) return undefined;
    const numbers = told.means[page] || told.means[told.extra.start] || {};
    const lot = said.lot || numbers[(said.lot_printed || "").toLowerCase()];
    const fits = inOne(told.fitted[at.replaces ? "yes" : "no"], said);
    const name = lot ? told.lots[lot] : fits && said.part_name ? said.part_name.toLowerCase() : undefined;
    if (name === undefined) return undefined;
    return number(said.quantity) === 0 ? "" : name;
  }

  function workOf(told, pages) {
    const found = { effects: [], awaited: [], fitted: [], unsure: [] };
    const extra = Object.keys(pages).filter((page) => page.startsWith(told.extra.start)).sort();
    for (const page of [...Object.keys(told.tasks), ...extra]) {
      const said = pages[page] || {};
      const isExtra = !(page in told.tasks);
      const at = isExtra ? told.extra.at[said.position || ""] : told.tasks[page];
      if (!at || !said.outcome) continue;
      const take = (n) => (n === undefined ? null : found.effects.push(told.effects[n]));
      if (said.outcome === "done") take(isExtra ? at.done[said.action] : at.done);
      if (said.decision) {
        take(at.findings[`${said.decision} ${said.repair_class || at.lowest}`]);
        if (at.free && !told.leaves.includes(said.decision)) found.unsure.push(said.what || "");
        if (said.decision === told.awaited) found.awaited.push(`${at.title || said.what || "unit"}: ${said.found || ""}`);
      }
      const part = partOf(told, page, at, said);
      if (part === undefined) continue;
      if (at.parts[part] === undefined) found.unsure.push(part);
      else take(at.parts[part]);
      if (part) found.fitted.push({ position: at.position, name: part });
    }
    return found;
  }

  function readingsOf(told, pages) {
    const [found, left] = [pages[told.pages.found] || {}, pages[told.pages.prove] || {}];
    const known = told.readings.map((each) => ({ ...each, asFound: found[each.key], asLeft: left[each.key] }));
    const free = Object.keys(found).filter((name) => /^x\d_quantity$/.test(name)).map((name) => {
      const start = name.slice(0, 3);
      const words = found[name];
      return {
        words, low: found[`${start}lower`], high: found[`${start}upper`], unit: found[`${start}unit_of_measure`] || "",
        asFound: found[`${start}as_found`], asLeft: left[start.slice(0, 2)],
        cycle: told.quantities.some((word) => words.toLowerCase().includes(word)),
      };
    });
    return [...known, ...free];
  }

  function isOutside({ low, high }, value) {
    if (number(value) === null) return false;
    return (number(low) !== null && number(value) < number(low)) || (number(high) !== null && number(value) > number(high));
  }

  function resultsOf(told, pages) {
    const left = pages[told.pages.prove] || {};
    const readings = readingsOf(told, pages);
    const measured = readings.some((each) => each.cycle && number(each.asLeft) !== null);
    const wrong = readings.some((each) => each.cycle && isOutside(each, isAnswered(each.asLeft) ? each.asLeft : each.asFound));
    const results = {};
    for (const [code, test] of Object.entries(told.tests)) {
      if (left[code] === "fail") results[code] = "fail";
      if (left[code] !== "pass") continue;
      const value = test.values.some((name) => isAnswered(left[name])) || /\d/.test(left[test.text] || "");
      const limited = test.limits.some((name) => isAnswered(left[name]));
      const inPart = limited && test.pairs.some(([a, b]) => isAnswered(left[a]) !== isAnswered(left[b]));
      results[code] = test.shows[key(value, measured, inPart, wrong)];
    }
    const words = readings.filter((each) => isOutside(each, each.asLeft)).map((each) => `${each.words} as left ${each.asLeft} ${each.unit}`);
    return { results, outside: words };
  }

  // All of it: {letter, tests, missing, failed, awaited, outside, unsure, endings, why}.
  function amountTo(told, pages) {
    const { effects, awaited, fitted, unsure } = workOf(told, pages);
    const end = pages[told.pages.end] || {};
    const reason = told.effects[told.reasons[pages[told.pages.safe]?.reason]];
    const every = reason ? [...effects, reason] : effects;
    const derived = every.reduce((found, each) => higher(found, each.letter), "A");
    const stated = end.class_stated || "";
    const decided = (end.class_reason || "").trim() !== "" && stated !== "X";
    const unknown = decided ? [] : every.flatMap((each) => (each.if_no_part && fitted.length ? [] : each.unknown));
    const forbids = stated === "X" || every.some((each) => each.forbids);
    const letter = [stated, unknown.length ? "C" : "", forbids ? "B" : ""].reduce(higher, derived);
    const { tests: ofClass, also } = told.classes[letter];
    const asked = [...new Set([...ofClass, ...every.flatMap((each) => each.tests)])]
      .sort((one, other) => Number(one.slice(1)) - Number(other.slice(1)));
    const { results, outside } = resultsOf(told, pages);
    const failed = Object.keys(results).filter((code) => results[code] === "fail");
    const open = asked.filter((code) => results[code] !== "pass" && results[code] !== "fail" && (results[code] || !told.apart.includes(code)));
    const missing = [...open.map((code) => (results[code] ? `${code} ${told.stated}` : told.titles[code])), ...also];
    const waits = [...told.before.filter((each) => !fitted.some((part) => isFitted(each, part))).map((each) => each.words), ...awaited];
    const worked = effects.some((each) => each.worked);
    const endings = told.endings[key(failed.length || forbids, missing.length, waits.length, worked)];
    const stands = {
      failed: failed.join(", "), unknown: [...new Set(unknown)].join(", "), forbids: forbids ? "do not use" : "",
      awaited: waits.join("; "), missing: missing.join("; "),
    };
    const first = Object.keys(told.why_not).find((name) => stands[name]);
    const why = first ? told.why_not[first].replace("{what}", stands[first]) : "";
    return { letter, asked, open, missing, failed, awaited: waits, outside, unsure, endings, why };
  }

  const isFitted = (each, part) => (each.at ? each.at === part.position : each.name === part.name);

  // ---------------------------------------------------------------- on a page

  const form = document.querySelector("form[data-visit]");
  const told = JSON.parse(form?.dataset.told || "null");
  const madeAt = Number(form?.querySelector("[name=revision]").value); // before anything is sent from it

  // What is typed of the unit by page: as the server had it, as it was sent from here since, as it waits here, as it stands.
  function pagesHere() {
    const { VisitStore: store } = self;
    const steps = [...Object.keys(told.tasks), ...Object.values(told.pages), ...[1, 2, 3, 4, 5, 6, 7, 8, 9].map((n) => `${told.extra.start}${n}`)];
    const pages = { ...told.held };
    for (const step of steps) {
      const [ref, n] = [form.dataset.visit, form.dataset.n];
      const sent = store.get(store.sentKey(ref, n, step));
      const held = store.get(store.pageKey(ref, n, step))?.data || (sent?.revision > madeAt && sent.data);
      if (held) pages[step] = held;
    }
    pages[form.dataset.step] = store.typedIn(form);
    return pages;
  }

  // What stands beside the answers of this page when they are checked.
  function beside() {
    if (!told) return {};
    const pages = pagesHere();
    const all = amountTo(told, pages);
    const found = Object.entries(pages[told.pages.found] || {}).map(([name, value]) => [`${told.pages.found}.${name}`, value]);
    return {
      ...Object.fromEntries(found), "@outside": all.outside.join("; "), "@awaited": all.awaited.join("; "),
      "@endings": all.unsure.length ? null : all.endings, "@why": all.why,
    };
  }

  function line(place, text, stop = false) {
    if (!text) return;
    const made = document.createElement("p");
    made.textContent = text;
    if (stop) made.className = "note note--stop";
    place.append(made);
  }

  function show() {
    const place = document.querySelector("[data-told-here]");
    if (!place) return;
    const all = amountTo(told, pagesHere());
    place.replaceChildren();
    line(place, `Work of class ${told.words[all.letter]}. ${all.asked.length ? `The rules ask after it: ${all.asked.map((code) => told.titles[code]).join("; ")}.` : "The rules ask no test after it."}`);
    line(place, all.missing.length ? `Still missing: ${all.missing.join("; ")}.` : "Nothing is missing.");
    if (all.outside.length) line(place, `Outside its limits: ${all.outside.join("; ")}.`, true);
    if (all.awaited.length) line(place, `To be replaced, and not fitted: ${all.awaited.join("; ")}.`, true);
    if (all.unsure.length) line(place, `Not known on this device: ${all.unsure.join(", ")}. What it asks is worked out when the visit is sent.`);
    else if (form.dataset.step === told.pages.end && all.why) line(place, `“Released” is not offered. ${all.why}`);
    for (const box of form.querySelectorAll("[name=conclusion]")) {
      const open = all.unsure.length > 0 || all.endings.includes(box.value);
      box.closest("label").hidden = !open;
      box.disabled = !open;
      if (!open) box.checked = false;
    }
    for (const each of form.querySelectorAll("[data-unnamed]")) nameReading(each);
  }

  // A reading that was named on the page before, which this copy of the page does not know.
  function nameReading(each) {
    const found = pagesHere()[told.pages.found] || {};
    const start = each.dataset.unnamed;
    const words = [found[`${start}_quantity`], found[`${start}_unit_of_measure`]].filter(Boolean).join(", ");
    if (!words) return;
    each.hidden = false;
    each.querySelector("label").firstChild.textContent = `${words}, as left `;
  }

  const isHere = form && told && ("keptAt" in document.documentElement.dataset || form.dataset.unbegun === "1");
  if (isHere) {
    document.addEventListener("DOMContentLoaded", show); // once the page is filled with what this device keeps
    form.addEventListener("input", show);
    form.addEventListener("change", show);
  }

  return { amountTo, beside };
})();
