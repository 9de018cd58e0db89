"""Parts of the scoreboard: verdict, numbers, changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate import loss_ratio_words
from correlate.plots import (
    chance_brief,
    chance_words,
    channel_title,
    difference_interval,
    scatter_sentence,
    signed,
)
from dashboard import paths
from dashboard.components.controls import DECORATION, NO_NUMBER, head_row, number, with_label
from dashboard.selection import write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from dash.development.base_component import Component

    from correlate import BoardLine, Campaign, Change, RunInfo, Score, Scoreboard

    Link = Callable[[tuple[str, ...]], str]


def changes_table(changes: Sequence[Change], case_title: Callable[[str], str], link: Link) -> html.Table:
    """Return channels that changed, one per row."""
    numbers = [("before", "number"), ("now", "number"), ("change", "change")]
    columns = [("channel", "name"), *numbers, ("95 % interval", "number scatter")]
    return html.Table(
        [
            head_row(columns),
            html.Tbody([_change_row(change, case_title, link) for change in changes]),
        ],
        className="lines changes-table",
    )


def board_source(campaign: Campaign, run: RunInfo | None) -> html.P:
    """Return when the campaign was rated last, and whether its file has changed since."""
    if run is None:
        return html.P("", className="source")
    said = f"Last rated {run.started:%Y-%m-%d %H:%M} UTC by {run.who}, version {run.version}."
    if run.campaign_sha256 and run.campaign_sha256 != campaign.sha256:
        said += f" The campaign file has changed since: rate it again with correlate score {campaign.folder}."
    return html.P(said, className="source")


def case_link(board: Scoreboard, case: str) -> str:
    """Return the address of the channels that the number of a load case is made of."""
    asked = {"release": board.release, "against": board.against or "", "case": case}
    return paths.MATRIX + write_query(asked)


def pair_link(campaign: Campaign, board: Scoreboard, place: tuple[str, ...]) -> str:
    """Return the address of the curves behind a number."""
    case = campaign.load_case(place[0])
    asked = {"release": board.release, "against": board.against or "", "case": case.name}
    if len(place) > 1:
        if place[-1] not in case.rated_names:
            return ""
        asked["channel"] = place[-1]
    return paths.PAIR + write_query(asked)


def _change_row(change: Change, case_title: Callable[[str], str], link: Link) -> html.Tr:
    words = channel_title(change.words)
    address = link(change.place)
    held_out = html.Span("held out", className="tag") if change.held_out else None
    name = [dcc.Link(words, href=address) if address else words, held_out]
    return html.Tr(
        [
            html.Th(
                [*name, html.Span(case_title(change.place[0]), className="note")],
                scope="row",
                className="cell-name",
            ),
            html.Td(with_label("before", number(change.before)), className="cell-number"),
            html.Td(with_label("now", number(change.after)), className="cell-number"),
            html.Td(_better_or_worse(change), className="cell-change"),
            html.Td(
                with_label("95 % interval", difference_interval(change)), className="cell-number scatter"
            ),
        ]
    )


def _better_or_worse(change: Change) -> list[Component]:
    difference = change.difference or 0.0
    word = "better" if difference > 0 else "worse"
    return [
        html.Span(signed(difference), className="line-number"),
        html.Span(word, className=f"note {word}"),
    ]


def headline_card(title: str, line: BoardLine, *, against: str | None) -> html.Section:
    """Return one of the two big numbers."""
    return html.Section(
        [
            html.H2(title),
            html.P(
                [
                    html.Span(number(line.score.overall), className="overall"),
                    html.Span(grade(line.score), className="grade"),
                ],
                className="rating",
            ),
            track(line),
            html.Ul(
                [
                    html.Li(_change_sentence(line.change, against)),
                    html.Li(_ceiling_sentence(line)),
                    html.Li(scatter_sentence(line.score)),
                    *(html.Li(mark, className="evidence-mark") for mark in line.marks),
                ],
                className="compared-with",
            ),
        ],
        className="card headline-card",
    )


def grade(score: Score) -> str:
    """Return the grade word of a number, or that it is not rated."""
    return "not rated" if score.overall is None else score.grade or ""


def track(line: BoardLine) -> html.Div:
    """Return the scale from 0 to 1 with the rating, the one before, and the ceiling."""
    before = None if line.change is None else line.change.before
    marks = [("ceiling-mark", line.ceiling_rating), ("before-mark", before), ("now-mark", line.score.overall)]
    found = [
        html.Span(className=f"mark-on-track {kind}", style={"left": f"{value:.2%}"})
        for kind, value in marks
        if value is not None
    ]
    filled = html.Span(className="track-fill", style={"width": f"{line.score.overall or 0.0:.2%}"})
    return html.Div([filled, *found], className="track", **DECORATION)


def track_legend(against: str | None) -> html.P:
    """Say what the marks on the scale are."""
    before = _legend_entry("before-mark", against) if against else None
    entries = [_legend_entry("now-mark", "this release"), before, _legend_entry("ceiling-mark", "ceiling")]
    return html.P(["Scale from 0 to 1: ", *(one for one in entries if one is not None)], className="legend")


def lines_table(title: str, lines: Iterable[BoardLine], link: Link | None = None) -> html.Table:
    """Return numbers of the board, one per row."""
    columns = [(title, "name"), ("rating", "rated"), ("change", "change"), ("ceiling", "ceiling")]
    return html.Table(
        [head_row([*columns, ("", "scale")]), html.Tbody([_row(line, link) for line in lines])],
        className="lines",
    )


def _legend_entry(kind: str, words: str) -> html.Span:
    mark = html.Span(className=f"mark-on-track {kind}", **DECORATION)
    return html.Span([html.Span(mark, className="legend-mark"), words], className="legend-entry")


def _change_sentence(change: Change | None, against: str | None) -> list[Component | str]:
    if change is None or against is None:
        return ["the first rated release: nothing to compare with"]
    if change.difference is None:
        return [f"{against}: {change.verdict}"]
    before = f" against {against} ({number(change.before)}), "
    return [html.Strong(signed(change.difference)), before, chance_words(change)]


def _ceiling_sentence(line: BoardLine) -> list[Component | str]:
    ceiling = line.ceiling
    if ceiling is None:
        return ["the ceiling is not known"]
    missing = "" if ceiling.rated == ceiling.expected else f", {ceiling.completeness}"
    ratio = line.loss_ratio
    lost = "" if ratio is None else f"; the model has {loss_ratio_words(ratio)} loss"
    return [html.Strong(number(ceiling.overall)), f" ceiling{missing}{lost}"]


def _row(line: BoardLine, link: Link | None) -> html.Tr:
    score = line.score
    incomplete = html.Span(", ".join(line.marks), className="note evidence-mark") if line.marks else None
    name = dcc.Link(score.words, href=link((score.name,))) if link else score.words
    rated = [
        html.Span(number(score.overall), className="line-number"),
        html.Span(grade(score), className="line-grade"),
    ]
    return html.Tr(
        [
            html.Th([name, incomplete], scope="row", className="cell-name"),
            html.Td(rated, className="cell-rated"),
            html.Td(_change_cell(line.change), className="cell-change"),
            html.Td(
                with_label("ceiling", number(line.ceiling_rating)),
                className="cell-ceiling",
            ),
            html.Td(track(line), className="cell-scale"),
        ]
    )


def _change_cell(change: Change | None) -> list[Component]:
    if change is None or change.difference is None:
        return [html.Span(NO_NUMBER, className="line-number")]
    return [
        html.Span(signed(change.difference), className="line-number"),
        html.Span(chance_brief(change), className="note"),
    ]
