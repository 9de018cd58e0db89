"""Parts of the tuning page: grid of runs, proposals, words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import dash_ag_grid as dag
import dash_mantine_components as dmc
import numpy as np
from dash import html

from correlate import counted
from correlate.plots import unit_words
from dashboard import ids
from dashboard.components.controls import NO_NUMBER, labelled

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Surrogate, Tuning, TuningOverview


TRUSTED: Final = 0.5
"""Smallest share of the variance from which something is recommended, as in the core."""


def heading(overview: TuningOverview) -> list[Component]:
    """Return the title, how the runs ended, and what the best one brought."""
    ends = ", ".join(f"{count} {end}" for end, count in overview.counts.items())
    runs = f"{len(overview.table)} runs: {ends}" if len(overview.table) else "no run yet"
    parts: list[Component] = [
        html.H1(overview.tuning.title or "Tuning"),
        html.P(f"{len(overview.table.space.parameters)} parameters, {runs}", className="heading-case"),
    ]
    if overview.best is not None and overview.start is not None:
        parts.append(html.P(_brought(overview), className="heading-pair"))
    if overview.over_limits:
        parts.append(html.P(f"{overview.over_limits}.", className="over-limits"))
    return parts


def bounds(overview: TuningOverview) -> Component | None:
    """Return which parameters of the best run lie at a bound, and what widening may gain by the saved fit."""
    if not overview.at_bound:
        return None
    count = len(overview.at_bound)
    current = overview.fit is not None and not overview.fit_is_old
    gains = overview.fit.bounds if overview.fit is not None and current else ()
    title = f"{count} parameter{' lies' if count == 1 else 's lie'} at a bound in the best run"
    return html.Details(
        [
            html.Summary(title),
            html.Ul(
                [html.Li(f"{words}.") for words in (*overview.at_bound, *gains)], className="assumptions"
            ),
        ]
    )


def next_words(overview: TuningOverview) -> list[Component]:
    """Return what is still to be run before surrogates are reliable; nothing when nothing is."""
    if not overview.lacking_runs:
        return []
    wanted = overview.lacking_runs + overview.counts.get("done", 0)
    words = (
        f"Surrogates of {counted(len(overview.table.space.parameters), 'parameter')} need about "
        f"{counted(wanted, 'finished run')}: {overview.counts.get('done', 0)} finished, "
        f"{overview.counts.get('waiting', 0)} waiting. "
    )
    command = html.Code(f"correlate tune run {overview.tuning.folder}")
    if overview.lacking_points:
        return [html.P([words, "Add design points, then run them with ", command, "."])]
    return [html.P([words, "Run the waiting points with ", command, "."])]


def no_design_words(tuning: Tuning) -> list[Component]:
    """Return the purpose of the design points, before there are any."""
    parameters = counted(len(tuning.space.parameters), "parameter")
    words = (
        f"Design points spread the values of {parameters} between their bounds; each one is a run of the "
        "solver. Add them here, then run them with "
    )
    return [html.P([words, html.Code(f"correlate tune run {tuning.folder}"), "."])]


def add_words(count: int) -> str:
    """Return the words of the button that adds design points."""
    return f"Add {counted(count, 'design point')}"


def fit_words(overview: TuningOverview) -> list[Component]:
    """Return how the kept fit stands to the runs."""
    if overview.fit_problem:
        return [html.P(overview.fit_problem, className="job-failure")]
    if overview.fit is None and not overview.can_be_fitted:
        return [html.P("No surrogates yet: too few runs are finished.")]
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
    """Return how far a surrogate can be trusted."""
    if surrogate.flat:
        return f"{surrogate.outcome} is the same in every run: no parameter influences it."
    inside = "; ".join(
        f"{cover.observed:.0%} of the runs are inside the interval for {cover.nominal:.0%}"
        for cover in surrogate.coverage
    )
    trust = "" if surrogate.q2 >= TRUSTED else " It is not reliable, and nothing is proposed from it."
    return f"Each run predicted from the others: Q² {surrogate.q2:.2f}. {inside}.{trust}"


def _brought(overview: TuningOverview) -> list[Component]:
    table = overview.table
    parts: list[Component] = [html.Span(f"best run {table.identities[overview.best or 0]}")]
    for name in overview.tuning.goal.outcomes:
        before, after = (float(table.outcomes[name][row or 0]) for row in (overview.start, overview.best))
        parts.append(html.Span(f"{name} {before:.3f} at the start, {after:.3f} now"))
    return parts


def runs_grid() -> dag.AgGrid:
    """Return the table, empty until the runs are read."""
    return dag.AgGrid(
        id=ids.TUNING_GRID,
        columnDefs=[],
        rowData=[],
        defaultColDef={
            "sortable": True,
            "filter": True,
            "resizable": True,
            "minWidth": 84,
            "wrapHeaderText": True,
            "autoHeaderHeight": True,
        },
        dashGridOptions={
            "domLayout": "normal",
            "rowHeight": 34,
            "animateRows": False,
            "suppressCellFocus": False,
            "enableCellTextSelection": True,
            "tooltipShowDelay": 300,
        },
        className="runs-grid",
        style={"height": "360px"},
    )


def columns(overview: TuningOverview) -> list[dict[str, Any]]:
    """Return the columns: name, round, end, ratings, parameters."""
    found: list[dict[str, Any]] = [
        {"field": "run", "headerName": "Run", "pinned": "left", "width": 96},
        {"field": "round", "headerName": "Round", "width": 110, "filter": "agNumberColumnFilter"},
        {"field": "end", "headerName": "End", "width": 110, "tooltipField": "why"},
    ]
    for place, name in enumerate(shown_outcomes(overview)):
        found.append(_number(f"outcome {place}", name.removeprefix("load case/"), RATING_DECIMALS))
    for place, one in enumerate(overview.table.space.parameters):
        decimals = parameter_decimals(one.lower, one.upper)
        found.append(_number(f"parameter {place}", f"{one.name} [{unit_words(one.unit)}]", decimals))
    return found


def rows(overview: TuningOverview) -> list[dict[str, Any]]:
    """Return a line for each run; what a run does not have is left empty."""
    table, names = overview.table, shown_outcomes(overview)
    found = []
    for row, name in enumerate(table.identities):
        record = overview.state.records.get(name)
        line: dict[str, Any] = {
            "run": name,
            "round": int(table.rounds[row]),
            "end": table.status[row],
            "why": record.message if record else "",
        }
        for place, outcome in enumerate(names):
            value = float(table.outcomes[outcome][row])
            line[f"outcome {place}"] = value if np.isfinite(value) else None
        for place, value in enumerate(table.points[row].tolist()):
            line[f"parameter {place}"] = value
        found.append(line)
    return found


def shown_outcomes(overview: TuningOverview) -> list[str]:
    """Name the outcomes that are shown: what is raised, then training, held-out and load cases."""
    known = overview.table.outcomes
    cases = [name for name in known if name.startswith("load case/")]
    wanted = [*overview.tuning.goal.outcomes, "train", "held-out", *cases]
    return [name for name in dict.fromkeys(wanted) if name in known]


RATING_DECIMALS: Final = 3


def parameter_decimals(lower: float, upper: float) -> int:
    """Return the decimals with which the larger bound has four digits, and the smaller one three.

    Examples
    --------
    >>> parameter_decimals(1.0, 100.0), parameter_decimals(0.0, 0.02), parameter_decimals(0.0, 25000.0)
    (2, 5, 0)
    """
    small, large = sorted((abs(lower), abs(upper)))
    wanted = [3 - math.floor(math.log10(large)), *([2 - math.floor(math.log10(small))] if small else [])]
    return max(0, *wanted)


def _number(field: str, name: str, decimals: int) -> dict[str, Any]:
    shown = f"params.value == null ? '{NO_NUMBER}' : d3.format('.{decimals}f')(params.value)"
    return {
        "field": field,
        "headerName": name,
        "headerTooltip": name,
        "valueFormatter": {"function": shown},
        # Wide enough for the name over two lines beside the button of the filter.
        "width": min(220, max(126, 62 + 5 * len(name))),
        "type": "rightAligned",
        "filter": "agNumberColumnFilter",
    }


def proposal_list(overview: TuningOverview) -> list[Component]:
    """Return the proposals of the kept fit, each with its prediction, its reason and its values."""
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
