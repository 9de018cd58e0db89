"""The scoreboard of a release, put together from its parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import dcc, html

from correlate.plots import channel_count, moved_words
from dashboard import paths
from dashboard.components.board import (
    board_source,
    case_link,
    changes_table,
    lines_table,
    pair_link,
    track_legend,
)
from dashboard.components.paging import folded, pager, part_of
from dashboard.pages.board_choice import LIST_KEYS, part_link
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

    from correlate import BoardLine, Campaign, Scoreboard, StoredBoard


MOST_SHOWN: Final = 6
"""Changes that are visible at first; the others open on demand."""
CHANGE_ROWS: Final = 10
CASE_ROWS: Final = 20
HELD_OUT_ROWS: Final = 10
"""Rows of one part of a list; with all lists full, the page sends less than 200 kB."""


def board_parts(campaign: Campaign, stored: StoredBoard, search: str | None) -> list[Component]:
    """Return everything below the menus."""
    board = stored.board
    return [
        html.Div(
            [html.H1(board_heading(board)), html.P(_sub_title(campaign, stored), className="heading-case")],
            className="heading",
            role="status",
        ),
        html.Div([_load_cases(board, search), _regions(board)], className="board-columns"),
        _changes(campaign, board, search),
        board_source(campaign, stored.run),
    ]


def board_heading(board: Scoreboard) -> str:
    """Return what changed in one line; of the first release, that it is the first."""
    if board.against is None:
        return f"{board.release}: the first rated release"
    return f"{board.release} against {board.against}: {moved_words(board)}"


def _sub_title(campaign: Campaign, stored: StoredBoard) -> list[Component | str]:
    board = stored.board
    note = campaign.release(board.release).note
    query = write_query({"release": board.release, "against": board.against or ""})
    link = dcc.Link("Decision sheet", href=paths.DECISION + query)
    return [f"{note}. " if note else "", f"{stored.decision.verdict}. ", link]


def _load_cases(board: Scoreboard, search: str | None) -> html.Section:
    def link(place: tuple[str, ...]) -> str:
        return case_link(board, place[0])

    def table(lines: Sequence[BoardLine], key: str, rows: int, what: str) -> list[Component]:
        part = part_of(lines, read_query(search, LIST_KEYS)[key], rows=rows)
        steps = pager(part, what, part_link(paths.SCOREBOARD, search, key))
        return [lines_table("load case", part.rows, link), *steps]

    parts: list[Component] = [
        html.H2("Load cases"),
        *table(board.load_cases, "cases", CASE_ROWS, "Load cases"),
    ]
    if board.held_out_cases:
        parts += [
            html.H3("Held out of tuning, not in the overall number"),
            *table(board.held_out_cases, "held-out", HELD_OUT_ROWS, "Held-out load cases"),
        ]
    return html.Section([*parts, track_legend(board.against)], className="card")


def _regions(board: Scoreboard) -> html.Section:
    note = "Over all load cases except held-out ones."
    return html.Section(
        [html.H2("Body regions"), lines_table("region", board.regions), html.P(note, className="note")],
        className="card",
    )


def _changes(campaign: Campaign, board: Scoreboard, search: str | None) -> html.Section:
    if board.against is None:
        words = "This is the first rated release; changes are shown from the second release on."
        return html.Section([html.H2("What changed"), html.P(words)], className="card")
    if not board.moved:
        words = "No channel is better or worse beyond chance between the repeats of its test."
        return html.Section([html.H2("What changed"), html.P(words)], className="card")

    def link(place: tuple[str, ...]) -> str:
        return pair_link(campaign, board, place)

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
            parts += [
                html.H3(f"{channel_count(len(changes))} {word}"),
                *folded(
                    changes,
                    read_query(search, LIST_KEYS)[word],
                    first=MOST_SHOWN,
                    what="Channels",
                    link=part_link(paths.SCOREBOARD, search, word),
                    table=lambda rows: [changes_table(rows, title, link)],
                    rows=CHANGE_ROWS,
                ),
            ]
    return html.Section(parts, className="card changes-card")
