"""What a page is, and the page for an address that has none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from dash import Input, Output, dcc, html

from dashboard import ids
from dashboard.components.frame import problem

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from dash import Dash
    from dash.development.base_component import Component

    from dashboard.state import Project


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page of the application.

    Attributes
    ----------
    path
        In the URL, with its slash.
    name
        In the menu.
    layout
        Makes the page from the query of the URL.
    register
        Connects its callbacks.
    """

    path: str
    name: str
    layout: Callable[[str], Component]
    register: Callable[[Dash, Project], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What the browser sends.

    Attributes
    ----------
    trigger
        Id of what changed; None at the start.
    search
        Query of the URL.
    picked
        Values of the menus and fields of the page, by what each sets.
    theme
        ``light`` or ``dark``.
    """

    trigger: str | None
    search: str | None
    picked: Mapping[str, Any]
    theme: str | None


def page_parts(name: str, search: str) -> list[Component]:
    """Return what a page begins with and nobody sees: its address line and the title of its tab."""
    return [
        # Tells the frame too what a callback writes, so that the links to other pages follow.
        dcc.Location(id=ids.address_of(name), refresh="callback-nav", search=search),
        dcc.Store(id=ids.tab_title_of(name)),
    ]


def address_of(name: str) -> dict[str, Input]:
    """Return what a callback listens to for the URL of a page."""
    address = ids.address_of(name)
    return {"path": Input(address, "pathname"), "search": Input(address, "search")}


def search_of(name: str) -> Output:
    """Return the output that writes the query of the URL."""
    return Output(ids.address_of(name), "search")


def menus_of(picked: Mapping[str, str]) -> dict[str, Output]:
    """Return the outputs that fill menus and pick in them."""
    return {
        **{f"{name}_options": Output(menu_id, "data") for name, menu_id in picked.items()},
        **{name: Output(menu_id, "value") for name, menu_id in picked.items()},
    }


def values_of(picked: Mapping[str, str]) -> dict[str, Input]:
    """Return what a callback listens to in menus and fields."""
    return {name: Input(field, "value") for name, field in picked.items()}


def tab_title_of(name: str) -> Output:
    """Return the output that names the tab of the browser."""
    return Output(ids.tab_title_of(name), "data")


NAME: Final = "No such page"
"""For the tab."""


def layout(path: str, pages: Sequence[Page]) -> html.Main:
    """Return the page."""
    links = html.Ul([html.Li(dcc.Link(page.name, href=page.path)) for page in pages], className="way-out")
    words = f"There is no page at {path}; the link may be outdated or incomplete. Available pages:"
    return html.Main([problem("Page not found", words, way_out=links)], className="page narrow")
