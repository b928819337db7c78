// Tables whose head can be pressed to sort them; without this script they stand in the server's order.

/** @param {HTMLTableCellElement} cell @returns {number | string} */
function key(cell) {
  return cell.dataset.value !== undefined ? Number(cell.dataset.value) : cell.textContent ?? "";
}

/** @param {number | string} a @param {number | string} b */
function compare(a, b) {
  return typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b));
}

/** @param {HTMLTableElement} table @param {number} column @param {boolean} down */
function sort(table, column, down) {
  const body = table.tBodies[0];
  const rows = [...body.rows].sort((p, q) => compare(key(p.cells[column]), key(q.cells[column])) * (down ? -1 : 1));
  body.append(...rows);
  for (const [i, head] of [...(table.tHead?.rows[0].cells ?? [])].entries()) {
    head.setAttribute("aria-sort", i === column ? (down ? "descending" : "ascending") : "none");
  }
}

for (const table of /** @type {NodeListOf<HTMLTableElement>} */ (document.querySelectorAll("table.sortable"))) {
  for (const [i, head] of [...(table.tHead?.rows[0].cells ?? [])].entries()) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "sort";
    button.textContent = head.textContent;
    button.addEventListener("click", () => sort(table, i, head.getAttribute("aria-sort") === "ascending"));
    head.replaceChildren(button);
  }
}

// A choice is an answer already.
const question = /** @type {HTMLFormElement | null} */ (document.querySelector("form[action='/reach']"));
question?.addEventListener("change", (event) => {
  if (event.target instanceof HTMLSelectElement) question.requestSubmit();
});
