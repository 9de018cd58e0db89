"""The layout of the repeats page, its menus and parts."""

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
from dashboard import ids, paths
from dashboard.components.controls import graph, labelled, menu
from dashboard.components.laboratory import finding_parts, repeat_tables, window_parts
from dashboard.menus import Menu, channel_menu, menu_of
from dashboard.pages.repeats.address import NO_CROSS_PLOT, WIDTHS, across_channel, window_names
from dashboard.selection import number_text, write_query

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import Campaign, ChannelPlan, Finding, LoadCase, Recording
    from correlate.plots import Theme
    from dashboard.laboratory import Laboratory
    from dashboard.pages.repeats.address import RepeatsChoice


def repeats_menus(campaign: Campaign, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return options and value of every menu; a name that is not there leaves its menu open."""
    case = menu_of({one.name: one.title or one.name for one in campaign.load_cases}, asked["case"])
    nothing = Menu(options=[], value=None)
    found = {"case": case, "channel": nothing, "across": nothing}
    if case.value is not None:
        load_case = campaign.load_case(case.value)
        channel = channel_menu(load_case, asked["channel"])
        found |= {"channel": channel, "across": _across(load_case, channel, asked["across"])}
    found["width"] = menu_of(WIDTHS, asked["width"])
    found["windows"] = _windows(asked["windows"])
    return {
        **{f"{name}_options": one.options for name, one in found.items()},
        **{name: one.value for name, one in found.items()},
    }


def _across(load_case: LoadCase, channel: Menu, name: str) -> Menu:
    """Return the other channels, and that there is no cross-plot."""
    words: dict[str, str] = {NO_CROSS_PLOT: "No cross-plot"}
    for option in _flat(channel_menu(load_case, "")):
        if option["value"] != channel.value:
            words[option["value"]] = option["label"]
    if channel.value is None:
        return menu_of(words, NO_CROSS_PLOT)
    try:
        shown = across_channel(load_case, load_case.plan(channel.value), name)
    except CorrelateError:  # said when the channel is looked up
        return Menu(options=menu_of(words, "").options, value=None)
    return menu_of(words, NO_CROSS_PLOT if shown is None else shown.test)


def _windows(name: str) -> Menu:
    groups: dict[str, list[dict[str, str]]] = {}
    for key, (device, test) in window_names().items():
        groups.setdefault(device, []).append({"value": key, "label": test})
    options: list[Any] = [{"group": "", "items": [{"value": "", "label": "No windows"}]}]
    options += [{"group": device, "items": items} for device, items in groups.items()]
    return Menu(options=options, value=name if name in window_names() else "")


def _flat(menu: Menu) -> list[dict[str, str]]:
    found: list[Any] = []
    for entry in menu.options:
        found += entry.get("items", [entry])
    return found


def repeat_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme
) -> dict[str, Any]:
    """Return what the page shows of the repeats."""
    load_case, channel = choice.load_case, choice.channel
    tests = laboratory.project.tests(campaign, load_case)
    found = laboratory.repeats(campaign, load_case, channel, times=choice.times)
    names = [test.path.stem for test in tests]
    return {
        "heading": _heading(choice, len(tests)),
        "figure": repeats_figure(found.repeats, theme=theme, corridor=found.corridor),
        "numbers": repeat_tables(found, names),
        "findings": _findings(laboratory, campaign, choice, tests, theme),
        "qualified": _window_parts(laboratory, campaign, choice, names),
    }


def cross_plot_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme
) -> tuple[go.Figure, Any, bool]:
    """Return the cross-plot: figure, words, and whether the figure is hidden."""
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


def axis_note(resultant: str) -> html.P:
    """Say why an axis is shown where a resultant is selected."""
    words = "is computed from its axes and has no recording of its own; the first axis is shown."
    return html.P(f"{channel_title(resultant)} {words}", className="note")


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
        asked = {"case": load_case.name, "channel": channel, "across": "", "windows": ""}
        return paths.REPEATS + write_query(asked, choice.search) if channel in planned else ""

    own = [finding for finding in findings if finding.channel in {code, ""}]
    others = [finding for finding in findings if finding.channel not in {code, ""}]
    drawn = [(finding, _finding_figure(finding, tests, theme)) for finding in own]
    names = {str(test.path): test.path.stem for test in tests}
    return finding_parts(drawn, others, names, link=link, tidy=laboratory.project.without_folder)


def _finding_figure(finding: Finding, tests: Sequence[Recording], theme: Theme) -> go.Figure | None:
    """Return the curve with the place of the finding; None where there is no curve."""
    by_file = {str(test.path): test for test in tests}
    if finding.channel not in by_file.get(finding.file, ()):
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


def _window_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, names: Sequence[str]
) -> list[Component]:
    title = html.H2("Qualification windows")
    if choice.window is None:
        words = "Select the windows of a qualification test to compare every repeat with them."
        return [title, html.P(words, className="note")]
    found = laboratory.qualified(campaign, choice.load_case, window=choice.window, book=window_book())
    return [title, *window_parts(found, names)]


def controls() -> html.Aside:
    """Return the menus, empty until the campaign is read."""
    return html.Aside(
        [
            html.Section(
                [
                    html.H2("Repeats"),
                    menu(ids.REPEATS_CASE, "Load case"),
                    menu(ids.REPEATS_CHANNEL, "Channel"),
                    menu(ids.REPEATS_WIDTH, "Corridor"),
                ]
            ),
            html.Section(
                [
                    html.H2("Compared with"),
                    menu(ids.REPEATS_ACROSS, "Cross-plot over"),
                    menu(ids.REPEATS_WINDOW, "Qualification windows", "none"),
                ]
            ),
        ],
        id=ids.REPEATS_CONTROLS,
        className="controls",
        **labelled("What is shown"),
    )


def content() -> list[Component]:
    """Return the places of everything that is shown."""
    shown = html.Div(
        [
            html.Section(
                [
                    graph(ids.REPEATS_FIGURE),
                    html.P("Drag to zoom, double-click to reset.", className="hint"),
                ],
                className="card figure-card",
                **labelled("Curves of the repeats"),
            ),
            html.Section(id=ids.REPEATS_FINDINGS, className="card", **labelled("Data check")),
            html.Section(id=ids.REPEATS_NUMBERS, className="card", **labelled("Repeatability")),
            html.Section(
                [
                    html.H2("Cross-plot"),
                    html.Div(id=ids.REPEATS_CROSS_WORDS),
                    html.Div(graph(ids.REPEATS_CROSS_FIGURE, kind="cross"), id=ids.REPEATS_CROSS_CARD),
                ],
                className="card",
                **labelled("One channel against another"),
            ),
            html.Section(id=ids.REPEATS_WINDOWS, className="card", **labelled("Qualification windows")),
        ],
        id=ids.REPEATS_SHOWN,
        hidden=True,
    )
    return [
        html.Div(id=ids.REPEATS_HEADING, className="heading"),
        html.Div(id=ids.REPEATS_PROBLEM),
        shown,
    ]
