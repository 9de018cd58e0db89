"""The scoreboard of a release, put together from its parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import html

from correlate import equal_findings, gap_lines, places_of
from correlate.plots import board_title, channel_count, limits_words, moved_words, trend_figure
from dashboard import ids, paths
from dashboard.components.board import changes_table, checks_list, headline_card, lines_table, track_legend
from dashboard.components.controls import graph, labelled
from dashboard.selection import write_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, RunInfo, Scoreboard
    from correlate.plots import Theme
    from dashboard.state import KeptBoard


MOST_SHOWN: Final = 6
"""Changes and limits that stand in sight; the others open on demand."""


def board_parts(campaign: Campaign, kept: KeptBoard, theme: Theme) -> list[Component]:
    """Return everything below the menus."""
    board = kept.board
    return [
        html.Div(
            [html.H1(board_title(board)), html.P(_sub_title(campaign, board), className="heading-case")],
            className="heading",
            role="status",
        ),
        html.Div([*_headlines(board), _trend(board, theme)], className="headlines"),
        html.Div(
            [_load_cases(board), html.Div([_regions(board), _limits(board), _evidence(board)])],
            className="board-columns",
        ),
        _changes(campaign, board),
        _source(campaign, kept.run),
    ]


def pair_link(campaign: Campaign, release: str, place: tuple[str, ...]) -> str:
    """Return the address of the curves behind a number."""
    case = campaign.load_case(place[0])
    asked = {"release": release, "case": case.name}
    if len(place) > 1:
        if place[-1] not in case.rated_names:
            return ""
        asked["channel"] = place[-1]
    return paths.PAIR + write_query(asked)


def _sub_title(campaign: Campaign, board: Scoreboard) -> str:
    note = campaign.release(board.release).note
    words = f"{moved_words(board)}; {limits_words(board)}."
    said = words[0].upper() + words[1:] if board.against else f"{limits_words(board).capitalize()}."
    return f"{note}. {said}" if note else said


def _headlines(board: Scoreboard) -> list[Component]:
    cards = [headline_card("All load cases", board.total, against=board.against)]
    if board.held_out is not None:
        cards.append(headline_card("Held out of tuning", board.held_out, against=board.against))
    return list(cards)


def _trend(board: Scoreboard, theme: Theme) -> html.Section:
    ceiling = None if board.total.ceiling is None else board.total.ceiling.overall
    figure = trend_figure(board.trend, theme=theme, release=board.release, ceiling=ceiling)
    return html.Section(
        [html.H2("All releases"), graph(ids.SCOREBOARD_TREND, figure, kind="trend")],
        className="card trend-card",
        **labelled("Ratings of all releases"),
    )


def _load_cases(board: Scoreboard) -> html.Section:
    def link(place: tuple[str, ...]) -> str:
        return paths.PAIR + write_query({"release": board.release, "case": place[0]})

    parts: list[Component] = [html.H2("Load cases"), lines_table("load case", board.load_cases, link)]
    if board.held_out_cases:
        parts += [
            html.H3("Held out of tuning, not in the overall number"),
            lines_table("load case", board.held_out_cases, link),
        ]
    return html.Section([*parts, track_legend(board.against)], className="card")


def _regions(board: Scoreboard) -> html.Section:
    note = "Over all load cases except held-out ones."
    return html.Section(
        [html.H2("Body regions"), lines_table("region", board.regions), html.P(note, className="note")],
        className="card",
    )


def _changes(campaign: Campaign, board: Scoreboard) -> html.Section:
    if board.against is None:
        words = "This is the first rated release; changes are shown from the second release on."
        return html.Section([html.H2("What changed"), html.P(words)], className="card")
    if not board.moved:
        words = "No channel is better or worse beyond chance between the repeats of its test."
        return html.Section([html.H2("What changed"), html.P(words)], className="card")

    def link(place: tuple[str, ...]) -> str:
        return pair_link(campaign, board.release, place)

    def title(case: str) -> str:
        return campaign.load_case(case).title or case

    note = (
        "Only channels that are better or worse beyond chance between repeats, or rated against one repeat."
    )
    parts: list[Component] = [
        html.H2(f"What changed against {board.against}"),
        html.P(note, className="note"),
    ]
    for word, changes in (("worse", board.worse), ("better", board.better)):
        if changes:
            first, others = changes[:MOST_SHOWN], changes[MOST_SHOWN:]
            parts += [html.H3(f"{channel_count(len(changes))} {word}"), changes_table(first, title, link)]
            if others:
                more = html.Summary(f"{len(others)} more")
                parts.append(html.Details([more, changes_table(others, title, link)]))
    return html.Section(parts, className="card changes-card")


def _limits(board: Scoreboard) -> html.Section:
    given = {"rating at least": board.limits.least, "loss at most": board.limits.largest_loss}
    known = [f"{words} {value:g}" for words, value in given.items() if value is not None]
    if not known:
        advice: list[Component | str] = [
            "The campaign file sets no limits. Add for instance ",
            html.Code("[limits]"),
            " with ",
            html.Code("least = 0.8"),
            " and ",
            html.Code("largest_loss = 0.03"),
            " to it; this page then shows which limits are not met.",
        ]
        known_words = html.P(advice, className="note")
    else:
        known_words = html.P(f"In the campaign file: {', '.join(known)}.", className="note")
    words = limits_words(board)
    parts: list[Component] = [
        html.H2("Checks"),
        known_words,
        html.P(words.capitalize(), className="limits-words"),
    ]
    if board.open_checks:
        parts.append(checks_list(board.open_checks[:MOST_SHOWN]))
    if len(board.open_checks) > MOST_SHOWN:
        others = board.open_checks[MOST_SHOWN:]
        parts.append(html.Details([html.Summary(f"{len(others)} more"), checks_list(others)]))
    return html.Section(parts, className="card")


def _evidence(board: Scoreboard) -> html.Section:
    """Return what the numbers stand on: repeats, files, and the data check of the tests."""
    evidence = board.evidence
    title = html.H2("Evidence")
    if evidence is None:
        words = "There is no evidence for these ratings: rate the release again."
        return html.Section([title, html.P(words, className="evidence-mark")], className="card")
    channels = [channel for case in evidence.cases for channel in case.channels]
    expected, rated = sum(one.expected for one in channels), sum(len(one.rated) for one in channels)
    counts = f"{rated} of {expected} repeats of {channel_count(len(channels))} are rated."
    lists = [
        ("Missing or stale", gap_lines(evidence.gaps)),
        (
            "Warnings beside ratings",
            [f"{name}: {count} pair{'' if count == 1 else 's'}" for name, count in evidence.flags.items()],
        ),
        ("Waived findings", [f"{one.finding.short_place}: {one.waiver.words}" for one in evidence.waived]),
        ("Released from quarantine", [one.words for one in evidence.released]),
        (
            "Other findings in the tests",
            [f"{places_of(group)}: {group[0].what}" for group in equal_findings(evidence.findings)],
        ),
    ]
    details = [
        html.Details(
            [html.Summary(f"{words}: {len(entries)}"), html.Ul([html.Li(entry) for entry in entries])],
            open=place == 0,
        )
        for place, (words, entries) in enumerate(lists)
        if entries
    ]
    return html.Section([title, html.P(counts), *details], className="card evidence-card")


def _source(campaign: Campaign, run: RunInfo | None) -> html.P:
    if run is None:
        return html.P("", className="source")
    said = f"Last rated {run.started:%Y-%m-%d %H:%M} UTC by {run.who}, version {run.version}."
    if run.campaign_sha256 and run.campaign_sha256 != campaign.sha256:
        said += f" The campaign file has changed since: rate it again with correlate score {campaign.folder}."
    return html.P(said, className="source")
