"""Proposed runs, to be selected and exported."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import html

from dashboard.components.labelled import labelled

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import TuningOverview


def proposal_list(overview: TuningOverview) -> list[Component]:
    """Return the proposals of the kept fit, each with its prediction, its reason and its values.

    Parameters
    ----------
    overview
        With a fit.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    fit = overview.fit
    if fit is None or not fit.proposals:
        reason = fit.refusal if fit else ""
        words = f"No run is proposed. {reason}" if reason else "No run is proposed yet."
        return [html.P(words, className="job-failure" if reason else "note")]
    return [_proposal(overview, number) for number in range(len(fit.proposals))]


def _proposal(overview: TuningOverview, number: int) -> html.Article:
    assert overview.fit is not None  # noqa: S101 - the caller has seen it
    one = overview.fit.proposals[number]
    raised = [_predicted(name, one.predicted[name]) for name in overview.tuning.goal.outcomes]
    values = html.Dl(
        [
            html.Div([html.Dt(parameter.name), html.Dd(f"{value:.4g} {parameter.unit}".removesuffix(" 1"))])
            for parameter, value in zip(overview.table.space.parameters, one.point.tolist(), strict=True)
        ],
        className="proposal-values",
    )
    chances = f"limits met {one.chance_of_limits:.0%}, run succeeds {one.chance_of_success:.0%}"
    return html.Article(
        [
            dmc.Checkbox(value=str(number), **labelled(f"Proposal {number + 1}")),
            html.Div(
                [
                    html.H3(f"Proposal {number + 1}"),
                    *raised,
                    html.P([f"{one.reason}. ", html.Span(f"Probabilities: {chances}.")], className="note"),
                    html.Details([html.Summary("Parameters"), values]),
                ],
            ),
        ],
        className="proposal",
    )


def _predicted(name: str, said: object) -> html.P:
    mean, low, high = (float(getattr(said, part)) for part in ("mean", "low", "high"))
    interval = html.Span(f"95 % between {low:.3f} and {high:.3f}", className="note")
    return html.P([f"{name} ", html.Span(f"{mean:.3f}", className="line-number"), " ", interval])
