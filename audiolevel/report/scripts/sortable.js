// Tables that sort by a column when its heading is pressed.

/** What a cell is sorted by. @param {HTMLTableRowElement} row @param {number} column @returns {string | number} */
function sortedBy(row, column) {
  const cell = /** @type {HTMLElement} */ (row.cells[column]);
  const value = cell.dataset.value ?? (cell.textContent || "");
  const number = value.trim() === "" ? NaN : Number(value);
  return Number.isNaN(number) ? value : number;
}

/** @param {string | number} a @param {string | number} b */
function inOrder(a, b) {
  if (typeof a === "number" && typeof b === "number") return a - b;
  // numbers before words, and what is empty last
  if (a === "" || b === "") return a === b ? 0 : a === "" ? 1 : -1;
  if (typeof a !== typeof b) return typeof a === "number" ? -1 : 1;
  return `${a}`.localeCompare(`${b}`, undefined, { numeric: true });
}

/** @param {HTMLTableElement} table */
function sortable(table) {
  const heads = [...table.querySelectorAll("thead th")];
  heads.forEach((head, column) => {
    const button = made("button", head.textContent || "");
    button.setAttribute("type", "button");
    head.replaceChildren(button);
    button.addEventListener("click", () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach((one) => one.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const body = table.tBodies[0];
      const rows = [...body.rows].sort((a, b) => (up ? 1 : -1) * inOrder(sortedBy(a, column), sortedBy(b, column)));
      body.append(...rows);
    });
  });
}

document.querySelectorAll("table.sortable").forEach((table) => sortable(/** @type {HTMLTableElement} */ (table)));
