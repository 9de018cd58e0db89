"""The menu that saves a figure as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from dash import dcc, html

from dashboard import ids

if TYPE_CHECKING:
    from dash.development.base_component import Component


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture to save.

    Attributes
    ----------
    name
        Of the file, without its ending.
    svg
        The whole file.
    about
        What it shows, for the audit trail.
    """

    name: str
    svg: str
    about: str


FORMATS: Final[dict[str, str]] = {"svg": "SVG, for documents", "png": "PNG, for slides"}
"""Ending of the file and words of the menu."""


def picture_menu(page: str) -> list[Component]:
    """Return the menu, and the places of the picture and of its messages."""
    buttons = [
        html.Button(words, id=ids.picture_part(page, ending), type="button", className="button")
        for ending, words in FORMATS.items()
    ]
    return [
        html.Details(
            [
                html.Summary("Save picture", className="button"),
                html.Div(buttons, className="picture-formats"),
            ],
            id=ids.picture_part(page, "menu"),
            className="picture-menu",
        ),
        dcc.Store(id=ids.picture_part(page, "file")),
    ]


def picture_said(page: str) -> list[Component]:
    """Return the places of the messages about a picture: of the server, and of the browser."""
    return [
        html.Span(id=ids.picture_part(page, "said"), role="status", className="note"),
        html.Span(id=ids.picture_part(page, "problem"), role="status", className="check-reason"),
    ]
