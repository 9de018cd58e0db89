"""Bounded caches of a long-running program."""

from __future__ import annotations

from correlate.remembered import Remembered


def test_what_was_used_longest_ago_makes_room() -> None:
    """Memory does not grow with the number of values; a value that was read again is kept."""
    kept = Remembered[str](2)
    kept.put("a", "first")
    kept.put("b", "second")
    assert kept.get("a") == "first"
    kept.put("c", "third")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == ("first", None, "third")


def test_a_new_value_replaces_the_old_one() -> None:
    """A value saved twice under one key counts once."""
    kept = Remembered[int](2)
    for number in range(5):
        kept.put("a", number)
    kept.put("b", 9)
    assert (kept.get("a"), kept.get("b")) == (4, 9)
