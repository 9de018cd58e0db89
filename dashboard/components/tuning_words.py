"""What a tuning project and its fit say, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import html

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dash.development.base_component import Component

    from correlate import Surrogate, TuningOverview

TRUSTED: Final = 0.5
"""Smallest share of the variance from which something is recommended, as in the core."""


def heading(overview: TuningOverview) -> list[Component]:
    """Return the title, how the runs ended, and what the best one brought.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    ends = ", ".join(f"{count} {end}" for end, count in _ordered(overview.counts))
    runs = f"{len(overview.table)} runs: {ends}" if len(overview.table) else "no run yet"
    parts: list[Component] = [
        html.H1(overview.tuning.title or "Tuning"),
        html.P(f"{len(overview.table.space.parameters)} parameters, {runs}", className="heading-case"),
    ]
    if overview.best is not None and overview.start is not None:
        parts.append(html.P(_brought(overview), className="heading-pair"))
    return parts


def bounds(overview: TuningOverview) -> Component | None:
    """Return which parameters of the best run lie at a bound.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    dash.development.base_component.Component or None
    """
    if not overview.at_bound:
        return None
    count = len(overview.at_bound)
    title = f"{count} parameter{' lies' if count == 1 else 's lie'} at a bound in the best run"
    return html.Details(
        [
            html.Summary(title),
            html.Ul([html.Li(f"{words}.") for words in overview.at_bound], className="assumptions"),
        ]
    )


def fit_words(overview: TuningOverview) -> list[Component]:
    """Return how the kept fit stands to the runs.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    if overview.fit_problem:
        return [html.P(overview.fit_problem, className="job-failure")]
    if overview.fit is None:
        words = (
            "No surrogates have been fitted yet. They show which parameters influence the ratings and "
            "which runs to make next."
        )
        return [html.P(words)]
    if overview.fit_is_old:
        words = "The runs have changed since the fit; fit again to include them."
        return [html.P(words, className="job-failure")]
    return [html.P("Fitted to all finished runs.", className="note")]


def outcome_words(surrogate: Surrogate) -> str:
    """Return how far a surrogate can be trusted.

    Parameters
    ----------
    surrogate
        Of one outcome.

    Returns
    -------
    str
    """
    if surrogate.flat:
        return f"{surrogate.outcome} is the same in every run: no parameter influences it."
    inside = "; ".join(
        f"{cover.observed:.0%} of the runs are inside the interval for {cover.nominal:.0%}"
        for cover in surrogate.coverage
    )
    trust = "" if surrogate.q2 >= TRUSTED else " It is not reliable, and nothing is proposed from it."
    return f"Each run predicted from the others: Q² {surrogate.q2:.2f}. {inside}.{trust}"


def _ordered(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    order = ("done", "failed", "timed out", "unstable", "waiting")
    return [(end, counts[end]) for end in order if counts.get(end)]


def _brought(overview: TuningOverview) -> list[Component]:
    table = overview.table
    parts: list[Component] = [html.Span(f"best run {table.identities[overview.best or 0]}")]
    for name in overview.tuning.goal.outcomes:
        before, after = (float(table.outcomes[name][row or 0]) for row in (overview.start, overview.best))
        parts.append(html.Span(f"{name} {before:.3f} at the start, {after:.3f} now"))
    return parts
