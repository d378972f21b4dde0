// What a page of a visit asks, checked on this device: read from the description that the server checks its form by
// (`audit/pages/visit/asked.py`). Nothing is asked here that does not stand there.
self.VisitCheck = (() => {
  "use strict";

  const isAnswered = (value) => value !== undefined && String(value).trim() !== "";

  // ---------------------------------------------------------------- one field

  const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;
  const UNUSUAL = /[eE_]|[^\x20-\x7e,]/; // other ways to write a number, which the server reads

  function ofNumber(rule, text) {
    if (!NUMBER.test(text)) return UNUSUAL.test(text) && !text.includes(",") ? "" : rule.invalid.replace("%s", text);
    const [whole, decimals = ""] = text.replace(/^[+-]/, "").split(".");
    const before = whole.replace(/^0+/, "").length;
    if (before + decimals.length > rule.digits && before <= rule.digits - rule.places) return rule.many.max_decimal_places;
    if (decimals.length > rule.places) return rule.many.max_decimal_places;
    return before > rule.digits - rule.places ? rule.many.max_whole_digits : "";
  }

  function ofWhole(rule, text) {
    if (!/^\d+(\.0*)?$/.test(text)) return rule.invalid;
    return Number(text) > rule.most ? rule.over : "";
  }

  const KINDS = {
    number: ofNumber,
    whole: ofWhole,
    line: (rule, text) => (text.length > rule.longest ? rule.over : ""),
    time: (rule, text) => (/^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?$/.test(text) ? "" : rule.invalid),
    day: (rule, text) => {
      const written = text.match(/^(\d{4})-(\d{1,2})-(\d{1,2})$/);
      if (!written) return /\d/.test(text) ? "" : rule.invalid; // another order, which the server reads as the clinic writes it
      const [, year, month, day] = written.map(Number);
      return new Date(Date.UTC(year, month - 1, day)).getUTCDate() === day && month <= 12 ? "" : rule.invalid;
    },
  };

  function ofField(rule, value) {
    if (!isAnswered(value)) return rule.required || "";
    return KINDS[rule.kind]?.(rule, String(value).trim()) || "";
  }

  // ---------------------------------------------------------------- fields together

  const isSo = (value, wanted) => isAnswered(value) && (wanted === null || wanted.includes(String(value)));

  function applies(need, data) {
    if (need.unless.some((name) => isAnswered(data[name]))) return false;
    return need.when.some((each) => Object.entries(each).every(([name, wanted]) => isSo(data[name], wanted)));
  }

  function* together(rules, data) {
    for (const need of rules.needs) {
      if (!isAnswered(data[need.field]) && applies(need, data)) yield [need.field, need.message];
    }
    for (const { of, none, many } of rules.answers) {
      const given = of.filter((name) => isAnswered(data[name])).length;
      if (given !== 1) yield given ? [of.at(-1), many] : [of[0], none];
    }
    for (const clash of rules.clashes) if (applies(clash, data)) yield [clash.field, clash.message];
    for (const rule of rules.last_days) {
      const day = passed(rule, data);
      if (day) yield [rule.field, rule.message.replace("{day}", day)];
    }
    for (const order of rules.orders) {
      const words = brokenOrder(order, data);
      if (words) yield [order.field, words];
    }
  }

  // A number as the server writes it: no sign of plus, a digit before the point, none left out after it.
  function plain(text) {
    const [, minus, whole, decimals] = String(text).trim().match(/^\+?(-?)(\d*)\.?(\d*)$/);
    return `${minus}${whole.replace(/^0+(?=\d)/, "") || "0"}${decimals ? `.${decimals}` : ""}`;
  }

  function brokenOrder(order, data) {
    const [low, high] = [order.low, order.high].map((each) => (typeof each === "object" ? each.is : data[each]));
    if (![low, high].every((each) => isAnswered(each) && NUMBER.test(String(each).trim()))) return "";
    if (!applies(order, data)) return "";
    const more = order.plus && isAnswered(data[order.plus]) ? data[order.plus] : order.plus_else;
    const total = Number(high) + Number(more);
    const fine = order.above ? Number(low) < total : Number(low) <= total;
    return fine ? "" : order.message.replace("{low}", plain(low)).replace("{high}", plain(high));
  }

  // The day by the clock of this device, as the pages write days.
  function today() {
    const now = new Date();
    return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((each) => String(each).padStart(2, "0")).join("-");
  }

  // The day up to and with which it may be used, where that is over; "" where it is not, and where none is asked.
  function passed(rule, data) {
    const said = String(data[rule.field] ?? "").trim();
    const day = rule.days ? rule.days[said] : said;
    return /^\d{4}-\d\d-\d\d$/.test(day || "") && day < today() && applies(rule, data) ? day : "";
  }

  // A lot that was typed or scanned is one of own stock, one of another part, or neither.
  function lotOf(lots, data) {
    const typed = (data.lot_printed || "").trim().toLowerCase();
    if (!lots || !typed || isAnswered(data.lot)) return {};
    if (lots.means[typed]) return { means: lots.means[typed] };
    return data.lot_state === "printed" ? {} : { wrong: lots.others[typed] };
  }

  // [{name, label, message}] of everything that the server would refuse of these answers, each field once.
  // `beside`: what other pages say and all of them amount to.
  function problems(rules, answers, beside = self.VisitTold?.beside() || {}) {
    const data = { ...beside, ...answers };
    const found = new Map();
    for (const [name, rule] of Object.entries(rules.fields)) {
      const message = ofField(rule, data[name]);
      if (!message) continue;
      found.set(name, message);
      delete data[name]; // an answer that is none decides nothing
    }
    const lot = lotOf(rules.lots, data);
    if (lot.wrong) {
      found.set("lot_printed", lot.wrong);
      delete data.lot_printed;
    }
    if (lot.means) data.lot = lot.means;
    const endings = data["@endings"];
    if (endings && isAnswered(data.conclusion) && !endings.includes(data.conclusion)) {
      found.set("conclusion", `“${data.conclusion}” cannot be claimed yet. ${data["@why"]}`.trim());
      delete data.conclusion;
    }
    for (const [name, message] of together(rules, data)) if (!found.has(name)) found.set(name, message);
    return [...found].map(([name, message]) => ({ name, label: rules.fields[name]?.label || name, message }));
  }

  // ---------------------------------------------------------------- shown

  const placeOf = (form, name) => form.querySelector(`fieldset#f-${CSS.escape(name)}`) || form.querySelector(`#f-${CSS.escape(name)}`)
    || form.querySelector(`[name="${CSS.escape(name)}"]`);

  function clear(form) {
    document.querySelector("[data-checked-here]")?.remove();
    for (const each of form.querySelectorAll("[aria-invalid][data-here]")) {
      each.removeAttribute("aria-invalid");
      delete each.dataset.here;
    }
  }

  function show(form, found) {
    clear(form);
    const box = document.createElement("div");
    Object.assign(box, { className: "problems", tabIndex: -1 });
    box.setAttribute("role", "alert");
    box.dataset.checkedHere = "1";
    const title = document.createElement("h2");
    title.textContent = "Kept on this device, but not complete yet";
    const list = document.createElement("ul");
    for (const { name, label, message } of found) {
      const place = placeOf(form, name);
      const line = document.createElement("li");
      if (place) {
        place.closest("details")?.setAttribute("open", "");
        place.setAttribute("aria-invalid", "true");
        place.dataset.here = "1";
        const to = document.createElement("a");
        place.id ||= `f-${name}`;
        to.href = `#${place.id}`;
        to.textContent = label;
        to.addEventListener("click", () => (place.matches("fieldset") ? place.querySelector("input") : place)?.focus());
        line.append(to, `: ${message}`);
      } else line.textContent = `${label}: ${message}`;
      list.append(line);
    }
    box.append(title, list);
    form.before(box);
    box.focus();
    box.scrollIntoView({ block: "center" });
  }

  // As things are answered, what is demanded says so.
  function mark(form, rules, typedIn) {
    const answers = typedIn(form);
    if (form.querySelector("[name=go][value=done]")) answers.outcome ||= "done";
    const now = new Set(rules.needs.filter((need) => applies(need, answers)).map((need) => need.field));
    for (const { field } of rules.needs) {
      const word = form.querySelector(`label[for="f-${CSS.escape(field)}"] .muted`);
      if (word) word.textContent = now.has(field) ? "needed" : "if it applies";
    }
    const tick = form.querySelector("[data-if-expired]");
    const { means } = lotOf(rules.lots, answers);
    const lots = means ? { ...answers, lot: means } : answers;
    if (tick && (lots.expired_fitted || rules.last_days.some((rule) => passed(rule, lots)))) tick.hidden = false;
  }

  return { problems, show, clear, mark };
})();
