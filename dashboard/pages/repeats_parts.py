"""The repeats of a channel, put together from their parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import html, no_update

from correlate import CorrelateError, window_book
from correlate.plots import (
    channel_title,
    cross_plot_figure,
    filter_words,
    finding_figure,
    repeats_figure,
    unit_words,
)
from dashboard import paths
from dashboard.components.findings import finding_parts
from dashboard.components.repeat_numbers import repeat_tables
from dashboard.components.windows import window_parts
from dashboard.query import write_query
from dashboard.selection import number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import Campaign, ChannelPlan, Finding, Recording
    from correlate.plots import Theme
    from dashboard.laboratory import Laboratory
    from dashboard.pages.repeats_address import RepeatsChoice


def repeat_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme
) -> dict[str, Any]:
    """Return what the page shows of the repeats.

    Parameters
    ----------
    laboratory
        Of the server.
    campaign, choice
        What is shown.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    dict
        By the names of the outputs of the page.

    Raises
    ------
    CorrelateError
        A test cannot be read, or the repeats cannot be compared.
    """
    load_case, channel = choice.load_case, choice.channel
    tests = laboratory.project.tests(campaign, load_case)
    found = laboratory.repeats(campaign, load_case, channel, times=choice.times)
    names = [test.path.stem for test in tests]
    return {
        "heading": _heading(choice, len(tests)),
        "figure": repeats_figure(found.repeats, theme=theme, corridor=found.corridor),
        "numbers": repeat_tables(found, names),
        "findings": _findings(laboratory, campaign, choice, tests, theme),
        "qualified": _windows(laboratory, campaign, choice, names),
    }


def cross_plot_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme
) -> tuple[go.Figure, Any, bool]:
    """Return the cross-plot: figure, words, and whether the figure is hidden.

    Parameters
    ----------
    laboratory
        Of the server.
    campaign, choice
        What is shown.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    tuple
        A sentence in place of the figure where there is none.
    """
    if choice.across is None:
        return no_update, html.P("No second channel is selected.", className="note"), True
    try:
        found = laboratory.cross_plot(
            campaign, choice.load_case, across=choice.across, upright=choice.channel, times=choice.times
        )
    except CorrelateError as error:
        return no_update, html.P(str(error), className="check-reason"), True
    figure = cross_plot_figure(
        found.corridor,
        found.paths,
        theme=theme,
        x_title=_axis(choice.across, found.x_unit),
        y_title=_axis(choice.channel, found.y_unit),
    )
    believed = html.Ul([html.Li(words) for words in found.corridor.assumptions], className="assumptions")
    words = html.Details([html.Summary("Assumptions behind this corridor"), believed])
    return figure, words, False


def _axis(plan: ChannelPlan, unit: str) -> str:
    return f"{channel_title(plan.words)} [{unit_words(unit)}]"


def _heading(choice: RepeatsChoice, count: int) -> list[Component]:
    case, channel = choice.load_case, choice.channel
    start_ms, end_ms = case.interval_ms
    how = f"{filter_words(channel.cfc)}, {number_text(start_ms)} to {number_text(end_ms)} ms"
    held_out = html.Span("held out of tuning", className="tag") if case.held_out else None
    return [
        html.H1(channel_title(channel.words)),
        html.P([case.title or case.name, held_out], className="heading-case"),
        html.P(
            html.Span([f"{count} repeat{'' if count == 1 else 's'}, {how}, ", html.Code(channel.test)]),
            className="heading-pair",
        ),
    ]


def _findings(
    laboratory: Laboratory,
    campaign: Campaign,
    choice: RepeatsChoice,
    tests: Sequence[Recording],
    theme: Theme,
) -> list[Component]:
    load_case, code = choice.load_case, choice.channel.test
    findings = laboratory.checked(campaign, load_case).findings
    planned = {plan.test for plan in load_case.channel}

    def link(channel: str) -> str:
        asked = {"case": load_case.name, "channel": channel}
        return paths.REPEATS + write_query(asked) if channel in planned else ""

    own = [finding for finding in findings if finding.channel in {code, ""}]
    others = [finding for finding in findings if finding.channel not in {code, ""}]
    drawn = [(finding, _finding_figure(finding, tests, theme)) for finding in own]
    names = {str(test.path): test.path.stem for test in tests}
    return finding_parts(drawn, others, names, link=link, tidy=laboratory.project.without_folder)


def _finding_figure(finding: Finding, tests: Sequence[Recording], theme: Theme) -> go.Figure | None:
    """Return the curve with the place of the finding; None for a finding of a whole test."""
    by_file = {str(test.path): test for test in tests}
    if not finding.channel or finding.file not in by_file:
        return None
    signal = by_file[finding.file].channel(finding.channel)
    others = [
        other
        for file, test in by_file.items()
        if file != finding.file
        for other in test.signals
        if other.channel == signal.channel and other.unit == signal.unit
    ]
    return finding_figure(finding, signal, theme=theme, others=others)


def _windows(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, names: Sequence[str]
) -> list[Component]:
    title = html.H2("Qualification windows")
    if choice.window is None:
        words = "Select the windows of a qualification test to compare every repeat with them."
        return [title, html.P(words, className="note")]
    found = laboratory.qualified(campaign, choice.load_case, window=choice.window, book=window_book())
    return [title, *window_parts(found, names)]
