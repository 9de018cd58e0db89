"""Texts of static drawings: escaped, split into lines, and about as wide as they are guessed."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from correlate.plots.svg_marks import plain_lines, text_element, text_width

PRINTABLE = st.text(st.characters(min_codepoint=32, max_codepoint=0x24F), max_size=40)


@given(PRINTABLE)
def test_any_text_comes_back_as_it_was(text: str) -> None:
    """What is written can be read from the element, whatever signs it holds."""
    element = ET.fromstring(text_element(text, x=1.0, y=2.0, size=13, colour="#000000"))  # noqa: S314 - our own
    assert (element.text or "") == text


@given(PRINTABLE, PRINTABLE)
def test_widths_add_up(one: str, other: str) -> None:
    """Two texts beside each other are as wide as both."""
    assert abs(text_width(one + other, 13) - text_width(one, 13) - text_width(other, 13)) < 1e-6


def test_breaks_and_escaped_signs_are_read() -> None:
    """The markup of the drawing library becomes lines of plain text."""
    assert plain_lines("force &amp; moment<br>&lt;b&gt;") == ["force & moment", "<b>"]


def test_turned_text_runs_upwards() -> None:
    """The title of an upright axis is turned about its own place."""
    assert 'transform="rotate(-90 3.0 4.0)"' in text_element("a", x=3, y=4, size=9, colour="#0", turned=True)
