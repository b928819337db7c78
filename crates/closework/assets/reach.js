// Tables whose head can be pressed to sort them; without this script they stand in the server's order.

/** A column is sorted by its figures where it has any; a cell without one comes first.
 * @param {HTMLTableCellElement} cell @param {boolean} figures @returns {number | string} */
function key(cell, figures) {
  return figures ? Number(cell.dataset.value ?? -Infinity) : cell.textContent ?? "";
}

/** @param {number | string} a @param {number | string} b */
function compare(a, b) {
  return typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b));
}

/** @param {HTMLTableElement} table @param {number} column @param {boolean} down */
function sort(table, column, down) {
  const body = table.tBodies[0];
  const figures = [...body.rows].some((row) => row.cells[column].dataset.value !== undefined);
  const keyed = [...body.rows].map((row) => ({ row, key: key(row.cells[column], figures) }));
  const rows = keyed.sort((p, q) => compare(p.key, q.key) * (down ? -1 : 1)).map(({ row }) => row);
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
