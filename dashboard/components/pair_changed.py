"""The rating after a change of the curve, and the releases that are drawn together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import COMPONENTS, delay_in_words, signed
from correlate.plots.explanation_words import change_words
from dashboard.components.cells import head_row, number, with_label

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dash.development.base_component import Component

    from correlate import CurveChange, PairScore, Rating


def changed_words(
    rating: Rating, changed: Rating | None, change: CurveChange, unit: str, *, interval: str, back: str
) -> list[Component]:
    """Return the rating after a change beside the one without it.

    Parameters
    ----------
    rating
        As it is.
    changed
        After the change; None where nothing is changed.
    change
        Of the curve.
    unit
        Of the curve.
    interval
        Of evaluation, in words.
    back
        Address without the change.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    if changed is None:
        numbers = _numbers(rating)
        return [
            numbers,
            html.P(f"Unchanged, rated {interval}. Move a slider to update the rating.", className="note"),
        ]
    won = html.Span(f"{signed(changed.overall - rating.overall)} against {number(rating.overall)} unchanged")
    return [
        html.P([_numbers(changed), html.Span(won, className="won")], className="changed-line"),
        html.P(
            [
                f"Model {change_words(change, unit)}, rated {interval}. ",
                dcc.Link("Reset the curve", href=back),
            ],
            className="note",
        ),
        html.P("This is exploratory. It changes no data and no results.", className="note"),
    ]


def releases_table(shown: str, scores: Mapping[str, PairScore]) -> html.Table:
    """Return the ratings of the releases that are drawn together.

    Parameters
    ----------
    shown
        Name of the first.
    scores
        Of all, by name.

    Returns
    -------
    dash.html.Table
    """
    columns = [("release", "name"), ("rating", "rated"), ("change", "number")]
    columns += [(name, "number") for name in COMPONENTS] + [("timing", "timing")]
    first = scores[shown].rating
    rows = [_row(name, score.rating, first) for name, score in scores.items()]
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines releases")


def _numbers(rating: Rating) -> html.Span:
    parts = [
        html.Span([name, " ", html.Strong(f"{getattr(rating, name):.2f}")], className="part-score")
        for name in COMPONENTS
    ]
    return html.Span(
        [
            html.Span(number(rating.overall), className="changed-overall"),
            html.Span(rating.grade, className="changed-grade"),
            html.Span(parts, className="part-scores"),
        ],
        className="changed-numbers",
    )


def _row(name: str, rating: Rating, first: Rating) -> html.Tr:
    difference = "–" if rating is first else signed(rating.overall - first.overall)
    rated = [
        html.Span(number(rating.overall), className="line-number"),
        html.Span(rating.grade, className="line-grade"),
    ]
    scores = [
        html.Td(with_label(part, f"{getattr(rating, part):.2f}"), className="cell-number")
        for part in COMPONENTS
    ]
    return html.Tr(
        [
            html.Th(name, scope="row", className="cell-name"),
            html.Td(rated, className="cell-rated"),
            html.Td(with_label("change", difference), className="cell-number"),
            *scores,
            html.Td(delay_in_words(rating.shift_s), className="cell-timing"),
        ]
    )
