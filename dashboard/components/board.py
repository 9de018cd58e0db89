"""The numbers of the scoreboard with what they are compared with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate import loss_ratio_words
from correlate.plots import chance_brief, chance_words, scatter_sentence, signed
from dashboard.components.cells import NO_NUMBER, head_row, number, with_label
from dashboard.components.labelled import DECORATION

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from dash.development.base_component import Component

    from correlate import BoardLine, Change, Score

    Link = Callable[[tuple[str, ...]], str]


def headline_card(title: str, line: BoardLine, *, against: str | None) -> html.Section:
    """Return one of the two big numbers.

    Parameters
    ----------
    title
        What it is the number of.
    line
        With its change and its ceiling.
    against
        Name of the other release; None where there is none.

    Returns
    -------
    dash.html.Section
    """
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
    """Return the grade word of a number, or that it is not rated.

    Parameters
    ----------
    score
        Of the release.

    Returns
    -------
    str
        Empty for the number of a measure without words.
    """
    return "not rated" if score.overall is None else score.grade or ""


def track(line: BoardLine) -> html.Div:
    """Return the scale from 0 to 1 with the rating, the one before, and the ceiling.

    Parameters
    ----------
    line
        Of the board.

    Returns
    -------
    dash.html.Div
        It says nothing that does not stand beside it in figures.
    """
    before = None if line.change is None else line.change.before
    ceiling = None if line.ceiling is None else line.ceiling.overall
    marks = [("ceiling-mark", ceiling), ("before-mark", before), ("now-mark", line.score.overall)]
    found = [
        html.Span(className=f"mark-on-track {kind}", style={"left": f"{value:.2%}"})
        for kind, value in marks
        if value is not None
    ]
    filled = html.Span(className="track-fill", style={"width": f"{line.score.overall or 0.0:.2%}"})
    return html.Div([filled, *found], className="track", **DECORATION)


def track_legend(against: str | None) -> html.P:
    """Say what the marks on the scale are.

    Parameters
    ----------
    against
        Name of the other release; None where there is none.

    Returns
    -------
    dash.html.P
    """
    before = _legend_entry("before-mark", against) if against else None
    entries = [_legend_entry("now-mark", "this release"), before, _legend_entry("ceiling-mark", "hardware")]
    return html.P(["Scale from 0 to 1: ", *(one for one in entries if one is not None)], className="legend")


def lines_table(title: str, lines: Iterable[BoardLine], link: Link | None = None) -> html.Table:
    """Return numbers of the board, one a row.

    Parameters
    ----------
    title
        What a row is.
    lines
        Of one kind.
    link
        Address of what a row is made of, from its place; None for none.

    Returns
    -------
    dash.html.Table
    """
    columns = [(title, "name"), ("rating", "rated"), ("change", "change"), ("hardware", "hardware")]
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
                with_label("hardware", number(line.ceiling.overall if line.ceiling else None)),
                className="cell-hardware",
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
