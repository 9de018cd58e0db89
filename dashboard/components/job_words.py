"""Progress and result of a job, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import paths
from dashboard.components.labelled import labelled
from dashboard.query import write_query

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dash.development.base_component import Component

    from correlate import CorrelateError
    from dashboard.jobs import JobState

_TITLES: Final[dict[str, str]] = {
    "ingest": "Importing a package",
    "results": "Importing the results of a release",
    "score": "Rating the campaign",
    "check": "Checking the tests",
    "fit": "Fitting surrogates",
}
_ENDS: Final[dict[str, str]] = {"failed": "Failed", "cancelled": "Cancelled"}


def job_parts(state: JobState) -> list[Component]:
    """Return how a job goes or how it ended.

    Parameters
    ----------
    state
        Of the job.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    title = html.H2(_TITLES.get(state.kind, state.kind))
    if not state.over:
        done = round(100 * state.progress)
        waiting = state.words or "waiting for its turn"
        words = "ending at its next step" if state.cancelling else waiting
        bar = dmc.Progress(value=done, size="sm", className="job-bar", **labelled(f"{done} % done"))
        return [title, bar, html.P(f"{done} %, {words}", className="note")]
    if state.stage == "done":
        return [title, *_result(state.kind, state.result)]
    ending = html.P(_ENDS[state.stage], className="job-end")
    reason = html.P(state.failure, className="job-failure") if state.failure else None
    nothing_kept = html.P("Nothing was stored.", className="note") if _takes_in(state.kind) else None
    return [part for part in (title, ending, reason, nothing_kept) if part is not None]


def _takes_in(kind: str) -> bool:
    return kind in {"ingest", "results"}


def _result(kind: str, result: Mapping[str, Any]) -> list[Component]:
    if kind == "ingest":
        return _package(result)
    if kind == "results":
        return _results(result)
    if kind == "score":
        return _scores(result)
    if kind == "fit":
        return _fit(result)
    return [html.P("Done.", className="job-end")]


def _package(result: Mapping[str, Any]) -> list[Component]:
    if result["quarantine"]:
        count = result["errors"]
        words = f"{count} {'error was' if count == 1 else 'errors were'} found, so the package is stored in "
        advice = "Nothing uses it there. Repair the data and upload the package under another name."
    else:
        words = "Every byte is as listed and the data check found no error. The package is in "
        advice = "Name its tests under 'tests' in the campaign file to use them."
    folder = html.Code(str(result["folder"]))
    return [html.P([words, folder, "."], className="job-end"), html.P(advice, className="note")]


def _results(result: Mapping[str, Any]) -> list[Component]:
    read, missing = result["read"], result["missing"]
    words = f"Release {result['release']} is in the campaign: {len(read)} of {len(read) + len(missing)} "
    parts: list[Component] = [html.P(f"{words}load cases have a result.", className="job-end")]
    if missing:
        parts.append(html.P(f"No result for {', '.join(missing)}.", className="note"))
    parts.append(html.P("It is not rated yet.", className="note"))
    return parts


def _fit(result: Mapping[str, Any]) -> list[Component]:
    words = f"{result['outcomes']} outcomes were fitted, {result['proposed']} runs are proposed."
    refusal = html.P(str(result["refusal"]), className="note") if result["refusal"] else None
    return [part for part in (html.P(words, className="job-end"), refusal) if part is not None]


def _scores(result: Mapping[str, Any]) -> list[Component]:
    new, unrated = result["new"], result["unrated"]
    words = f"{new} pairs were rated; {result['reused']} were already rated."
    link = dcc.Link("Show the scoreboard", href=paths.SCOREBOARD + write_query({}).rstrip("?"))
    parts: list[Component] = [html.P(words, className="job-end"), html.P(link)]
    if unrated:
        entries = html.Ul([html.Li(str(one)) for one in unrated[:20]], className="assumptions")
        parts.append(html.Details([html.Summary(f"{len(unrated)} pairs cannot be rated"), entries]))
    return parts


def refusal(error: CorrelateError | str) -> html.P:
    """Return why something was not taken.

    Parameters
    ----------
    error
        One sentence.

    Returns
    -------
    dash.html.P
    """
    return html.P(str(error), className="job-failure", role="alert")
