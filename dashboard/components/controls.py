"""Controls, table cells and the wrapper of every graph."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import GRAPH_CONFIG
from dashboard.access import Role, current_account
from dashboard.state import Place, closed

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component


DECORATION: Final[dict[str, Any]] = {"aria-hidden": "true"}
"""Attributes of a part that says nothing that is not said beside it."""


def labelled(words: str) -> dict[str, Any]:
    """Return the attributes that name a part of a page.

    Examples
    --------
    >>> labelled("Rating")
    {'aria-label': 'Rating'}
    """
    return {"aria-label": words}


_LIST: Final[dict[str, Any]] = {"shadow": "md", "transitionProps": {"duration": 0}}


def menu(menu_id: str, label: str, placeholder: str = "choose") -> dmc.Select:
    """Return a menu, empty until a callback fills it."""
    return dmc.Select(
        id=menu_id,
        label=label,
        data=[],
        allowDeselect=False,
        checkIconPosition="right",
        comboboxProps=_LIST,
        maxDropdownHeight=360,
        placeholder=placeholder,
    )


_END: Final = 10
"""Last letters of a shortened name that stay in sight: names differ mostly there."""


def shortened(text: str) -> html.Span:
    """Return a name that is shortened in the middle where it has no room, and shown whole on focus.

    The whole name is in the page, for search, copying and screen readers; a style sheet and a script find out
    how much of it has room.

    Examples
    --------
    >>> shortened("D0HEAD0000KMACXP").to_plotly_json()["props"]["data-end"]
    '00KMACXP'
    """
    # Half of a short name at most, so that its beginning is seen too.
    end = text[-min(_END, len(text) // 2) :] if len(text) > 1 else ""
    attributes: dict[str, Any] = {"data-end": end}
    return html.Span(html.Span(text), className="shortened", **attributes)


def several(menu_id: str, label: str) -> dmc.MultiSelect:
    """Return a menu with several choices, empty until a callback fills it."""
    return dmc.MultiSelect(
        id=menu_id,
        label=label,
        data=[],
        value=[],
        checkIconPosition="right",
        comboboxProps=_LIST,
        maxDropdownHeight=360,
        hidePickedOptions=False,
        className="several",
    )


def empty_state(title: str, words: str) -> html.Div:
    """Return the message that replaces a figure or table that has nothing to show."""
    return html.Div([html.P(title, className="empty-title"), html.P(words)], className="empty-state")


NO_NUMBER: Final = "–"


def number(value: float | None) -> str:
    """Return a rating with three digits, or a dash where there is none."""
    return NO_NUMBER if value is None else f"{value:.3f}"


def head_row(columns: Sequence[tuple[str, str]]) -> html.Thead:
    """Return the head of a table."""
    cells = [html.Th(words, scope="col", className=f"cell-{kind}") for words, kind in columns]
    return html.Thead(html.Tr(cells))


def with_label(label: str, value: str) -> list[Component]:
    """Return a number with the words that name it where a small screen shows no head of the table."""
    return [html.Span(label, className="cell-label", **DECORATION), html.Span(value, className="line-number")]


State = Literal["bad", "doubtful", "quiet"]
_STATE_MARKS: Final[dict[State, str]] = {"bad": "!", "doubtful": "?", "quiet": "·"}


def state(words: str, kind: State) -> html.Span:
    """Return a state in words with a mark, so that no colour says it alone."""
    mark = html.Span(_STATE_MARKS[kind], className="state-mark", **DECORATION)
    return html.Span([mark, words], className=f"state is-{kind}")


# Typed by dash as a form of its own that the settings, shared with reports, do not know.
_CONFIG: Final[Any] = GRAPH_CONFIG


def graph(graph_id: str | dict[str, Any], figure: go.Figure | None = None, *, kind: str = "") -> html.Div:
    """Return a place for a figure, without the button that would upload its data."""
    drawn = {} if figure is None else {"figure": figure}
    place = dcc.Graph(id=graph_id, config=_CONFIG, responsive=True, **drawn)
    return html.Div(place, className=f"graph {kind}".rstrip())


def for_role(form: Component, least: Role, refusal: str = "", *, place: Place | None = "folder") -> html.Div:
    """Return a form, hidden where account or project forbid its use; the server refuses it in any case.

    ``place`` is where it writes; None for a form that writes nothing into the project.
    """
    if current_account().role.allows(least):
        reason = closed(place) if place else ""
        if not reason:
            return html.Div(form)
        refusal = f"Disabled: {reason}."
    # It stays on the page, unseen, because callbacks name its fields.
    said = html.P(refusal, className="note") if refusal else None
    return html.Div([said, html.Div(form, hidden=True)])
