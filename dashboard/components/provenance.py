"""Where the two curves come from and what was done to them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from correlate.plots import channel_title, choice_words, recipe_words, step_words, unit_words
from dashboard.components.labelled import DECORATION

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from correlate import PairScore, Signal


def provenance(score: PairScore, shown_path: Callable[[str], str]) -> list[html.Section]:
    """Return settings, inputs and histories as parts of a page.

    Parameters
    ----------
    score
        Of the pair.
    shown_path
        Shortens the path of a file for showing.

    Returns
    -------
    list of dash.html.Section
    """
    return [
        html.Section(
            [
                html.H2("How they were compared"),
                facts(recipe_words(score.recipe, score.rating)),
                html.Details(
                    [
                        html.Summary("Limits, exponents and options of the rating"),
                        facts(choice_words(score.rating.settings)),
                    ]
                ),
            ],
            className="card compared",
        ),
        _signal("Test", score.reference, shown_path),
        _signal("Model", score.candidate, shown_path),
    ]


def facts(pairs: Iterable[tuple[str, str]]) -> html.Dl:
    """Return names and values as a list of facts.

    Parameters
    ----------
    pairs
        Name and value.

    Returns
    -------
    dash.html.Dl
    """
    return html.Dl([html.Div([html.Dt(name), html.Dd(value)]) for name, value in pairs], className="facts")


def _signal(role: str, signal: Signal, shown_path: Callable[[str], str]) -> html.Section:
    key = html.Span(className=f"key {role.lower()}-key", **DECORATION)
    return html.Section(
        [
            html.H2([key, role]),
            html.P(channel_title(signal.channel), className="signal-title"),
            facts(
                [
                    ("Channel", signal.channel),
                    ("Unit", unit_words(signal.unit)),
                    ("File", shown_path(signal.source.file)),
                    ("SHA-256", signal.source.sha256 or "none: computed"),
                ]
            ),
            html.H3("Steps, in this order"),
            html.Ol([_step(*step_words(step)) for step in signal.history], className="steps"),
        ],
        className=f"card signal {role.lower()}-signal",
    )


def _step(name: str, settings: str) -> html.Li:
    return html.Li([html.Span(name, className="step-name"), html.Span(settings, className="step-settings")])
