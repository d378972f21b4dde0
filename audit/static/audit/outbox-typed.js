// What was typed in a form: read off in words, put back into the form later, and what the server said of it.
self.OutboxTyped = (() => {
  "use strict";

  const labelOf = (control) => {
    const label = control.labels?.[0]?.cloneNode(true) || null;
    label?.querySelectorAll(".muted, select, input, textarea").forEach((inner) => inner.remove());
    const row = control.closest("fieldset.row")?.querySelector(":scope > legend")?.textContent.trim();
    const words = label?.textContent.trim().replace(/\s+/g, " ") || control.name;
    return row ? `${row}: ${words}` : words;
  };

  function shownValue(control) {
    if (control.type === "file") return [...control.files].map((file) => file.name).join(", ");
    if (control.type === "checkbox") return control.checked ? "yes" : "";
    if (control.type === "radio") return control.checked ? labelOf(control) : "";
    if (control.tagName !== "SELECT") return control.value.trim();
    return [...control.selectedOptions].filter((option) => option.value).map((o) => o.textContent.trim()).join(", ");
  }

  function typedIn(form) {
    const controls = [...form.elements].filter((c) => c.name && c.type !== "hidden" && c.type !== "submit");
    return controls.map((c) => [labelOf(c), shownValue(c)]).filter(([, value]) => value !== "");
  }

  async function moreRows(form, fields) {
    for (const [name, value] of fields) {
      const prefix = name.match(/^(.*)-TOTAL_FORMS$/)?.[1];
      const total = prefix && form.elements[name];
      const more = prefix && form.querySelector(`button[name=more][value="${CSS.escape(prefix)}"]`);
      for (let turn = 0; total && more && Number(total.value) < Number(value) && turn < 200; turn += 1) more.click();
    }
  }

  const addressOf = (form) => new URL(form.getAttribute("action") || location.href, location.href).href.split("#")[0];

  // The form on this page that the entry was typed in; of those with the same address the one that is about the same.
  function formOf(item) {
    const forms = [...document.querySelectorAll("form[data-outbox]")];
    const about = new Map(item.fields.filter(([, value]) => typeof value === "string"));
    const alike = (form) =>
      [...form.elements].filter((c) => c.type === "hidden" && c.value && about.get(c.name) === c.value).length;
    const found = forms.filter((form) => addressOf(form) === item.address).sort((a, b) => alike(b) - alike(a));
    return found[0] || (forms.length === 1 ? forms[0] : null);
  }

  function putBack(control, values) {
    if (control.type === "checkbox" || control.type === "radio") control.checked = values.includes(control.value);
    else if (control.tagName === "SELECT") for (const o of control.options) o.selected = values.includes(o.value);
    else if (control.type === "file") {
      const files = new DataTransfer();
      values.filter((value) => value instanceof File && value.size).forEach((file) => files.items.add(file));
      control.files = files.files;
    } else control.value = values[0] ?? "";
  }

  // Of the page as it is now, not of the entry: what was looked at before it is sent again.
  const OF_THE_PAGE = new Set(["csrfmiddlewaretoken", "revision"]);

  function fillIn(form, fields) {
    const values = new Map();
    for (const [name, value] of fields) values.set(name, [...(values.get(name) || []), value]);
    const names = new Set();
    for (const control of form.elements) {
      if (!control.name || control.type === "submit") continue;
      names.add(control.name);
      if (OF_THE_PAGE.has(control.name)) continue;
      putBack(control, values.get(control.name) || []);
      if (control.value || control.checked) control.closest("details")?.setAttribute("open", "");
    }
    return [...values].filter(([name, [value]]) => !names.has(name) && typeof value === "string" && value);
  }

  function answerPage(item) {
    return new DOMParser().parseFromString(item.said || "", "text/html");
  }

  // A page with its list of problems, or data with one.
  function problemsOf(item) {
    if ((item.said || "").startsWith("{")) return [JSON.parse(item.said).problem].filter(Boolean);
    const found = answerPage(item).querySelectorAll(".problems li, .problems > p");
    return [...found].map((each) => each.textContent.trim().replace(/\s+/g, " "));
  }

  return { addressOf, formOf, typedIn, moreRows, fillIn, answerPage, problemsOf };
})();
