"""Controls that all pages share."""

from __future__ import annotations

from dash import html
from hypothesis import given
from hypothesis import strategies as st

from dashboard.components.controls import shortened
from tests.dashboard.reading import properties, text


@given(st.text(max_size=60))
def test_a_shortened_name_holds_the_whole_name_and_its_end(name: str) -> None:
    """The page contains the name in full; the end that stays in sight is at most half of it."""
    made = shortened(name)
    (outer,) = [one for one in properties(made, html.Span) if "data-end" in one]
    end = outer["data-end"]
    assert text(made) == name
    assert name.endswith(end)
    assert len(end) <= min(10, len(name) // 2)
