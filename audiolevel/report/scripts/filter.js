// Tables whose rows are chosen by what is typed above them, and rows that a link leads to.

document.querySelectorAll("input[data-filters]").forEach((field) => {
  const box = /** @type {HTMLInputElement} */ (field);
  const table = /** @type {HTMLTableElement} */ (byId(box.dataset.filters || ""));
  const said = byId(`${box.id}-said`);
  box.addEventListener("input", () => {
    const words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of table.tBodies[0].rows) {
      const text = (row.textContent || "").toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      if (!row.hidden) shown += 1;
    }
    said.textContent = `${shown} of ${table.tBodies[0].rows.length}`;
  });
});
