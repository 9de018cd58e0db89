"""What changed between two releases, and the limits that are not met."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import channel_title, difference_interval, signed
from dashboard.components.cells import head_row, number, with_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from dash.development.base_component import Component

    from correlate import Change, Check

    Link = Callable[[tuple[str, ...]], str]


def changes_table(changes: Sequence[Change], case_title: Callable[[str], str], link: Link) -> html.Table:
    """Return channels that changed, one a row.

    Parameters
    ----------
    changes
        Of channels.
    case_title
        Words for a load case.
    link
        Address of a channel from its place.

    Returns
    -------
    dash.html.Table
    """
    numbers = [("before", "number"), ("now", "number"), ("change", "change")]
    columns = [("channel", "name"), *numbers, ("95 % interval", "number scatter")]
    return html.Table(
        [
            head_row(columns),
            html.Tbody([_change_row(change, case_title, link) for change in changes]),
        ],
        className="lines changes-table",
    )


def checks_list(checks: Iterable[Check]) -> html.Ul:
    """Return limits that are not kept, each with its reason.

    Parameters
    ----------
    checks
        Not passed.

    Returns
    -------
    dash.html.Ul
    """
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(check.name, className="check-name"),
                    html.Span(check.reason, className="check-reason"),
                ]
            )
            for check in checks
        ],
        className="checks",
    )


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
