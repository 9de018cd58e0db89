// Sorts the tables of the page and collapses its load cases.
(function () {
  "use strict";

  function order(rows, column, down) {
    const value = (row) => {
      const cell = row.cells[column];
      return "value" in cell.dataset ? Number(cell.dataset.value) : cell.textContent.trim();
    };
    const empty = (one) => one === "" || one === "–";
    return rows.sort((one, other) => {
      const [first, second] = [value(one), value(other)];
      if (empty(first) || empty(second)) {
        return Number(empty(first)) - Number(empty(second));
      }
      const sign = typeof first === "number" && typeof second === "number" ? first - second : String(first).localeCompare(String(second), "en");
      return down ? -sign : sign;
    });
  }

  for (const table of document.querySelectorAll("table.sorted")) {
    const heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, column) => {
      head.querySelector("button").addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        heads.forEach((one) => one.setAttribute("aria-sort", "none"));
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const body = table.tBodies[0];
        body.append(...order([...body.rows], column, down));
      });
    });
  }

  for (const button of document.querySelectorAll("button[data-fold]")) {
    button.addEventListener("click", () => {
      for (const one of document.querySelectorAll("details.case")) {
        one.open = button.dataset.fold === "open";
      }
    });
  }

  function unfoldTarget() {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    const folded = target && target.closest("details.case");
    if (folded) {
      folded.open = true;
      target.scrollIntoView();
    }
  }

  window.addEventListener("hashchange", unfoldTarget);
  unfoldTarget();
})();
