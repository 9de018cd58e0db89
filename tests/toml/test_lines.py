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
        ("list", 0): 9,
        ("list", 1): 10,
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
    """A missing key is reported at its table; an entry of a list that has one line at the list's key."""
    lines = key_lines(TEXT)
    assert line_of(("case", 1, "channel", 0, "region"), lines) == 22
    assert line_of(("list", 1), lines) == 10
    assert line_of(("a", "b c", "d", "f", 0), lines) == 13
    assert line_of(("nowhere",), lines) is None


INLINE = '''
[[case]]
picks = ["a", "b",   # one, two
  "c,]", "d",
  # [none]
]
channel = [  # the book
  {test = "a", window = [0, 5], title = "{x}, ["},
  {test = "b", windows = [[0,
     5], [6, 7]]}, {test = "c"},

  {test = """d
  {no}"""},
]
after = [{e = 1}]
'''


def test_entries_of_a_list_have_the_line_on_which_they_begin() -> None:
    """Tables within one list too; brackets and commas in texts and comments do not count."""
    assert key_lines(INLINE) == {
        ("case", 0): 2,
        ("case", 0, "picks"): 3,
        ("case", 0, "picks", 2): 4,
        ("case", 0, "picks", 3): 4,
        ("case", 0, "channel"): 7,
        ("case", 0, "channel", 0): 8,
        ("case", 0, "channel", 1): 9,
        ("case", 0, "channel", 2): 10,
        ("case", 0, "channel", 3): 12,
        ("case", 0, "after"): 15,
    }
    assert len(tomllib.loads(INLINE)["case"][0]["channel"]) == 4


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
