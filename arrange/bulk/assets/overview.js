"use strict";
for (const table of document.querySelectorAll("table.sortable")) {
  const body = table.tBodies[0];
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const button = head.querySelector("button");
    if (!button) return;
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      const isNumber = head.classList.contains("number");
      const keyed = [...body.rows].map((row) => [row.cells[column].dataset.key ?? "", row]);
      keyed.sort(([a], [b]) => {
        if (isNumber) return (a === "" ? Infinity : +a) - (b === "" ? Infinity : +b) || 0;
        return a < b ? -1 : a > b ? 1 : 0;
      });
      if (down) keyed.reverse();
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      body.append(...keyed.map(([, row]) => row));
    });
  });
}
const filter = document.getElementById("filter");
const shown = document.getElementById("shown");
filter?.addEventListener("input", () => {
  const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
  let count = 0;
  for (const row of document.querySelectorAll("#pieces tbody tr")) {
    const text = row.textContent.toLowerCase();
    row.hidden = !words.every((word) => text.includes(word));
    count += row.hidden ? 0 : 1;
  }
  shown.textContent = `${count} shown`;
});
