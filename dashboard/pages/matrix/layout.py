"""The layout of the matrix page, and the words above its grid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import ceilings_sentence, channel_count, channel_title, states_sentence
from dashboard import ids, paths
from dashboard.components.controls import labelled, menu, number
from dashboard.components.matrix import legend, matrix_grid
from dashboard.components.paging import pager
from dashboard.components.stepping import pair_address
from dashboard.pages.page import page_parts
from dashboard.selection import write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from dash.development.base_component import Component

    from correlate import Campaign
    from dashboard.components.matrix import MatrixView
    from dashboard.components.paging import ListPart

NAME: Final = "matrix"
"""Of the page, in its ids."""

CASES: Final = "load-cases"
RELEASES: Final = "releases"
VIEWS: Final[dict[str, str]] = {CASES: "Load cases", RELEASES: "Releases"}
"""What the columns are, in words."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callback has run."""
    waiting = html.Div(
        [html.Span(className="pulse"), "Reading the results store …"], className="waiting", role="status"
    )
    shown = html.Div(
        [
            html.Div(id=ids.MATRIX_LEAD, className="matrix-lead"),
            html.Section(
                [legend(), html.Div(id=ids.MATRIX_PAGES, className="matrix-pages"), matrix_grid()],
                id=ids.MATRIX_SHOWN,
                className="card matrix-card",
                hidden=True,
                **labelled("Matrix"),
            ),
        ]
    )
    covers: Any = {ids.MATRIX_LEAD: "children"}
    content = [
        html.Div(id=ids.MATRIX_HEADING, className="heading", role="status"),
        _picks(),
        html.Div(id=ids.MATRIX_PROBLEM),
        dcc.Loading(
            shown,
            custom_spinner=waiting,
            delay_show=300,
            overlay_style={"visibility": "visible"},
            target_components=covers,
        ),
    ]
    return html.Main([*page_parts(NAME, search), *content], className="page board matrix-page")


def _picks() -> html.Div:
    view = dmc.SegmentedControl(
        id=ids.MATRIX_VIEW,
        data=[{"value": name, "label": words} for name, words in VIEWS.items()],
        value=CASES,
        **labelled("Columns of the matrix"),
    )
    menus = [
        menu(ids.MATRIX_RELEASE, "Release", "none"),
        menu(ids.MATRIX_AGAINST, "Against", "none"),
        menu(ids.MATRIX_SORT, "Sort by"),
        menu(ids.MATRIX_REGION, "Region"),
        menu(ids.MATRIX_CASE, "Load case"),
        menu(ids.MATRIX_STATE, "State of the data"),
    ]
    return html.Div(
        [html.Div([html.Span("Columns", className="matrix-label"), view]), *menus],
        id=ids.MATRIX_PICKS,
        className="matrix-picks",
        role="group",
        hidden=True,
        **labelled("Selection"),
    )


def heading(view: MatrixView, title: str) -> list[Component]:
    """Return what became worse, and how many channels are in which state."""
    words = f"{states_sentence(view.matrix, view.release)}."
    return [
        html.H1(title),
        html.P(words, className="heading-case"),
    ]


def lead(view: MatrixView, campaign: Campaign, *, clear: str) -> list[Component]:
    """Return where most is lost, what is not known of the ceilings, and what the filters leave."""
    ceilings = ceilings_sentence(campaign, view.matrix, view.release)
    said = [_worst(view), html.P(ceilings, className="evidence-mark") if ceilings else None]
    if view.listed.is_filtered:
        whole = channel_count(len(view.matrix.of_release(view.release)))
        said.append(html.P([f"{len(view.cells)} of {whole} shown. ", _clear(clear)]))
    return [one for one in said if one is not None]


def nothing_kept(clear: str) -> html.Section:
    """Return that no channel matches the filters, and the link that clears them."""
    return html.Section(
        [
            html.H2("No channel matches the filters"),
            html.P("Choose another region, load case or state, or show all channels again."),
            html.P(_clear(clear), className="way-out"),
        ],
        className="card",
        role="status",
    )


def _worst(view: MatrixView) -> html.P | None:
    worst = view.matrix.worst(view.release)
    if worst is None:
        return None
    words = f"{channel_title(worst.words)}, {view.titles[worst.load_case]}"
    against = view.matrix.against[worst.release]
    link = dcc.Link(words, href=pair_address(worst, against=against, listed=view.listed))
    return html.P(["Most points lost beyond scatter: ", link, f", {number(worst.lost)}."])


def page_links(
    asked: Mapping[str, str], rows: ListPart[Any], columns: ListPart[Any], what: str
) -> list[Component]:
    """Return the links to the other rows and columns; ``what`` names the columns."""

    def link(key: str) -> Callable[[str], str]:
        return lambda number: paths.MATRIX + write_query({**asked, key: number})

    return [*pager(rows, "Channels", link("page")), *pager(columns, what, link("columns"))]


def _clear(address: str) -> dcc.Link:
    return dcc.Link("Clear filters", href=address)


def cleared(asked: dict[str, str]) -> str:
    """Return the address without filters."""
    return paths.MATRIX + write_query(
        asked | {"region": "", "case": "", "state": "", "page": "", "columns": ""}
    )
