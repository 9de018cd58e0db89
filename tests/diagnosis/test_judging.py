"""The hints on physics that they were not made with, and that its figures are counted rightly.

A small version of ``python -m tests.diagnosis.judging``, whose larger figures stand on the page on hints.
"""

from __future__ import annotations

from functools import cache

import pytest

from correlate.diagnosis.hints import Hint
from tests.diagnosis.judging import SEED, Judged, judged, reliability, share, side_right
from tests.diagnosis.worlds.families import JUDGING_ONLY
from tests.diagnosis.worlds.faults import Fault

OWN_SEED = 9001
"""Chosen before the first look, and left."""
COUNT = 72


@cache
def single() -> list[Judged]:
    """Return the hints for models with one fault; some are left out, because it is not felt."""
    return judged(JUDGING_ONLY, COUNT, seed=OWN_SEED)


def test_the_seed_is_not_the_one_of_the_reported_figures() -> None:
    """Those are looked at once, after the last change."""
    assert OWN_SEED != SEED
    assert len(single()) >= 0.8 * COUNT


def test_the_first_hint_is_mostly_right() -> None:
    """In 60 % at least; 8 behaviours are drawn evenly, so guessing is right in an eighth."""
    assert share(single(), 1) >= 0.6


def test_the_first_two_hints_hold_what_is_wrong() -> None:
    """In 80 % at least."""
    assert share(single(), 2) >= 0.8


def test_the_side_is_told_rightly() -> None:
    """Where the behaviour comes first, too much and too little are hardly ever confused."""
    right, whole = side_right(single())
    assert right >= 0.9 * whole


def test_more_probable_hints_are_more_often_right() -> None:
    """Those of the highest weights more often than those of the lowest."""
    table = reliability(single())
    assert table[-1][1] > table[0][1] + 0.3


def test_honest_models_give_hardly_any_hints() -> None:
    """In at most a tenth of the models without a fault."""
    honest = judged(JUDGING_ONLY, 60, seed=OWN_SEED, faults=0)
    assert sum(bool(one.found) for one in honest) <= 6


def hint(group: str, weight: float, side: str = "too much") -> Hint:
    """Return a hint."""
    return Hint(group=group, side=side, sentence="", weight=weight)  # type: ignore[arg-type]


STIFF = Fault(kind="stiffness", side="too much", part="a", amount=1.5)
GAP = Fault(kind="gap", side="too little", part="b", amount=-1.0)
FOUND = (hint("gap", 0.6), hint("stiffness", 0.3), hint("mass", 0.1))


def test_places_are_counted_from_the_first_hint() -> None:
    """A fault that is not hinted at is nowhere; of two faults, both have to be there."""
    one, both = Judged((STIFF,), FOUND), Judged((STIFF, GAP), FOUND)
    assert (one.place(STIFF), one.within(1), one.within(2)) == (1, False, True)
    assert (both.within(1), both.within(2)) == (False, True)
    assert not Judged((STIFF,), ()).within(9)
    assert share([one, both, Judged((GAP,), FOUND)], 1) == pytest.approx(1 / 3)


def test_sides_are_counted_where_the_behaviour_is_right() -> None:
    """The gap is told with the wrong side; the stiffness does not come first."""
    assert side_right([Judged((GAP,), FOUND), Judged((STIFF,), FOUND)]) == (0, 1)
    assert side_right([Judged((STIFF,), (hint("stiffness", 0.5),))]) == (1, 1)


def test_reliability_is_counted_by_weight() -> None:
    """One hint in each class; the one of 0.3 was right."""
    table = reliability([Judged((STIFF,), FOUND)])
    assert [weight for weight, _, _ in table] == pytest.approx([0.1, 0.3, 0.6])
    assert [(right, number) for _, right, number in table] == [(0.0, 1), (1.0, 1), (0.0, 1)]
