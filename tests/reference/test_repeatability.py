"""The ceiling: how well the hardware agrees with itself, and the model's rating beside it."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import AlignedPair, Recipe, Signal, rate
from correlate.errors import SignalError
from correlate.reference.channel_repeats import channel_repeats
from correlate.reference.repeatability import between_repeats, ceiling_of, rate_against_repeats
from tests.reference.curves import pulse

RECIPE = Recipe(start_s=0.0, end_s=0.05)
REPEATS = [pulse(size=size, late_s=late) for size, late in ((100, 0.0), (96, 0.0003), (103, -0.0002))]


def by_hand(reference: Signal, candidate: Signal) -> float:
    """Cut two pulses to 0 to 50 ms by index and rate them."""
    cut = slice(200, 701)
    pair = AlignedPair(
        time=np.arange(501) * 1e-4,
        reference=reference.samples[cut],
        candidate=candidate.samples[cut],
    )
    return rate(pair).overall


def test_every_repeat_is_rated_against_every_other() -> None:
    """Six ratings of three repeats; the ceiling is their median with their range."""
    ceiling = ceiling_of(REPEATS, RECIPE)
    expected = {(i, j): by_hand(REPEATS[i], REPEATS[j]) for i in range(3) for j in range(3) if i != j}
    assert ceiling.ratings == pytest.approx(expected, abs=1e-9)
    assert ceiling.median == pytest.approx(np.median(list(expected.values())))
    assert (ceiling.lowest, ceiling.highest) == pytest.approx(
        (min(expected.values()), max(expected.values()))
    )


def test_equal_repeats_have_a_ceiling_of_one() -> None:
    """Hardware that repeats itself exactly leaves the whole scale to the model."""
    ceiling = ceiling_of([pulse(), pulse(), pulse()], RECIPE)
    assert (ceiling.median, ceiling.lowest, ceiling.highest) == (1.0, 1.0, 1.0)


def test_two_repeats_are_too_few() -> None:
    """Ratings are there, but no number is called the ceiling, and the model has no interval."""
    ceiling = ceiling_of(REPEATS[:2], RECIPE)
    assert ceiling.median is None
    assert len(ceiling.ratings) == 2
    assert "too few repeats (2" in ceiling.in_words
    model = rate_against_repeats(REPEATS[:2], pulse(size=80), RECIPE)
    assert model.interval is None
    assert model.share_of_ceiling is None
    assert "too few repeats" in model.in_words


def test_the_model_is_rated_against_every_repeat() -> None:
    """Mean of three ratings, within its interval; the share is the mean over the ceiling."""
    candidate = pulse(size=80, late_s=0.001)
    found = rate_against_repeats(REPEATS, candidate, RECIPE)
    expected = [by_hand(repeat, candidate) for repeat in REPEATS]
    assert found.ratings == pytest.approx(tuple(expected), abs=1e-9)
    assert found.mean == pytest.approx(np.mean(expected))
    assert found.interval is not None
    assert found.interval.low <= found.mean <= found.interval.high
    assert found.ceiling.median is not None
    assert found.share_of_ceiling == pytest.approx(found.mean / found.ceiling.median)


def test_repeats_are_treated_alike() -> None:
    """A sign that the recipe turns for the test is turned for both repeats, a model's sign for neither."""
    recipe = Recipe(start_s=0.0, end_s=0.05, reference_sign=-1, candidate_sign=1, candidate_shift_s=0.004)
    both = between_repeats(recipe)
    assert (both.reference_sign, both.candidate_sign, both.candidate_shift_s) == (-1, -1, 0.0)
    assert ceiling_of([pulse(), pulse(), pulse()], recipe).median == 1.0


def test_everything_about_a_channel_at_once() -> None:
    """Repeats, ceiling, corridor and model belong together and agree with the parts."""
    found = channel_repeats(REPEATS, pulse(size=99), recipe=RECIPE, times=2.0)
    assert found.ceiling == ceiling_of(REPEATS, RECIPE)
    assert found.corridor is not None
    assert found.corridor.kind == "mean ± 2 SD"
    assert found.inside is not None
    assert 0.5 < found.inside.share <= 1.0
    alone = channel_repeats(REPEATS[:1], recipe=RECIPE)
    assert alone.corridor is None
    assert alone.model is None


def test_no_repeat_is_refused() -> None:
    """A model cannot be rated against nothing."""
    with pytest.raises(SignalError, match="there is no repeat"):
        rate_against_repeats([], pulse(), RECIPE)
