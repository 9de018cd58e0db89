"""Hints on the demo's virtual model: one card changed, and the curves alone tell its group."""

from __future__ import annotations

from functools import cache

from tests.diagnosis.material_changes import SEED, Change, random_changes, share


@cache
def changes() -> list[Change]:
    """Return the first 16 of the 60 changes that the page reports; computed once."""
    return random_changes(16, SEED)


def test_the_group_of_the_changed_card_is_among_the_first_two() -> None:
    """At least 80 % are asked for; all 60 take a quarter of a minute and are on the page."""
    assert share(changes(), 2) >= 0.8


def test_the_hints_know_more_than_the_commonest_groups() -> None:
    """Most cards are stiffness: the first hint alone must beat what always saying so gives."""
    stiffness = sum(one.group == "stiffness" for one in changes()) / len(changes())
    assert share(changes(), 1) > stiffness + 0.2


def test_the_amount_is_told_rightly() -> None:
    """Where the group is found, too little and too much are not confused more than once in ten."""
    found = [one for one in changes() if one.place < 2]
    right = sum(one.found[one.place].side == one.side for one in found)
    assert right >= 0.9 * len(found)
