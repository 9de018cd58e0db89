"""Predictions and what earlier ones say of their intervals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.tuning.definition import LOSS_RATIO
from correlate.tuning.predicted import (
    PRIOR_WIDENING,
    Calibration,
    Predicted,
    calibrated,
    calibration_of,
    predicted_of,
)


def history(errors: list[list[float]], deviation: float = 0.01) -> list[tuple[int, Predicted, float]]:
    """Return predictions of 0.8 in rounds, whose errors are given in deviations."""
    said = Predicted(mean=0.8, low=0.7, high=0.9, deviation=deviation)
    return [
        (number, said, 0.8 + deviation * error)
        for number, batch in enumerate(errors, start=1)
        for error in batch
    ]


@given(st.lists(st.floats(-2, 3), min_size=2, max_size=40), st.floats(0.1, 10), st.floats(-5, 5))
def test_a_rating_is_never_predicted_above_one(values: list[float], widening: float, shift: float) -> None:
    """Whatever is drawn, mean and interval of a rating stay between 0 and 1, in order."""
    chosen = Calibration(widening=widening, shift=shift, runs=3)
    said = predicted_of(np.array(values), "train", chosen)
    assert 0 <= said.low <= said.mean <= said.high <= 1


def test_other_outcomes_may_be_anything() -> None:
    """Windows, features and the loss ratio are no ratings."""
    for outcome in ("window/a/peak", "feature/a/force/peak", LOSS_RATIO):
        assert calibrated(-3.0, 0.1, outcome).mean == -3.0


def test_without_history_the_first_widening_counts() -> None:
    """Nothing is shifted."""
    assert calibration_of(()) == Calibration(widening=PRIOR_WIDENING, shift=0.0, runs=0)


def test_old_files_without_a_deviation_say_nothing() -> None:
    """A prediction that kept no deviation does not count."""
    said = Predicted(mean=0.8, low=0.7, high=0.9)
    assert calibration_of([(1, said, 0.9)]).runs == 0


def test_misses_widen_and_hits_narrow() -> None:
    """Runs four deviations off widen the next interval, exact ones narrow it."""
    wide = calibration_of(history([[4.0, -4.0, 4.0, -4.0]]))
    narrow = calibration_of(history([[0.1, -0.1, 0.1, -0.1]]))
    assert narrow.widening < PRIOR_WIDENING < wide.widening


def test_errors_of_one_side_shift_the_mean_but_not_all_the_way() -> None:
    """Predictions that were too low raise the next mean, less than their error."""
    found = calibration_of(history([[2.0] * 6, [2.0] * 6]))
    assert 0 < found.shift < 2
    assert calibrated(0.8, 0.01, "train", found).correction == pytest.approx(0.01 * found.shift)


def test_a_correction_that_was_made_is_not_made_twice() -> None:
    """Errors are taken before correction: a corrected prediction that is exact says the same as a raw one."""
    raw = Predicted(mean=0.80, low=0, high=1, deviation=0.01)
    corrected = Predicted(mean=0.82, low=0, high=1, deviation=0.01, correction=0.02)
    one, other = (calibration_of([(1, said, 0.82)] * 3) for said in (raw, corrected))
    assert (one.widening, one.shift) == pytest.approx((other.widening, other.shift))


def test_later_rounds_count_more() -> None:
    """Errors of the first round fade when later ones are small."""
    early = calibration_of(history([[5.0, -5.0], [0.2, -0.2], [0.2, -0.2]]))
    recent = calibration_of(history([[0.2, -0.2], [0.2, -0.2], [5.0, -5.0]]))
    assert early.widening < recent.widening


@pytest.mark.parametrize(("scale", "least"), [(1.0, 0.94), (2.0, 0.87), (3.0, 0.82)])
def test_intervals_of_nine_batches_hold(scale: float, least: float) -> None:
    """Errors as large as promised, twice and three times, half of them common to a batch: most stay inside.

    54 predictions each, 40 times; ``docs/tuning-method.md`` states the shares of a longer run.
    """
    random = np.random.default_rng(11)
    inside = []
    for _ in range(40):
        kept: list[tuple[int, Predicted, float]] = []
        for number in range(1, 10):
            found = calibration_of(kept)
            common = random.standard_normal()
            for error in scale * (0.7 * common + 0.7 * random.standard_normal(6)):
                said = calibrated(0.5, 0.01, "train", found)
                came = 0.5 + 0.01 * float(error)
                inside.append(said.low <= came <= said.high)
                kept.append((number, said, came))
    assert np.mean(inside) > least
    assert np.mean(inside) < 0.995
