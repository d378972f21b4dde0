// Rows of a table on a page: Enter goes down, what is pasted out of a table program fills the cells from where it is
// pasted, and a row that is left is checked by the server. Without this file the form does the same when it is sent.
const table = document.querySelector("[data-type-rows]");
const body = table.tBodies[0];
const blank = table.querySelector("template");
const count = document.querySelector("input[name=count]");
const most = Number(table.dataset.most);

const cellsOf = (row) => [...row.querySelectorAll("input, select")];
const numberOf = (row) => Number(row.dataset.row);
const isFilled = (row) => cellsOf(row).some((cell) => cell.value.trim());

function addRow() {
  const number = Number(count.value) + 1;
  if (number > most) return null;
  const holder = document.createElement("tbody");
  holder.innerHTML = blank.innerHTML.replaceAll("__row__", String(number));
  const row = holder.firstElementChild;
  body.append(row);
  count.value = String(number);
  return row;
}

function put(cell, text) {
  if (cell.tagName !== "SELECT") {
    cell.value = text;
    return;
  }
  const said = text.trim().toLowerCase();
  const found = [...cell.options].find((o) => [o.value.toLowerCase(), o.textContent.trim().toLowerCase()].includes(said));
  // A word that is none of the answers is never swallowed: it stands as it was pasted, and the check asks about it.
  if (!found && said) cell.add(new Option(text, text));
  cell.value = found ? found.value : text;
}

function paste(event) {
  const cell = event.target.closest("input, select");
  const row = cell && cell.closest("tr[data-row]");
  const text = (event.clipboardData || window.clipboardData).getData("text");
  if (!row || !/[\t\n]/.test(text.trimEnd())) return;
  event.preventDefault();
  const from = cellsOf(row).indexOf(cell);
  let at = row;
  for (const line of text.replace(/\r\n?/g, "\n").trimEnd().split("\n")) {
    if (!at) break;
    const cells = cellsOf(at);
    line.split("\t").forEach((said, n) => cells[from + n] && put(cells[from + n], said.trim()));
    check(at);
    at = at.nextElementSibling || addRow();
  }
}

function down(event) {
  const cell = event.target.closest("input, select");
  const row = cell && cell.closest("tr[data-row]");
  if (event.key !== "Enter" || !row) return;
  event.preventDefault();
  const next = row.nextElementSibling || addRow();
  if (next) cellsOf(next)[cellsOf(row).indexOf(cell)].focus();
}

async function check(row) {
  const said = row.querySelector("[data-said]");
  if (!isFilled(row)) {
    said.textContent = "";
    return;
  }
  const data = new FormData();
  const number = numberOf(row);
  for (const cell of cellsOf(row)) data.append(cell.name.replace(/^\d+:/, "1:"), cell.value);
  for (const cell of table.querySelectorAll("[name^='same:']")) data.append(cell.name, cell.value);
  for (const name of ["who", "paper", "csrfmiddlewaretoken"]) {
    data.append(name, document.querySelector(`[name=${name}]`).value);
  }
  for (const tick of document.querySelectorAll("[name=confirmed]:checked")) data.append("confirmed", tick.value);
  data.append("count", "1");
  try {
    const answer = await fetch(table.dataset.typeRows, { method: "POST", body: data });
    if (!answer.ok) return;
    const found = await answer.json();
    row.classList.toggle("row--bad", found.faults.length > 0);
    said.textContent = found.faults.map((f) => `${f.head ? `${f.head}: ` : ""}${f.message}`).join(" ") ||
      found.known || `row ${number} is right`;
  } catch {
    said.textContent = "";  // no signal: it is checked when the form is sent
  }
}

table.addEventListener("paste", paste);
table.addEventListener("keydown", down);
table.addEventListener("focusout", (event) => {
  const row = event.target.closest("tr[data-row]");
  if (row && !row.contains(event.relatedTarget)) check(row);
});
