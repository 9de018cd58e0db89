"""Long lists in parts: every row is in one part, in order, and the links lead to all of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html
from hypothesis import given
from hypothesis import strategies as st

from dashboard.components.paging import folded, pager, part_of
from tests.dashboard.reading import properties, text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component


def table(rows: Sequence[int]) -> list[Component]:
    """Show numbers as a list."""
    return [html.Ul([html.Li(str(one)) for one in rows])]


def test_a_part_of_a_list_of_one_part_has_no_links() -> None:
    """A list that fits is shown as if there were no parts."""
    part = part_of(range(50), "", rows=50)
    assert list(part.rows) == list(range(50))
    assert pager(part, "Rows", str) == []


@given(st.integers(0, 400), st.integers(1, 60))
def test_the_parts_put_together_are_the_list(length: int, rows: int) -> None:
    """In order, without a gap and without a row twice; each part says its rows and has at most as many."""
    listed = list(range(length))
    count = part_of(listed, "", rows=rows).count
    found = [part_of(listed, str(number), rows=rows) for number in range(1, count + 1)]
    assert [row for part in found for row in part.rows] == listed
    assert all(len(part.rows) <= rows and part.total == length for part in found)
    for part in found if length else []:
        assert part.words == f"{part.rows[0] + 1}–{part.rows[-1] + 1} of {length}"


@given(st.text(max_size=30) | st.integers().map(str))
def test_any_address_leads_to_a_part(asked: str) -> None:
    """What is no number leads to the first part, a number beyond the end to the last one."""
    part = part_of(range(120), asked)
    assert 1 <= part.number <= part.count == 3
    assert list(part.rows) == list(range(120))[part.first - 1 : part.first - 1 + 50]


def test_the_links_lead_to_the_ends_and_the_neighbours() -> None:
    """From a part in the middle to all four; from the last one to the first and the previous one."""
    links = {
        one["children"]: one["href"]
        for one in properties(pager(part_of(range(250), "3"), "R", str), dcc.Link)
    }
    assert links == {"First": "1", "Previous": "2", "Next": "4", "Last": "5"}
    last = pager(part_of(range(250), "5"), "Rows", str)
    assert {one["children"]: one["href"] for one in properties(last, dcc.Link)} == {
        "First": "1",
        "Previous": "4",
    }
    assert text(last) == "Rows 201–250 of 250 First Previous Next Last"


def test_the_first_rows_of_a_folded_list_stay_in_sight() -> None:
    """The others open on demand; they are open where the address names a part of them."""
    named = {"first": 6, "what": "Rows", "link": str, "table": table}
    short = folded(range(6), "", **named)  # type: ignore[arg-type]
    assert text(short) == "0 1 2 3 4 5"
    closed = folded(range(100), "", **named)  # type: ignore[arg-type]
    (details,) = properties(closed, html.Details)
    assert details["open"] is False
    assert text(details["children"]).startswith("94 more 6 7 8 ")
    opened = folded(range(100), "4", **named)  # type: ignore[arg-type]
    (details,) = properties(opened, html.Details)
    assert details["open"] is True
    assert text(details["children"]).startswith("94 more 81 82 83 ")
    assert text(details["children"]).endswith(" 99 Rows 82–100 of 100 First Previous Next Last")
