"""The layout of the decision sheet, and what is put into it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from dash import dcc, html

from correlate.plots import as_sentence, moved_words, trend_figure, trend_svg, trend_words
from dashboard import ids, paths
from dashboard.access import Role
from dashboard.components.board import board_source, headline_card
from dashboard.components.controls import for_role, graph, labelled
from dashboard.components.decision import (
    evidence_card,
    lowest_words,
    note_form,
    note_list,
    objections_card,
    sign_form,
    sign_off_list,
)
from dashboard.components.states import loading
from dashboard.pages.board_choice import KEYS as BOARD_KEYS
from dashboard.pages.board_choice import LIST_KEYS, BoardChoice, part_link
from dashboard.pages.job_panel import KEY, panel
from dashboard.pages.page import page_parts
from dashboard.selection import read_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, Scoreboard, StoredBoard, StoredTrend
    from correlate.plots import Theme
    from dashboard.state import Project


NAME: Final = "decision"
"""Of the page, in its ids."""

CHOICE: Final = BoardChoice(release=ids.DECISION_RELEASE, against=ids.DECISION_AGAINST, path=paths.DECISION)

KEYS: Final = (*BOARD_KEYS, KEY)
"""Of the query: the selection, and the job that is watched."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    # The container of the trend arrives with the content; it is declared here so that Dash knows its id.
    content = loading(
        html.Div(html.Div(id=ids.DECISION_TREND_PLACE), id=ids.DECISION_CONTENT),
        "board",
        "Reading the results store",
        {ids.DECISION_CONTENT: "children"},
    )
    signing = html.Div([_sign_offs(), html.Div([_notes(), _export()])], className="decision-columns signing")
    return html.Main(
        [
            *page_parts(NAME, search),
            dcc.Store(id=ids.DECISION_SHOWN),
            dcc.Store(id=ids.DECISION_WRITTEN),
            CHOICE.menus(ids.DECISION_PICKS, ids.DECISION_PRINT),
            content,
            html.Div([signing, html.Div(id=ids.DECISION_SOURCE)], id=ids.DECISION_RATED, hidden=True),
        ],
        className="page board decision-page",
    )


def decision_parts(
    project: Project, campaign: Campaign, stored: StoredBoard, search: str | None
) -> dict[str, Any]:
    """Return everything the page shows of a rated release."""
    board, decision = stored.board, stored.decision
    objections = objections_card(
        campaign,
        board,
        decision,
        asked=read_query(search, LIST_KEYS)["objections"],
        link=part_link(paths.DECISION, search, "objections"),
        tidy=project.without_folder,
    )
    content = [
        html.Div(
            [html.H1(decision.verdict), html.P(_sub_title(campaign, stored), className="heading-case")],
            className="heading",
            role="status",
        ),
        html.Div(
            [
                html.Div([objections, evidence_card(board, decision)]),
                html.Div([_headlines(board), _trend()]),
            ],
            className="decision-columns decision-numbers",
        ),
    ]
    return {
        "content": content,
        "rated_hidden": False,
        "sign_offs": sign_off_list(stored.sign_offs),
        "notes": note_list(stored.notes),
        "source": board_source(campaign, stored.run),
        "shown": {"release": board.release, "against": board.against or "", "verdict": decision.verdict},
        "tab_title": decision.verdict,
    }


def _sub_title(campaign: Campaign, stored: StoredBoard) -> list[Component | str]:
    board = stored.board
    note = campaign.release(board.release).note
    moved = moved_words(board)
    said = f"{as_sentence(moved)} " if board.against else ""
    return [f"{note}. {said}" if note else said, *lowest_words(campaign, board, stored.decision.lowest)]


def _headlines(board: Scoreboard) -> html.Div:
    cards = [headline_card("Load cases open to tuning", board.total, against=board.against)]
    if board.held_out is not None:
        cards.append(headline_card("Held out of tuning", board.held_out, against=board.against))
    return html.Div(cards, className="decision-headlines")


def _trend() -> html.Section:
    """Return the container of the trend, filled after the rest: it needs the numbers of all releases."""
    place = html.Div(id=ids.DECISION_TREND_PLACE, className="trend-place")
    return html.Section(
        [html.H2("All releases"), loading(place, "rows", "Reading the ratings of all releases")],
        className="card trend-card",
        **labelled("Ratings of all releases"),
    )


def trend_parts(trend: StoredTrend, *, release: str, theme: Theme) -> list[Component]:
    """Return the ratings of all releases, for the screen and for printing."""
    figure = trend_figure(trend.points, theme=theme, release=release, ceiling=trend.ceiling)
    return [graph(ids.DECISION_TREND, figure, kind="trend"), *_trend_on_paper(trend, release)]


def _trend_on_paper(trend: StoredTrend, release: str) -> list[html.Img]:
    """Return the trend as a picture: what is drawn for a screen keeps its size and colours on paper."""
    drawing = trend_svg(trend.points, release=release, ceiling=trend.ceiling, width=560, height=190)
    if not drawing:
        return []
    # Outside of a page an element has to say of what kind it is.
    picture = drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    source = f"data:image/svg+xml,{quote(picture)}"
    return [html.Img(src=source, alt=trend_words(trend.points), className="on-paper trend-picture")]


def _sign_offs() -> html.Section:
    refusal = "Signing requires the role manager, analyst or lab."
    return html.Section(
        [
            html.H2("Sign-offs"),
            html.Div(id=ids.DECISION_SIGN_OFFS),
            html.Div(id=ids.DECISION_SIGN_SAID, role="status"),
            html.Div(
                [
                    for_role(sign_form(), Role.MANAGER, refusal, place="store"),
                    html.P(_CAUTION, className="note"),
                ],
                className="not-on-paper",
            ),
        ],
        className="card",
        **labelled("Sign-offs"),
    )


_CAUTION: Final = (
    "A sign-off refers to the present ratings, files and settings; the page says when they have changed. "
    "It informs; it does not certify."
)


def _notes() -> html.Section:
    refusal = "Remarks require the role manager, analyst or lab."
    return html.Section(
        [
            html.H2("Remarks"),
            html.Div(id=ids.DECISION_NOTES),
            html.Div(id=ids.DECISION_NOTE_SAID, role="status"),
            html.Div(for_role(note_form(), Role.MANAGER, refusal, place="store"), className="not-on-paper"),
        ],
        className="card",
        **labelled("Remarks"),
    )


def _export() -> html.Section:
    button = html.Button("Create report", id=ids.DECISION_EXPORT, className="button", type="button")
    words = (
        "The report of this release as HTML and PDF, with curves, reasons and every setting. "
        "It takes about a minute."
    )
    refusal = "Exporting the report requires the role manager, analyst or lab."
    return html.Section(
        [
            html.H2("Report"),
            html.P(words, className="note"),
            for_role(button, Role.MANAGER, refusal, place=None),
            html.Div(id=ids.DECISION_EXPORT_SAID, role="status"),
            panel(NAME),
        ],
        className="card not-on-paper",
        **labelled("Report"),
    )
