"""The place of a pair in the list that it was opened from, and the steps to its neighbours."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import Dash, Output, dcc, html
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids, paths
from dashboard.components.stepping import PairList, steps
from dashboard.pages.page import address_of
from dashboard.pages.pair.layout import NAME
from dashboard.selection import read_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from dashboard.state import Project


def stepping(project: Project, search: str | None) -> list[Component]:
    """Return the position in the list of an address with its links; empty where there is no list."""
    listed = PairList.from_search(search)
    if listed is None:
        return []
    shown = read_query(search, ["release", "against", "case", "channel"])
    try:
        campaign = project.campaign()
        kept = project.numbers(campaign, release=shown["release"], against=shown["against"])
        release = shown["release"] or kept.newest
        matrix = kept.matrix(campaign, releases=[release], against=shown["against"])
        cells = listed.cells(matrix, release)
    except CorrelateError as error:
        words = f"The list that this link names cannot be shown: {error} "
        return [html.Span([words, dcc.Link("Open the matrix", href=paths.MATRIX)], role="status")]
    places = [(one.load_case, one.channel) for one in cells]
    pair = (shown["case"], shown["channel"])
    return steps(
        cells,
        places.index(pair) if pair in places else None,
        search=search,
        listed=listed,
        back=listed.back(release, shown["against"]),
    )


def register_stepping(app: Dash, project: Project) -> None:
    """Connect the list with its project."""

    @app.callback(Output(ids.STEPPING, "children"), inputs={"address": address_of(NAME)})
    def _step(address: dict[str, str]) -> list[Component]:
        if address["path"] != paths.PAIR:
            raise PreventUpdate
        return stepping(project, address["search"])
