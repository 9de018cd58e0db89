"""Lines that fit a pattern, and the time in them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.formats.columns.layout import LinePattern


@pytest.mark.parametrize(
    ("pattern", "line", "time"),
    [
        ("time {time}", "  time   1.5  ", 1.5),
        ("time = {time}*", "time =-1.5E-03 s", -1.5e-3),
        ("t={time}", "t=   .5", 0.5),
        ("t={time}, step*", "t=7., step 3", 7.0),
        ("t={time}*", "t=0.25, step 3", 0.25),
        ("output ? at {time}", "output B at 1.5D+02", 150.0),
        ("* at time {time} (cycle *)", "nodes 3 to 9 at time 1.0-101 (cycle 7)", 1e-101),
        ("* {time}  end", "4 steps, 5.5 end", 5.5),
        ("*t{time}", "start 4 t12", 12.0),
        ("{time}", "12", 12.0),
        ("a.b(c) {time}", "a.b(c) 1", 1.0),
        ("time {time}", "time12", None),
        ("time {time}", "time 1 s", None),
        ("time {time}", "times 1", None),
        ("time {time}", "time one", None),
        ("time {time}*", "time 12abc", None),
        ("time {time}*", "time 1.5.3", None),
        ("time {time}*", "time 1,5", None),
        ("*{time}", "x12", None),
        ("*{time}", "1.5.3", None),
        ("a.b {time}", "axb 1", None),
        ("output ? at {time}", "output AB at 1", None),
        ("time {time}", "time \u0663", None),
    ],
)
def test_time_is_found_or_the_line_does_not_fit(pattern: str, line: str, time: float | None) -> None:
    """Free text, single characters, runs of blanks; never a part of a number."""
    found = LinePattern(pattern)
    assert found.time_in(line) == time
    assert found.fits(line) == (time is not None)


def test_decimal_comma_of_a_time() -> None:
    """With the comma as decimal mark the point is none, and the other way round."""
    assert LinePattern("t {time}", ",").time_in("t 1,5") == 1.5
    assert LinePattern("t {time}", ",").time_in("t 1.5") is None


def test_empty_pattern_fits_a_blank_line_only() -> None:
    """So the end of a block may be a blank line."""
    assert [LinePattern("").fits(line) for line in ("", "  \t", "x")] == [True, True, False]


def test_free_text_without_words_is_vague() -> None:
    """A row of numbers might fit it."""
    patterns = ("* {time}", "{time}", "1.5 ?{time}", "time {time}*", "= {time} *", "[{time}*")
    assert [LinePattern(text).is_vague for text in patterns] == [True, False, True, False, False, False]


@given(value=st.floats(allow_nan=False, allow_infinity=False), digits=st.integers(0, 17))
def test_any_number_is_found_whole(value: float, digits: int) -> None:
    """However a number is printed, the text around it takes no part of it."""
    for text in (repr(value), f"{value:.{digits}e}", f"{value:+.{digits}E}"):
        for pattern, line in (
            ("nodes at {time}*", f"nodes at {text}"),
            ("nodes at {time}*", f"nodes at {text} ms"),
            ("*at time={time} *", f"now, 3 at time={text} cycle 9"),
        ):
            assert LinePattern(pattern).time_in(line) == float(text)
