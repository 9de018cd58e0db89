"""What the data check found, on the curve where it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import channel_title, finding_title
from dashboard import ids
from dashboard.components.graph import graph

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import Finding


def finding_parts(
    own: Sequence[tuple[Finding, go.Figure | None]],
    others: Sequence[Finding],
    names: Mapping[str, str],
    *,
    link: Callable[[str], str],
    tidy: Callable[[str], str],
) -> list[Component]:
    """Return the findings of a channel with their figures, and where else something was found.

    Parameters
    ----------
    own
        Of the channel and of whole tests, with a figure where there is a curve.
    others
        Of other channels of the load case.
    names
        Of the tests, by their files.
    link
        Address of a channel by its code; empty where it has no page.
    tidy
        Shortens the paths in a sentence.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    parts: list[Component] = [html.H2("Data check")]
    if not own:
        parts.append(html.P("No findings in this channel, in any repeat.", className="check-clear"))
    parts += [
        _finding(number, finding, figure, title=_title(finding, names), what=tidy(finding.what))
        for number, (finding, figure) in enumerate(own)
    ]
    if others:
        parts += [html.H3("In other channels of this load case"), _elsewhere(others, names, link)]
    return parts


def _title(finding: Finding, names: Mapping[str, str]) -> str:
    return finding_title(finding, names.get(finding.file, finding.file))


def _finding(
    number: int, finding: Finding, figure: go.Figure | None, *, title: str, what: str
) -> html.Article:
    words = html.P(
        [f"{what[:1].upper()}{what[1:]}. ", html.Span(f"Remedy: {finding.remedy}.", className="note")]
    )
    place = {"type": ids.REPEATS_FINDING, "number": number}
    drawn = [] if figure is None else [graph(place, figure, kind="finding-figure")]
    return html.Article([html.H3(title), words, *drawn], className=f"finding is-{finding.severity}")


def _elsewhere(findings: Sequence[Finding], names: Mapping[str, str], link: Callable[[str], str]) -> html.Ul:
    entries = []
    for finding in findings:
        address = link(finding.channel)
        words = channel_title(finding.channel)
        entries.append(
            html.Li([dcc.Link(words, href=address) if address else words, f": {_title(finding, names)}"])
        )
    return html.Ul(entries, className="assumptions")
