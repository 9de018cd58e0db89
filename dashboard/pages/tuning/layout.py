"""The layout of the tuning page, and its address."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import ids
from dashboard.access import Role, current_account
from dashboard.components.controls import graph, labelled, menu
from dashboard.components.states import loading
from dashboard.components.tuning import runs_grid
from dashboard.pages.job_panel import panel
from dashboard.selection import read_query
from dashboard.state import closed

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from dashboard.pages.page import Event


NAME: Final = "tuning"
"""Of the page, in its ids."""

CURVE_KEYS: Final[tuple[str, ...]] = ("case", "channel", "at", "moves")
"""The curve that is shown, the parameters that differ from the best run, what is shown of the sensitivity."""

KEYS: Final[tuple[str, ...]] = ("job", "outcome", "along", "ticked", *CURVE_KEYS)
"""The job that is watched, outcome and parameter that are shown, proposals that are ticked, the curve."""

FIT_KEYS: Final[tuple[str, ...]] = ("outcome", "along", "ticked")
"""Those of the fit."""

PICKED: Final[dict[str, str]] = {
    "outcome": ids.TUNING_OUTCOME,
    "along": ids.TUNING_ALONG,
    "ticked": ids.TUNING_CHOSEN,
}
"""Key of the query that each field sets."""

CURVE_PICKED: Final[dict[str, str]] = {
    "case": ids.TUNING_CURVE_CASE,
    "channel": ids.TUNING_CURVE_CHANNEL,
    "moves": ids.TUNING_MOVES,
}
"""The same of the fields that choose a curve."""


def asked_for(event: Event) -> dict[str, str]:
    """Return what an event asks for, by key of the query."""
    asked = read_query(event.search, KEYS)
    if event.trigger in PICKED.values():
        asked |= {key: _text(event.picked[key]) for key in PICKED}
    return asked


def ticked_numbers(text: str) -> list[int]:
    """Return the proposals that an address ticks, counted from 0; what is no number is left out.

    Examples
    --------
    >>> ticked_numbers("3,1,x,3")
    [0, 2]
    """
    numbers = {int(part) - 1 for part in text.split(",") if part.isascii() and part.isdigit()}
    return sorted(number for number in numbers if number >= 0)


def _text(value: Any) -> str:
    """Return a value of a field as the address writes it; proposals are counted from 1 there."""
    if isinstance(value, list):
        return ",".join(str(number + 1) for number in sorted(int(one) for one in value))
    return str(value or "")


def content() -> list[Component]:
    """Return the places of everything that is shown."""
    shown = html.Div(
        [
            panel(NAME),
            html.Div([_progress(), _front()], className="data-columns tuning-columns"),
            _fit(),
            _curves(),
            _proposals(),
            _predictions(),
            _runs(),
        ],
        id=ids.TUNING_SHOWN,
        hidden=True,
    )
    parts = [
        html.Div(id=ids.TUNING_HEADING, className="heading"),
        html.Div(id=ids.TUNING_PROBLEM),
        _next(),
        shown,
    ]
    # The page is not covered while a slider moves.
    covers = {ids.TUNING_HEADING: "children", ids.TUNING_FIT_WORDS: "children"}
    return [loading(html.Div(parts), "runs", "Reading the runs", covers, parent_className="content")]


def _next() -> html.Section:
    add = html.Button(id=ids.TUNING_ADD, className="button", type="button", hidden=True)
    return html.Section(
        [
            html.Div([html.H2("Next step"), _for_analyst(add, closed("folder"))], className="card-head"),
            html.Div(id=ids.TUNING_NEXT_WORDS),
            html.Div(id=ids.TUNING_ADD_SAID, role="status"),
        ],
        id=ids.TUNING_NEXT,
        className="card",
        hidden=True,
        **labelled("Next step"),
    )


def _progress() -> html.Section:
    return html.Section(
        [
            html.H2("Best run by round"),
            html.Div(id=ids.TUNING_PROGRESS_WORDS),
            html.Div(graph(ids.TUNING_PROGRESS, kind="tuning-figure"), id=ids.TUNING_PROGRESS_PLACE),
        ],
        className="card",
        **labelled("Best run by round"),
    )


def _front() -> html.Section:
    return html.Section(
        [
            html.H2("Trade-offs"),
            html.Div(id=ids.TUNING_FRONT_WORDS),
            html.Div(graph(ids.TUNING_FRONT, kind="tuning-figure"), id=ids.TUNING_FRONT_PLACE, hidden=True),
        ],
        className="card",
        **labelled("Trade-offs"),
    )


def _fit() -> html.Section:
    start = html.Button("Fit surrogates", id=ids.TUNING_FIT_START, className="button", type="button")
    figures = [
        html.Div(
            [menu(ids.TUNING_OUTCOME, "Outcome"), menu(ids.TUNING_ALONG, "Slice along")],
            className="fit-menus",
        ),
        html.P(id=ids.TUNING_OUTCOME_WORDS, className="note"),
        html.Div(
            [
                _figure("Influence of parameters", ids.TUNING_SENSITIVITY),
                _figure("Predicted against rated", ids.TUNING_PREDICTED),
                _figure("Slice through the best run", ids.TUNING_SLICE),
            ],
            className="fit-figures",
        ),
    ]
    return html.Section(
        [
            html.Div([html.H2("Surrogates"), _for_analyst(start, closed("folder"))], className="card-head"),
            dcc.Store(id=ids.TUNING_FIT_ASKED),
            html.Div(id=ids.TUNING_FIT_SAID, role="status"),
            html.Div(id=ids.TUNING_FIT_WORDS),
            html.Div(figures, id=ids.TUNING_FIT_SHOWN, hidden=True),
        ],
        id=ids.TUNING_FIT,
        className="card",
        **labelled("Surrogates"),
    )


def _figure(title: str, place: str) -> html.Div:
    return html.Div([html.H3(title), graph(place, kind="tuning-figure")])


def _curves() -> html.Div:
    """Return the cards of the emulated curves and of their sensitivity, one below the other."""
    covers = {ids.TUNING_CURVE_SHOWN: "data"}
    cards = [
        dcc.Store(id=ids.TUNING_CURVE_SHOWN),
        dcc.Store(id=ids.TUNING_CURVE_SETTLED),
        html.Section(
            [
                html.H2("Emulated curves"),
                html.Div(id=ids.TUNING_CURVES_WORDS),
                html.Div(_curve_parts(), id=ids.TUNING_CURVES, hidden=True),
            ],
            className="card curve-card",
            **labelled("Emulated curves"),
        ),
        html.Section(
            _moves_parts(),
            id=ids.TUNING_MOVES_PLACE,
            className="card",
            hidden=True,
            **labelled("Sensitivity over time"),
        ),
    ]
    return html.Div(loading(html.Div(cards), "curves", "Loading the emulated curves", covers))


def _curve_parts() -> list[Component]:
    buttons = html.Div(
        [
            html.Button("Best run", id=ids.TUNING_CURVE_BEST, className="button", type="button"),
            html.Button("Start point", id=ids.TUNING_CURVE_START, className="button", type="button"),
        ],
        className="curve-buttons",
        role="group",
        **labelled("Set all parameters to"),
    )
    beside = [
        html.Div(id=ids.TUNING_CURVE_PREDICTED, className="curve-predicted", role="status"),
        html.Div(id=ids.TUNING_CURVE_RATED),
        html.Div(
            [
                html.Div([html.H3("Parameters"), buttons], className="curve-parameters"),
                html.P("Marks on a slider: start point and best run.", className="note"),
                html.Div(id=ids.TUNING_CURVE_SLIDERS, className="curve-sliders"),
            ],
            id=ids.TUNING_CURVE_MOVING,
            className="curve-beside",
        ),
    ]
    return [
        html.Div(
            [menu(ids.TUNING_CURVE_CASE, "Load case"), menu(ids.TUNING_CURVE_CHANNEL, "Channel")],
            className="fit-menus",
        ),
        html.Div(id=ids.TUNING_CURVE_TRUST),
        html.Div(
            [
                html.Div(graph(ids.TUNING_CURVE_FIGURE, kind="curve-figure")),
                html.Div(beside, className="curve-beside"),
            ],
            id=ids.TUNING_CURVES_PLACE,
            className="curve-columns",
        ),
    ]


def _moves_parts() -> list[Component]:
    choice = dmc.SegmentedControl(
        id=ids.TUNING_MOVES,
        data=[
            {"value": "share", "label": "Share of variance"},
            {"value": "change", "label": "Change over the range"},
        ],
        value="share",
        size="sm",
        className="theme-choice",
        **labelled("What is shown"),
    )
    return [
        html.Div([html.H2("Sensitivity over time"), choice], className="card-head"),
        html.P(id=ids.TUNING_MOVES_WORDS, className="note"),
        graph(ids.TUNING_MOVES_FIGURE, kind="moves-figure"),
    ]


def _predictions() -> html.Section:
    shown = [
        html.Div([menu(ids.TUNING_KEPT_OUTCOME, "Outcome")], className="fit-menus"),
        html.Div(
            [
                html.Div(graph(ids.TUNING_KEPT_FIGURE, kind="kept-figure")),
                html.Div(id=ids.TUNING_KEPT_TABLE),
            ],
            className="curve-columns",
        ),
    ]
    return html.Section(
        [
            html.H2("Predictions against results"),
            html.Div(id=ids.TUNING_KEPT_WORDS),
            html.Div(shown, id=ids.TUNING_KEPT_PLACE, hidden=True),
        ],
        className="card",
        **labelled("Predictions against results"),
    )


def _proposals() -> html.Section:
    export = html.Button("Export selected as CSV", id=ids.TUNING_EXPORT, className="button", type="button")
    advice = (
        "The file has the columns of design.csv; append its lines there to run them. A prediction is not "
        "a result: run a proposal before relying on it."
    )
    return html.Section(
        [
            html.Div([html.H2("Proposed runs"), _for_analyst(export)], className="card-head"),
            html.P(advice, className="note"),
            html.Div(id=ids.TUNING_EXPORT_SAID, role="status"),
            dmc.CheckboxGroup(
                html.Div(id=ids.TUNING_PROPOSALS, className="proposals"),
                id=ids.TUNING_CHOSEN,
                value=[],
                **labelled("Proposed runs"),
            ),
            dcc.Download(id=ids.TUNING_FILE),
        ],
        className="card",
        **labelled("Proposed runs"),
    )


def _runs() -> html.Section:
    return html.Section(
        [
            html.H2("Runs"),
            runs_grid(),
            html.H3("All finished runs side by side"),
            html.P("Each line is a run; hover over it for its name and values.", className="note"),
            html.Div(
                graph(ids.TUNING_ALL_RUNS, kind="tuning-all"),
                className="wide",
                # A narrow screen shows a part of it, which the arrow keys move.
                tabIndex="0",
                role="group",
                **labelled("All finished runs side by side"),
            ),
        ],
        className="card",
        **labelled("Runs"),
    )


def _for_analyst(button: Component, reason: str = "") -> html.Div:
    """Return a button, hidden where account or project forbid its use; the server refuses it in any case."""
    if not current_account().role.allows(Role.ANALYST):
        return html.Div(button, hidden=True)
    if reason:
        return html.Div([html.P(f"Disabled: {reason}.", className="note"), html.Div(button, hidden=True)])
    return html.Div(button)
