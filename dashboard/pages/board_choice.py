"""What the pages of a scoreboard share: the menus of the two releases, and why there is nothing to show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import ClientsideFunction, Input, dcc, html

from correlate import CorrelateError
from dashboard.components.controls import labelled, menu
from dashboard.components.frame import faulty_campaign, no_campaign, no_ratings, problem
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from dash import Dash
    from dash.development.base_component import Component

    from correlate import Campaign, StoredBoard
    from dashboard.pages.page import Event
    from dashboard.state import Project


LIST_KEYS: Final = ("worse", "better", "objections", "cases", "held-out")
"""Which part of a long list is shown; another choice of releases starts at the first part."""

KEYS: Final = ("release", "against", "case", "channel", "repeat")
"""Of the query; load case, channel and repeat are left as they came, for the pages that use them."""


def part_link(path: str, search: str | None, key: str) -> Callable[[str], str]:
    """Return the function that gives the address of a part of a list from its number."""
    return lambda number: path + write_query({key: number}, search)


class BoardChoice:
    """The menus of one page.

    Parameters
    ----------
    release, against
        Ids of the menus.
    path
        Of the page.
    """

    def __init__(self, *, release: str, against: str, path: str) -> None:
        self.picked: Final = {"release": release, "against": against}
        self._path = path

    def menus(self, picks_id: str, print_id: str) -> html.Div:
        """Return the menus, empty until the page has its numbers, and the button that prints it."""
        return html.Div(
            [
                menu(self.picked["release"], "Release", "none"),
                menu(self.picked["against"], "against", "none"),
                html.Button("Print", id=print_id, className="button", type="button"),
            ],
            id=picks_id,
            className="picks",
            role="group",
            **labelled("Selection"),
        )

    @staticmethod
    def register_print(app: Dash, print_id: str) -> None:
        """Let the button print the page."""
        # dash has no types for clientside callbacks.
        app.clientside_callback(  # type: ignore[no-untyped-call]
            ClientsideFunction(namespace="correlate", function_name="printPage"),
            Input(print_id, "n_clicks"),
        )

    def asked_for(self, event: Event) -> dict[str, str]:
        """Return the two releases that an event asks for; an empty name leaves the choice to the store."""
        if event.trigger not in self.picked.values():
            return read_query(event.search, self.picked)
        picked = {key: value or "" for key, value in event.picked.items()}
        return picked | {"against": ""} if event.trigger == self.picked["release"] else picked

    def query(self, event: Event) -> str | None:
        """Return the query of what is shown after an event; a pick begins long lists at their first part."""
        if event.trigger not in self.picked.values():
            return event.search
        return write_query(read_query(event.search, KEYS) | self.asked_for(event))

    def found(
        self, project: Project, event: Event, show: Callable[[Campaign, StoredBoard], dict[str, Any]]
    ) -> dict[str, Any]:
        """Return what a page shows of the board that is asked for, or why there is none."""
        try:
            campaign = project.campaign()
        except CorrelateError as error:
            message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
            return self._nothing("No campaign", message)
        asked = self.asked_for(event)
        try:
            stored = project.board(campaign, release=asked["release"], against=asked["against"])
        except CorrelateError as error:
            return self._without_board(campaign, asked, error)
        shown = {"picks_hidden": False, **_options(stored), **show(campaign, stored)}
        if event.trigger in self.picked.values():
            shown["search"] = self.query(event)
        return shown

    def _without_board(
        self, campaign: Campaign, asked: Mapping[str, str], error: CorrelateError
    ) -> dict[str, Any]:
        if any(asked.values()):
            back = dcc.Link("Show the last rated release", href=self._path, className="way-out")
            message = problem("Nothing to show for this link", error, way_out=back)
            return self._nothing("No such release", message)
        then = "compares every release with the previous one"
        return self._nothing("No ratings", no_ratings(error, campaign.folder, then=then))

    def _nothing(self, tab_title: str, message: Component) -> dict[str, Any]:
        # The message has the heading of the page.
        return {"picks_hidden": True, "content": message, "tab_title": tab_title}


def _options(stored: StoredBoard) -> dict[str, Any]:
    options = [{"value": name, "label": name} for name in stored.releases]
    board = stored.board
    return {
        "release_options": options,
        "release": board.release,
        "against_options": [one for one in options if one["value"] != board.release],
        "against": board.against,
    }
