"""Parts of the matrix: its grid, the columns and rows of both views, and the legend.

Everything a cell shows is a text that is written here; `assets/matrix.js` puts it into place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import dash_ag_grid as dag
from dash import html

from correlate.plots import STATE_MARKS, cell_sentence, channel_title, signed
from dashboard import ids
from dashboard.components.controls import DECORATION, labelled, number
from dashboard.components.paging import ROWS
from dashboard.components.stepping import pair_address

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import MatrixCell, ReleaseMatrix
    from dashboard.components.stepping import PairList

ROW_HEIGHT: Final = 52
HEAD_HEIGHT: Final = 66

_HIDDEN: Final[dict[str, str]] = {"kind": "hidden"}
"""A cell that a filter leaves out, in a row or column that it keeps."""


@dataclass(frozen=True, kw_only=True)
class MatrixView:
    """What the grid shows.

    Attributes
    ----------
    matrix
        Cells of the releases that are shown.
    release
        Whose cells are sorted and filtered.
    listed
        How.
    titles
        Load cases in words, by name.
    """

    matrix: ReleaseMatrix
    release: str
    listed: PairList
    titles: Mapping[str, str]

    @cached_property
    def cells(self) -> tuple[MatrixCell, ...]:
        """Cells of the release that the filters keep, in order."""
        return self.listed.cells(self.matrix, self.release)

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """Load cases of these cells, in the order of the campaign."""
        names = {one.load_case for one in self.cells}
        return tuple(name for name in self.matrix.load_cases if name in names)

    @cached_property
    def channels(self) -> tuple[tuple[str, str], ...]:
        """Region and name of the channels of these cells: a row is as bad as its worst cell."""
        return tuple(dict.fromkeys((one.region, one.channel) for one in self.cells))

    def face(self, cell: MatrixCell) -> dict[str, str]:
        """Return everything that the grid shows of a cell."""
        against = self.matrix.against[cell.release]
        title = self.titles[cell.load_case]
        kind = "rated" if cell.lost is not None else "unsure"
        shown = {
            "kind": "unrated" if cell.rating is None else kind,
            "number": "not rated" if cell.rating is None else number(cell.rating),
            "fill": _share(cell.rating),
            "ceiling": _share(cell.ceiling),
            "marks": "".join(mark for state, mark in STATE_MARKS.items() if state in cell.states),
            "href": pair_address(cell, against=against, listed=self.listed),
            "said": cell_sentence(cell, case_title=title, against=against),
        }
        return {name: text for name, text in (shown | _change(cell)).items() if text}


def matrix_grid() -> dag.AgGrid:
    """Return the grid, empty until cells are read; rows and columns out of sight are not drawn."""
    return dag.AgGrid(
        id=ids.MATRIX_GRID,
        columnDefs=[],
        rowData=[],
        # Cells are no plain values to guess a kind from; the page sorts, and its address says how.
        defaultColDef={
            "sortable": False,
            "resizable": True,
            "cellDataType": False,
            "suppressMovable": True,
            "suppressHeaderMenuButton": True,
        },
        dashGridOptions={
            "rowHeight": ROW_HEIGHT,
            "headerHeight": HEAD_HEIGHT,
            "animateRows": False,
            "rowBuffer": 4,
            "suppressRowHoverHighlight": False,
            # Tab leaves the grid; arrow keys move inside it.
            "tabToNextCell": {"function": "matrixLeave()"},
            "tabToNextHeader": {"function": "matrixLeave()"},
        },
        className="matrix-grid",
    )


MOST_CELLS: Final = 300
"""Most cells that are sent at once: with their content at most about 180 kB."""
MOST_COLUMNS: Final = 40


def rows_beside(columns: int) -> int:
    """Return how many rows are sent at once with a number of columns."""
    return max(5, min(ROWS, MOST_CELLS // max(1, min(columns, MOST_COLUMNS))))


def by_load_case(
    view: MatrixView, columns: Sequence[str], channels: Sequence[tuple[str, str]]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return columns, one per load case, and rows, one per channel of a region, of one release."""
    kept = view.cells
    whole = view.matrix.of_release(view.release)
    held_out = {one.load_case for one in whole if one.held_out}
    places = {(one.region, one.channel, one.load_case): one for one in whole}
    shown = {(one.load_case, one.channel) for one in kept}
    first = {(one.region, one.channel): one for one in reversed(kept)}
    rows = []
    for region, channel in channels:
        one = first[region, channel]
        code = "" if channel_title(one.words).casefold() == channel.casefold() else channel
        row: dict[str, Any] = {"name": _name(one, note=region, code=code)}
        for place, case in enumerate(columns):
            cell = places.get((region, channel, case))
            if cell is not None:
                row[f"c{place}"] = view.face(cell) if (case, channel) in shown else _HIDDEN
        rows.append(row)
    heads = {
        name: f"{view.titles[name]} (held out)" if name in held_out else view.titles[name] for name in columns
    }
    return _columns("Channel", list(heads.values())), rows


def by_release(
    beside: MatrixView, cells: Sequence[MatrixCell]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return columns, one per release, and rows, one per channel of a load case.

    Parameters
    ----------
    beside
        Its matrix has the cells of these rows in every release that is a column.
    cells
        Of the release that is sorted, one per row.
    """
    matrix = beside.matrix
    rows = []
    for one in cells:
        row: dict[str, Any] = {"name": _name(one, note=beside.titles[one.load_case])}
        for place, release in enumerate(matrix.releases):
            row[f"c{place}"] = beside.face(matrix.by_place[release, one.load_case, one.channel])
        rows.append(row)
    heads = [
        f"{name} (against {matrix.against[name]})" if matrix.against[name] else name
        for name in matrix.releases
    ]
    return _columns("Channel and load case", heads), rows


def legend() -> html.Div:
    """Explain everything that a cell shows."""
    marks = [
        _entry(html.Span(letter, className=f"cell-mark mark-{letter}", **DECORATION), state)
        for state, letter in STATE_MARKS.items()
    ]
    bars = [
        _entry(_sample("fill"), "rating, 0 to 1"),
        _entry(_sample("tick"), "ceiling: the tests against each other"),
        _entry(_sample("lost"), "points lost beyond scatter"),
        _entry(_sample("unrated"), "not rated"),
        html.Span("empty: not in the campaign", className="legend-entry"),
    ]
    changes = [
        _entry(html.Span(className=f"cell-way way-{way}", **DECORATION), words)
        for way, words in (
            ("worse", "worse"),
            ("better", "better"),
            ("same", "not distinguishable"),
        )
    ]
    changes.append(_entry(html.Span("?", **DECORATION), "one repeat, chance unknown"))
    return html.Div(
        [
            html.P(bars, className="legend"),
            html.P(["Change against the baseline: ", *changes], className="legend"),
            html.P(["Data: ", *marks], className="legend"),
        ],
        className="matrix-legend",
        role="note",
        **labelled("Legend"),
    )


def grid_style(rows: Sequence[Any]) -> dict[str, Any]:
    """Return the style of a grid that is as high as its rows, up to the height of the window."""
    whole = f"{HEAD_HEIGHT}px + {len(rows)} * {ROW_HEIGHT}px + 18px"
    return {"height": f"min({whole}, max(380px, 100vh - 330px))"}


def _columns(first: str, heads: Sequence[str]) -> list[dict[str, Any]]:
    name = {"field": "name", "headerName": first, "cellRenderer": "MatrixName"}
    others = [
        {
            "field": f"c{place}",
            "headerName": head,
            "headerTooltip": head,
            "cellRenderer": "MatrixCell",
            "wrapHeaderText": True,
            "minWidth": 132,
            "flex": 1,
        }
        for place, head in enumerate(heads)
    ]
    return [name | {"pinned": "left", "width": 246}, *others]


def _name(cell: MatrixCell, *, note: str, code: str = "") -> dict[str, str]:
    words = channel_title(cell.words)
    return {"words": words, "note": note, "code": code, "said": f"{words}, {note}, {cell.channel}"}


def _share(value: float | None) -> str:
    """Return a rating as a length; empty where there is none."""
    return "" if value is None else f"{value:.2%}"


def _change(cell: MatrixCell) -> dict[str, str]:
    """Return which way a number moved and by how much, in the few letters that a cell has room for."""
    change = cell.change
    if change is None:
        return {}
    if change.difference is None:
        if change.before is not None:
            return {"way": "gone", "change": f"was {number(change.before)}"}
        return {} if change.after is None else {"way": "new", "change": "new"}
    unsure = " ?" if change.estimate is None else ""
    return {"way": cell.moved or "same", "change": f"{signed(change.difference)}{unsure}"}


def _entry(sample: Component, words: str) -> html.Span:
    return html.Span([sample, words], className="legend-entry")


def _sample(kind: str) -> html.Span:
    return html.Span(className=f"legend-sample sample-{kind}", **DECORATION)
