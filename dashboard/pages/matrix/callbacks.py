"""The matrix: channels by load cases or by releases, sorted and filtered; each cell leads to its pair."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Output, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from correlate.plots import STATE_WORDS, matrix_title
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.frame import faulty_campaign, no_campaign, no_ratings, problem
from dashboard.components.matrix import (
    MOST_COLUMNS,
    MatrixView,
    by_load_case,
    by_release,
    grid_style,
    rows_beside,
)
from dashboard.components.paging import part_of
from dashboard.components.stepping import SORT_WORDS, PairList
from dashboard.pages.matrix.layout import (
    CASES,
    NAME,
    RELEASES,
    VIEWS,
    cleared,
    heading,
    layout,
    lead,
    nothing_kept,
    page_links,
)
from dashboard.pages.page import Event, Page, address_of, menus_of, search_of, tab_title_of, values_of
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import Campaign, StoredNumbers, StoredResults
    from dashboard.state import Project

ALL: Final = "all"
"""Value of the entry of a filter that keeps everything; the address leaves the filter out."""

MENUS: Final[dict[str, str]] = {
    "release": ids.MATRIX_RELEASE,
    "against": ids.MATRIX_AGAINST,
    "sort": ids.MATRIX_SORT,
    "region": ids.MATRIX_REGION,
    "case": ids.MATRIX_CASE,
    "state": ids.MATRIX_STATE,
}
"""Key of the query that each menu sets."""

PICKED: Final[dict[str, str]] = MENUS | {"view": ids.MATRIX_VIEW}
"""The same with the choice of columns."""

_USUAL: Final[dict[str, str]] = {"sort": "lost", "view": CASES, "region": ALL, "case": ALL, "state": ALL}
"""What the address leaves out."""

_KEPT: Final = "channel"
"""Key of the selection that all pages share, which means nothing here and is carried along."""

PAGES: Final = ("page", "columns")
"""Which rows and which columns are shown, where there are more than are sent at once."""


def show(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event."""
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
        return _nothing("No campaign", message)
    asked = asked_for(event)
    try:
        with project.results(campaign) as results:
            kept = results.numbers(release=asked["release"], against=asked["against"])
            view = _view(campaign, kept, asked)
            shown = _shown(results, campaign, kept, view, asked)
    except CorrelateError as error:
        return _without_matrix(campaign, asked, error)
    search = write_query(asked) if event.trigger in PICKED.values() else no_update
    return _menus(kept, view, asked) | shown | {"search": search}


def asked_for(event: Event) -> dict[str, str]:
    """Return what an event asks for, by key of the query; an empty text stands for what is usual."""
    asked = read_query(event.search, [*PICKED, _KEPT, *PAGES])
    if event.trigger not in PICKED.values():
        return asked
    picked = {key: _without_usual(key, event.picked[key] or "") for key in PICKED}
    asked |= picked | dict.fromkeys(PAGES, "")
    return asked | ({"against": ""} if event.trigger == ids.MATRIX_RELEASE else {})


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(MENUS),
        "view": Output(ids.MATRIX_VIEW, "value"),
        "picks_hidden": Output(ids.MATRIX_PICKS, "hidden"),
        "heading": Output(ids.MATRIX_HEADING, "children"),
        "problem": Output(ids.MATRIX_PROBLEM, "children"),
        "lead": Output(ids.MATRIX_LEAD, "children"),
        "shown_hidden": Output(ids.MATRIX_SHOWN, "hidden"),
        "columns": Output(ids.MATRIX_GRID, "columnDefs"),
        "rows": Output(ids.MATRIX_GRID, "rowData"),
        "style": Output(ids.MATRIX_GRID, "style"),
        "pages": Output(ids.MATRIX_PAGES, "children"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": values_of(PICKED),
        },
    )
    @expensive
    def _show(address: dict[str, str], picked: dict[str, str | None]) -> dict[str, Any]:
        if address["path"] != paths.MATRIX:
            raise PreventUpdate
        event = Event(trigger=ctx.triggered_id, search=address["search"], picked=picked, theme=None)
        return show(project, event)


def _without_usual(key: str, text: str) -> str:
    return "" if text == _USUAL.get(key) else text


def _view(campaign: Campaign, kept: StoredNumbers, asked: Mapping[str, str]) -> MatrixView:
    """Look up what an address names."""
    if asked["view"] not in {"", *VIEWS}:
        raise CorrelateError(f"there is no view '{asked['view']}'", remedy=f"choose {', '.join(VIEWS)}")
    release = asked["release"] or kept.newest
    # Without a name, it is refused with the message for a campaign in which nothing is rated.
    matrix = kept.matrix(campaign, releases=[release] if release else [], against=asked["against"])
    return MatrixView(
        matrix=matrix,
        release=release,
        listed=PairList(
            sort=asked["sort"] or "lost",
            region=asked["region"],
            load_case=asked["case"],
            state=asked["state"],
        ),
        titles={one.name: one.title or one.name for one in campaign.load_cases},
    )


def _shown(
    results: StoredResults,
    campaign: Campaign,
    kept: StoredNumbers,
    view: MatrixView,
    asked: dict[str, str],
) -> dict[str, Any]:
    of_all = asked["view"] == RELEASES
    columns, rows, pages = _beside(results, kept.rated, view, asked) if of_all else _of_release(view, asked)
    clear, title = cleared(asked), matrix_title(view.matrix, view.release)
    return {
        "picks_hidden": False,
        "heading": heading(view, title),
        "problem": "" if rows else nothing_kept(clear),
        "lead": lead(view, campaign, clear=clear) if rows else "",
        "shown_hidden": not rows,
        "columns": columns,
        "rows": rows,
        "style": grid_style(rows),
        "pages": pages,
        "tab_title": title,
    }


Grid = tuple[list[dict[str, Any]], list[dict[str, Any]], "list[Component]"]
"""Columns and rows, and the links to the others."""


def _of_release(view: MatrixView, asked: Mapping[str, str]) -> Grid:
    """Return the part of the matrix of one release that is shown."""
    cases = part_of(view.columns, asked["columns"], rows=MOST_COLUMNS)
    rows = part_of(view.channels, asked["page"], rows=rows_beside(len(cases.rows)))
    return *by_load_case(view, cases.rows, rows.rows), page_links(asked, rows, cases, "Load cases")


def _beside(results: StoredResults, rated: Sequence[str], view: MatrixView, asked: Mapping[str, str]) -> Grid:
    """Return the part of the matrix of all releases that is shown; cells out of sight are not read."""
    releases = part_of(rated, asked["columns"], rows=MOST_COLUMNS)
    rows = part_of(view.cells, asked["page"], rows=rows_beside(len(releases.rows)))
    places = {(one.load_case, one.channel) for one in rows.rows}
    matrix = results.cells(releases=releases.rows, places=places, against=asked["against"])
    beside = replace(view, matrix=matrix)
    return *by_release(beside, rows.rows), page_links(asked, rows, releases, "Releases")


def _menus(kept: StoredNumbers, view: MatrixView, asked: Mapping[str, str]) -> dict[str, Any]:
    releases = {name: name for name in kept.rated}
    words: dict[str, dict[str, str]] = {
        "release": releases,
        "against": releases,
        "sort": SORT_WORDS,
        "region": {ALL: "All regions"} | {name: name for name in view.matrix.regions},
        "case": {ALL: "All load cases"} | {name: view.titles[name] for name in view.matrix.load_cases},
        "state": {ALL: "Any state"} | {state: words.capitalize() for state, words in STATE_WORDS.items()},
    }
    options = {
        f"{key}_options": [{"value": name, "label": text} for name, text in entries.items()]
        for key, entries in words.items()
    }
    against = asked["against"] or view.matrix.against[view.release]
    values = {key: asked[key] or usual for key, usual in _USUAL.items()}
    return options | values | {"release": view.release, "against": against}


def _without_matrix(campaign: Campaign, asked: Mapping[str, str], error: CorrelateError) -> dict[str, Any]:
    if any(asked.values()):
        back = dcc.Link("Show the matrix of the last rated release", href=paths.MATRIX, className="way-out")
        return _nothing("Nothing to show", problem("Nothing to show for this link", error, way_out=back))
    then = "shows every channel of every load case"
    return _nothing("No ratings", no_ratings(error, campaign.folder, then=then))


def _nothing(title: str, message: html.Section) -> dict[str, Any]:
    return dict.fromkeys(outputs(), no_update) | {
        "picks_hidden": True,
        # The message has the heading of the page.
        "heading": "",
        "problem": message,
        "lead": "",
        "shown_hidden": True,
        "tab_title": title,
    }


PAGE: Final = Page(path=paths.MATRIX, name="Matrix", layout=layout, register=register)
"""For the application."""
