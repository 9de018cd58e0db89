"""The layout of the repeats page, its menus and parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import html

from correlate import CorrelateError, media_of_test, package_of_test, release_of_test, window_book
from correlate.plots import (
    RepeatLine,
    as_sentence,
    channel_title,
    cross_plot_figure,
    filter_words,
    repeat_colours,
    repeats_figure,
    unit_words,
)
from dashboard import ids, paths
from dashboard.components.controls import empty_state, graph, labelled, menu, several
from dashboard.components.laboratory import (
    RepeatNote,
    RepeatRow,
    drawn_finding,
    finding_parts,
    repeat_legend,
    repeat_tables,
    window_parts,
)
from dashboard.components.media import media_list
from dashboard.components.pictures import picture_menu, picture_said
from dashboard.components.states import loading
from dashboard.menus import Menu, channel_menu, menu_of
from dashboard.pages.repeats.address import (
    BETWEEN_NAMES,
    NO_CROSS_PLOT,
    WIDTHS,
    across_channel,
    window_names,
)
from dashboard.selection import number_text, write_query

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import Campaign, ChannelPlan, CheckOutcome, Finding, LoadCase, PackageMedia, Recording
    from correlate.plots import Theme
    from dashboard.laboratory import Laboratory
    from dashboard.pages.repeats.address import RepeatsChoice


NAME: Final = "repeats"
"""Of the page, in its ids."""


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
    names = [] if case.value is None else _names(campaign, campaign.load_case(case.value))
    shown = [name for name in asked["shown"].split(BETWEEN_NAMES) if name in names]
    return {
        **{f"{name}_options": one.options for name, one in found.items()},
        **{name: one.value for name, one in found.items()},
        "shown_options": [{"value": name, "label": name} for name in names],
        "shown": shown or names,
    }


def _names(campaign: Campaign, load_case: LoadCase) -> list[str]:
    try:
        return list(campaign.tests(load_case))
    except CorrelateError:  # said when the repeats are read
        return []


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
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme, search: str | None
) -> dict[str, Any]:
    """Return what the page shows of the repeats."""
    load_case, channel = choice.load_case, choice.channel
    tests = laboratory.tests(campaign, load_case)
    having = laboratory.tests(campaign, load_case, channel)
    found = laboratory.repeats(campaign, load_case, channel, band=choice.band)
    outcome = laboratory.judged(campaign, load_case)
    lines = repeat_lines(choice, having, outcome)
    colours = repeat_colours(theme)
    rows = [
        RepeatRow(
            line=line,
            colour=colours[place % len(colours)],
            link=paths.REPEATS + write_query({"repeat": "" if line.is_picked else line.name}, search),
            notes=_notes(laboratory, having[line.name], choice, outcome),
        )
        for place, line in enumerate(lines)
    ]
    absent = [name for name in tests if name not in having]
    return {
        "heading": _heading(choice, len(tests)),
        "figure": repeats_figure(found.repeats, theme=theme, corridor=found.corridor, lines=lines),
        "legend": repeat_legend(rows),
        "numbers": repeat_tables(found, rows, absent),
        "findings": _findings(laboratory, choice, tests, outcome, theme=theme, search=search),
        "qualified": _window_parts(laboratory, campaign, choice, list(tests)),
        "media": _media(laboratory, tests),
    }


def _media(laboratory: Laboratory, tests: Mapping[str, Recording]) -> list[Component]:
    """Return the photos and films that the packages of the tests list; nothing where there are none."""
    folder = laboratory.project.folder
    found: dict[tuple[str, PackageMedia], list[str]] = {}
    for name, test in tests.items():
        package = package_of_test(folder, test.path)
        for one in media_of_test(folder, test.path):
            found.setdefault((package, one), []).append(name)
    if not found:
        return []
    parts = [html.H2("Photos and films"), media_list(found)]
    return [html.Section(parts, className="card", **labelled("Photos and films of the tests"))]


def repeat_lines(
    choice: RepeatsChoice, having: Mapping[str, Recording], outcome: CheckOutcome
) -> list[RepeatLine]:
    """Return how each repeat that has the channel is drawn."""
    return [_line(name, test, choice, outcome) for name, test in having.items()]


def _own(finding: Finding, test: Recording, choice: RepeatsChoice) -> bool:
    """Say whether a finding is of a test and of the channel that is shown, or of the whole test."""
    return finding.file == str(test.path) and finding.channel in {choice.channel.test, ""}


def _line(name: str, test: Recording, choice: RepeatsChoice, outcome: CheckOutcome) -> RepeatLine:
    """Return how a repeat is drawn; errors of the data check mark it."""
    errors = [one for one in outcome.findings if one.severity == "error" and _own(one, test, choice)]
    kinds = ", ".join(dict.fromkeys(one.kind for one in errors))
    return RepeatLine(
        name=name,
        fault=f"error: {kinds}" if kinds else "",
        is_shown=name in choice.shown,
        is_picked=name == choice.picked,
    )


def _notes(
    laboratory: Laboratory, test: Recording, choice: RepeatsChoice, outcome: CheckOutcome
) -> tuple[RepeatNote, ...]:
    """Return what has to be known of a repeat: findings, waivers, and that it was in quarantine."""
    tidy = laboratory.project.without_folder
    found = [
        RepeatNote(words=f"{one.severity.capitalize()}: {one.kind}: {tidy(one.what)}", severity=one.severity)
        for one in outcome.findings
        if _own(one, test, choice)
    ]
    found += [
        RepeatNote(words=f"{one.finding.kind}: {one.waiver.words}")
        for one in outcome.waived
        if _own(one.finding, test, choice)
    ]
    released = release_of_test(laboratory.project.folder, test.path)
    if released is not None:
        found.append(RepeatNote(words=f"package {released[0]}, {released[1].words}", severity="warning"))
    return tuple(found)


def cross_plot_parts(
    laboratory: Laboratory, campaign: Campaign, choice: RepeatsChoice, theme: Theme
) -> list[Component]:
    """Return the cross-plot, or why there is none and what to do."""
    if choice.across is None:
        if len(choice.load_case.channel) < 2:
            words = "A cross-plot draws one channel against another. This load case has one channel."
            return [empty_state("No cross-plot", words)]
        words = "Select another channel under 'Cross-plot over' to draw this channel against it."
        return [empty_state("No second channel is selected", words)]
    try:
        found = laboratory.cross_plot(
            campaign, choice.load_case, across=choice.across, upright=choice.channel, times=choice.times
        )
    except CorrelateError as error:
        reason = laboratory.project.without_folder(str(error))
        return [empty_state("There is no cross-plot of these channels", as_sentence(reason))]
    figure = cross_plot_figure(
        found.corridor,
        found.paths,
        theme=theme,
        x_title=_axis(choice.across, found.x_unit),
        y_title=_axis(choice.channel, found.y_unit),
    )
    believed = html.Ul([html.Li(words) for words in found.corridor.assumptions], className="assumptions")
    return [
        graph(ids.REPEATS_CROSS_FIGURE, figure, kind="cross"),
        html.Details([html.Summary("Assumptions behind this corridor"), believed]),
    ]


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
    choice: RepeatsChoice,
    tests: Mapping[str, Recording],
    outcome: CheckOutcome,
    *,
    theme: Theme,
    search: str | None,
) -> list[Component]:
    load_case, code = choice.load_case, choice.channel.test
    planned = {plan.test for plan in load_case.channel}

    def link(channel: str) -> str:
        asked = {"case": load_case.name, "channel": channel, "across": "", "windows": ""}
        return paths.REPEATS + write_query(asked, search) if channel in planned else ""

    own = [finding for finding in outcome.findings if finding.channel in {code, ""}]
    others = [finding for finding in outcome.findings if finding.channel not in {code, ""}]
    drawn = [(finding, drawn_finding(finding, list(tests.values()), theme)) for finding in own]
    names = {str(test.path): name for name, test in tests.items()}
    return finding_parts(
        drawn, others, outcome.waived, names, link=link, tidy=laboratory.project.without_folder
    )


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
                    several(ids.REPEATS_LINES, "Repeats shown"),
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
                    html.Div([*picture_said(NAME), *picture_menu(NAME)], className="picture-tools"),
                    html.Div(id=ids.REPEATS_LEGEND),
                    graph(ids.REPEATS_FIGURE),
                    html.P("Drag to zoom, double-click to reset.", className="hint"),
                ],
                className="card figure-card",
                **labelled("Curves of the repeats"),
            ),
            html.Section(id=ids.REPEATS_FINDINGS, className="card", **labelled("Data check")),
            html.Div(id=ids.REPEATS_MEDIA),
            html.Section(id=ids.REPEATS_NUMBERS, className="card", **labelled("Repeatability")),
            html.Section(
                [
                    html.H2("Cross-plot"),
                    loading(
                        html.Div(id=ids.REPEATS_CROSS, className="cross-place"),
                        "rows",
                        "Drawing the cross-plot",
                    ),
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
