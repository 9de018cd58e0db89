"""The ceiling: how well the repeats agree with each other, and the model's rating beside it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recipe
from correlate.errors import SignalError
from correlate.reference.channel_repeats import channel_repeats
from correlate.reference.corridor import spread_corridor
from correlate.reference.repeatability import ceiling_of, loss_ratio, rate_against_repeats
from tests.benchmarks import hardware_scatter as study
from tests.oracles import iso18571_literal as literal
from tests.reference.curves import pulse

if TYPE_CHECKING:
    from numpy.typing import NDArray

RECIPE = Recipe(start_s=0.0, end_s=0.05)
REPEATS = [pulse(size=size, late_s=late) for size, late in ((100, 0.0), (96, 0.0003), (103, -0.0002))]


def by_hand(reference: NDArray[np.float64], candidate: NDArray[np.float64]) -> float:
    """Cut two pulses to 0 to 50 ms by index and rate them literally."""
    cut = slice(200, 701)
    return literal.rating(reference[cut].tolist(), candidate[cut].tolist(), 1e-4)["overall"]


def test_every_repeat_is_rated_against_the_mean_of_the_others() -> None:
    """Three ratings of three repeats; the ceiling is their median with their range."""
    ceiling = ceiling_of(REPEATS, RECIPE)
    one, two, three = (repeat.samples for repeat in REPEATS)
    means = ((two + three) / 2, (one + three) / 2, (one + two) / 2)
    expected = [by_hand(mean, repeat) for mean, repeat in zip(means, (one, two, three), strict=True)]
    assert ceiling.ratings == pytest.approx(expected, abs=1e-9)
    assert ceiling.median == pytest.approx(np.median(expected))
    assert (ceiling.lowest, ceiling.highest) == pytest.approx((min(expected), max(expected)))


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
    assert model.estimate is None
    assert model.share_of_ceiling is None
    assert "too few repeats" in model.in_words


def test_the_model_is_rated_against_every_repeat() -> None:
    """Mean of three ratings, within its interval; the share is the mean over the ceiling."""
    candidate = pulse(size=80, late_s=0.001)
    found = rate_against_repeats(REPEATS, candidate, RECIPE)
    expected = [by_hand(repeat.samples, candidate.samples) for repeat in REPEATS]
    assert found.ratings == pytest.approx(tuple(expected), abs=1e-9)
    assert found.mean == pytest.approx(np.mean(expected))
    assert found.estimate is not None
    # Student's t with 2 degrees of freedom: 4.303, widened by a tenth.
    half = 1.1 * 4.3027 * np.std(expected, ddof=1) / np.sqrt(3)
    assert found.estimate.upper() - found.mean == pytest.approx(half, rel=1e-4)
    assert found.ceiling.median is not None
    assert found.share_of_ceiling == pytest.approx(found.mean / found.ceiling.median)
    assert found.loss_ratio == pytest.approx((1 - found.mean) / (1 - found.ceiling.median))
    assert loss_ratio(None, 0.9) is None
    assert loss_ratio(0.9, 1.0) is None


def test_repeats_are_treated_alike() -> None:
    """A sign that the recipe turns for the test is turned for every repeat, a model's shift for none."""
    recipe = Recipe(start_s=0.0, end_s=0.05, reference_sign=-1, candidate_sign=1, candidate_shift_s=0.004)
    assert ceiling_of([pulse(), pulse(), pulse()], recipe).median == 1.0


def test_everything_about_a_channel_at_once() -> None:
    """Repeats, ceiling, corridor and model belong together and agree with the parts."""
    found = channel_repeats(REPEATS, pulse(size=99), recipe=RECIPE, band=partial(spread_corridor, times=2.0))
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


def test_two_standard_deviations_show_in_the_loss_ratio_and_not_in_the_share() -> None:
    """Median over 60 sets of five repeats: the share hardly moves, the ratio grows by a quarter or more."""
    perfect_share, perfect_ratio = study.typical_ratio(5, 1.0, sets=60, seed=8)
    share, ratio = study.typical_ratio(5, 1 + 2 * study.SIZE_SD, sets=60, seed=8)
    assert share > 0.97 * perfect_share
    assert ratio > 1.25 * perfect_ratio
