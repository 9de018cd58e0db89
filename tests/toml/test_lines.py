"""On which line each key stands."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from correlate.toml import key_lines, line_of

TEXT = '''
# a comment with [brackets] and key = value
title = "a [[table]] in a string"   # and = here
long = """
[not.a.table]
not_a_key = 1
"""
list = [
  "x", # ]
  "[[y]]",
]
[a."b c"]
d = { e = 1, f = [1, 2] }
[[case]]
name = "one"
[[case.channel]]
test = "p"
[[case.channel]]
test = 'q'
[[case]]
name = "two"
[[case.channel]]
test = "r"
'''


def test_tables_keys_and_entries_of_arrays_have_their_lines() -> None:
    """Strings, comments, long strings and lists over several lines do not mislead the scan."""
    assert key_lines(TEXT) == {
        ("title",): 3,
        ("long",): 4,
        ("list",): 8,
        ("a", "b c"): 12,
        ("a", "b c", "d"): 13,
        ("case", 0): 14,
        ("case", 0, "name"): 15,
        ("case", 0, "channel", 0): 16,
        ("case", 0, "channel", 0, "test"): 17,
        ("case", 0, "channel", 1): 18,
        ("case", 0, "channel", 1, "test"): 19,
        ("case", 1): 20,
        ("case", 1, "name"): 21,
        ("case", 1, "channel", 0): 22,
        ("case", 1, "channel", 0, "test"): 23,
    }


def test_a_place_without_a_line_falls_back_to_the_table_around_it() -> None:
    """A missing key is reported at its table; something inside a list at the list's key."""
    lines = key_lines(TEXT)
    assert line_of(("case", 1, "channel", 0, "region"), lines) == 22
    assert line_of(("list", 1), lines) == 8
    assert line_of(("nowhere",), lines) is None


@given(names=st.lists(st.text(st.sampled_from("abc_-"), min_size=1, max_size=5), unique=True, max_size=6))
def test_every_key_that_the_reader_finds_has_a_line(names: list[str]) -> None:
    """For simple files, the scan and the TOML reader agree on the keys."""
    text = "".join(f"[{name}]\nx = 1\n" for name in names)
    parsed: dict[str, Any] = tomllib.loads(text)
    lines = key_lines(text)
    assert {place[0] for place in lines} == set(parsed)
    assert all(
        text.splitlines()[number - 1] == f"[{place[0]}]" for place, number in lines.items() if len(place) == 1
    )
