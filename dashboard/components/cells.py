"""Cells of tables that become cards on a small screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import html

from dashboard.components.labelled import DECORATION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

NO_NUMBER: Final = "–"


def number(value: float | None) -> str:
    """Return a rating with three digits, or a dash where there is none.

    Parameters
    ----------
    value
        In [0, 1].

    Returns
    -------
    str
    """
    return NO_NUMBER if value is None else f"{value:.3f}"


def head_row(columns: Sequence[tuple[str, str]]) -> html.Thead:
    """Return the head of a table.

    Parameters
    ----------
    columns
        Words and class of each.

    Returns
    -------
    dash.html.Thead
    """
    cells = [html.Th(words, scope="col", className=f"cell-{kind}") for words, kind in columns]
    return html.Thead(html.Tr(cells))


def with_label(label: str, value: str) -> list[Component]:
    """Return a number with the words that name it where a small screen shows no head of the table.

    Parameters
    ----------
    label, value
        Words and number.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    return [html.Span(label, className="cell-label", **DECORATION), html.Span(value, className="line-number")]
