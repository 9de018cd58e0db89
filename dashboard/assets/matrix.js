// The cells of the matrix. Every text and length comes from the server; here they are only put into place.
(function () {
  "use strict";
  const element = (kind, attributes, ...children) => window.React.createElement(kind, attributes, ...children);

  function MatrixCell(props) {
    const cell = props.value;
    if (!cell) {
      return null;
    }
    if (cell.kind === "hidden") {
      return element("span", { className: "cell-hidden", title: "Left out by a filter", "aria-label": "Left out by a filter" }, "·");
    }
    const marks = cell.marks && Array.from(cell.marks, (mark) => element("span", { key: mark, className: `cell-mark mark-${mark}` }, mark));
    return element(
      "a",
      { href: cell.href, className: `matrix-cell is-${cell.kind}`, tabIndex: -1, title: cell.said, "aria-label": cell.said },
      element("span", { className: "cell-figure" }, cell.number),
      marks && element("span", { className: "cell-marks" }, marks),
      cell.way && element("span", { className: `cell-moved way-${cell.way}` }, cell.change),
      // Few elements for each cell, because hundreds are drawn while the grid scrolls: the style sheet draws the bar.
      element("span", { className: "cell-bar", style: { "--fill": cell.fill || "0%", "--ceiling": cell.ceiling || "0%", "--known": cell.ceiling ? 1 : 0 } }),
    );
  }

  function MatrixName(props) {
    const name = props.value;
    return element(
      "span",
      { className: "matrix-name", title: name.said },
      element("span", { className: "name-words" }, name.words),
      element("span", { className: "name-note" }, name.note, name.code ? element("code", null, name.code) : null),
    );
  }

  window.dashAgGridComponentFunctions = Object.assign(window.dashAgGridComponentFunctions || {}, { MatrixCell, MatrixName });
  window.dashAgGridFunctions = Object.assign(window.dashAgGridFunctions || {}, {
    // What the grid asks where Tab leads: out of it, as the browser has it.
    matrixLeave: () => false,
  });

  function open(link) {
    const address = new URL(link.href);
    window.dash_clientside.set_props("address", { pathname: address.pathname, search: address.search });
    window.scrollTo(0, 0);
  }

  document.addEventListener("click", function (event) {
    const link = event.target.closest ? event.target.closest("a.matrix-cell") : null;
    // With a key held, the browser opens another tab or window.
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey && !event.altKey) {
      event.preventDefault();
      open(link);
    }
  });

  document.addEventListener("keydown", function (event) {
    const cell = event.key === "Enter" && event.target.closest ? event.target.closest(".matrix-grid .ag-cell") : null;
    const link = cell && cell.querySelector("a.matrix-cell");
    if (link && event.target !== link) {
      event.preventDefault();
      open(link);
    }
  });
})();
