"""The rating of a pair: number, word, place on the scale of grades, and the four scores."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from correlate.plots import COMPONENTS, delay_in_words, grade_zones
from dashboard.components.labelled import DECORATION, labelled

if TYPE_CHECKING:
    from correlate import PairScore, Rating


def verdict(score: PairScore) -> html.Div:
    """Return the rating and its warnings as a part of a page.

    Parameters
    ----------
    score
        Of the pair.

    Returns
    -------
    dash.html.Div
    """
    rating = score.rating
    flags = [html.Li([html.Strong(flag.name), f": {flag.sentence}"]) for flag in score.flags]
    return html.Div(
        [
            html.Div(
                [
                    html.P(
                        [
                            html.Span(f"{rating.overall:.3f}", className="overall"),
                            html.Span(rating.grade, className="grade"),
                        ],
                        className="rating",
                    ),
                    html.P(delay_in_words(rating.shift_s), className="shift"),
                ],
                className="result",
                role="status",
            ),
            ruler(rating),
            html.Div([_component(rating, name) for name in COMPONENTS], className="components"),
            *([html.Ul(flags, className="flags", **labelled("Warnings"))] if flags else []),
        ],
        className="verdict",
    )


def ruler(rating: Rating) -> html.Div:
    """Return the scale from 0 to 1, divided into the grades, with a needle at the rating.

    Parameters
    ----------
    rating
        Of the pair.

    Returns
    -------
    dash.html.Div
    """
    zones = [
        html.Div(
            [html.Span(word, className="zone-word"), html.Span(f"{floor:.2f}", className="zone-floor")],
            className="zone reached" if word == rating.grade else "zone",
            style={"left": f"{floor:.2%}", "width": f"{ceiling - floor:.2%}"},
        )
        for word, floor, ceiling in grade_zones()
    ]
    needle = html.Div(className="needle", style={"left": f"{rating.overall:.2%}"})
    words = f"{rating.overall:.3f} on the scale from 0 to 1: {rating.grade}"
    return html.Div([*zones, needle], className="ruler", role="img", **labelled(words))


def _component(rating: Rating, name: str) -> html.Div:
    score = getattr(rating, name)
    weight = getattr(rating.settings.weights, name)
    return html.Div(
        [
            html.H3(name.capitalize(), className="component-name"),
            html.Span(f"{score:.2f}", className="component-score"),
            html.Div(html.Div(style={"width": f"{score:.2%}"}), className="bar", **DECORATION),
            html.P(f"{COMPONENTS[name]}; weight {weight:g}", className="component-words"),
        ],
        className="component",
    )
