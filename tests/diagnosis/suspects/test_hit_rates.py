"""The search on random pairs: planted mistakes come first, honest models are left alone (small version)."""

from __future__ import annotations

from functools import cache

from tests.benchmarks.suspects import HitRates, measure


@cache
def _measured() -> HitRates:
    return measure(count=18, seed=510)


def test_planted_mistakes_come_first() -> None:
    """Of 18 random pairs with one mistake, two of each kind, 16 or more have it first."""
    rates = _measured()
    assert rates.first.total() >= 16, rates.planted - rates.first


def test_honest_poor_models_are_left_alone() -> None:
    """Of 18 honest poor models at most one is accused."""
    rates = _measured()
    assert rates.accused <= 1, rates.accusations
