"""Long lists page by page: which rows are sent, and the links to the other pages.

The address of a page of the dashboard contains the part of a list that is shown; the whole list is sorted and
filtered before. A list that fits into one part has no links to others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Generic, TypeVar

from dash import dcc, html

from dashboard.components.controls import labelled

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from dash.development.base_component import Component

Row = TypeVar("Row")

ROWS: Final = 50
"""Rows of one part of a table in a separate card."""
FOLDED_ROWS: Final = 25
"""Rows of one part of a list that is opened on demand below its first rows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListPart(Generic[Row]):
    """The rows of a list that are sent.

    Attributes
    ----------
    rows
        Rows of this part.
    number, count
        Number of this part, from 1, and number of parts.
    first, total
        Position of its first row, from 1, and number of rows of the whole list.
    """

    rows: Sequence[Row]
    number: int
    count: int
    first: int
    total: int

    @property
    def words(self) -> str:
        """Which rows these are, such as ``51–100 of 6,720``."""
        return f"{self.first:,}–{self.first + len(self.rows) - 1:,} of {self.total:,}"


def part_of(listed: Sequence[Row], asked: str, *, rows: int = ROWS) -> ListPart[Row]:
    """Return the part of a list that an address asks for; the first one if the address has no valid number.

    Parameters
    ----------
    listed
        The whole list, in order.
    asked
        Number of the part, from 1, as the address has it; the last part for a larger number.
    rows
        Most rows of a part.

    Examples
    --------
    >>> part_of(range(120), "3").words, part_of(range(120), "x").words, part_of(range(120), "99").number
    ('101–120 of 120', '1–50 of 120', 3)
    """
    count = max(1, -(-len(listed) // rows))
    # A text with more digits than any list needs is not converted, because that would take long.
    given = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 10 else 1
    number = min(max(1, given), count)
    start = (number - 1) * rows
    return ListPart(
        rows=listed[start : start + rows], number=number, count=count, first=start + 1, total=len(listed)
    )


def folded(
    listed: Sequence[Row],
    asked: str,
    *,
    first: int,
    what: str,
    link: Callable[[str], str],
    table: Callable[[Sequence[Row]], list[Component]],
    rows: int = FOLDED_ROWS,
) -> list[Component]:
    """Return the first rows of a list, and the others behind a heading that opens, page by page.

    Parameters
    ----------
    listed
        The whole list, in order.
    asked
        Part of the others that the address asks for; if there is one, the list is open.
    first
        Number of rows that are always shown.
    what
        Name of the list, such as ``Objections``.
    link
        Returns the address of a part from its number.
    table
        Shows some rows.
    rows
        Maximum number of rows of a part.
    """
    others = listed[first:]
    shown = table(listed[:first])
    if not others:
        return shown
    part = part_of(others, asked, rows=rows)
    # Positions are those in the whole list, whose length is shown above it.
    part = replace(part, first=part.first + first, total=len(listed))
    more = html.Summary(f"{len(others):,} more")
    return [*shown, html.Details([more, *table(part.rows), *pager(part, what, link)], open=bool(asked))]


def pager(part: ListPart[Row], what: str, link: Callable[[str], str]) -> list[Component]:
    """Return which rows are shown, and the links to the other parts; nothing where there is one part.

    Parameters
    ----------
    part
        Part that is shown.
    what
        Name of the list, such as ``Channels``.
    link
        Returns the address of a part from its number.
    """
    if part.count == 1:
        return []

    def step(words: str, number: int) -> Component:
        if number == part.number or not 1 <= number <= part.count:
            return html.Span(words, className="page-step is-over")
        return dcc.Link(
            words,
            href=link(str(number)),
            title=f"{what}: page {number:,} of {part.count:,}",
            className="page-step",
        )

    return [
        html.Nav(
            [
                html.Span(f"{what} {part.words}", className="page-words", role="status"),
                step("First", 1),
                step("Previous", part.number - 1),
                step("Next", part.number + 1),
                step("Last", part.count),
            ],
            className="pager",
            **labelled(f"Pages of the list: {what.lower()}"),
        )
    ]
