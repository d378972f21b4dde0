// Adds one blank row on the spot. Without this file the same button asks the server for more rows.
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=more]");
  if (!button) return;
  const rows = button.closest("[data-rows]");
  const template = rows && rows.querySelector(":scope > template");
  const total = rows && rows.querySelector(`input[name="${rows.dataset.rows}-TOTAL_FORMS"]`);
  if (!template || !total) return;
  event.preventDefault();
  const index = Number(total.value);
  if (index >= 200) return;
  const holder = document.createElement("div");
  holder.innerHTML = template.innerHTML.replaceAll("__prefix__", String(index));
  const row = holder.firstElementChild;
  row.querySelector("legend").textContent = `${rows.dataset.word} ${index + 1}`;
  rows.insertBefore(row, template);
  total.value = String(index + 1);
  row.querySelector("select, input, textarea").focus();
});
