"""The search for the best shift."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import RatingSettings
from correlate.metrics.iso18571.phase import phase_score, shift_correlations, shift_count
from tests.metrics.curves import noisy_pairs, pair_of, pulse
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from correlate.pair import AlignedPair

PUBLISHED = RatingSettings()


def direct(pair: AlignedPair, delay: int) -> float:
    """Correlate one overlap term by term, with exact summation."""
    return literal.correlation(*literal.overlap(pair.reference.tolist(), pair.candidate.tolist(), delay))


@settings(max_examples=60)
@given(pair=noisy_pairs(most=200), offset=st.floats(-1e3, 1e3))
def test_every_correlation_equals_the_direct_formula(pair: AlignedPair, offset: float) -> None:
    """Fourier transform and running sums give what the definition gives, to 1e-9, at every shift."""
    moved = pair_of(pair.reference + offset, pair.candidate - offset)
    found = shift_correlations(moved, PUBLISHED)
    expected = [direct(moved, int(delay)) for delay in found.delays]
    assert found.values == pytest.approx(expected, abs=1e-9)


def test_nearly_flat_overlaps_stay_within_their_stated_error() -> None:
    """Where an overlap has almost no variance, the stated error covers the rounding of the transform."""
    random = np.random.default_rng(3)
    reference = 1e-7 * random.standard_normal(400)
    reference[380:390] += 50.0
    candidate = 1e-7 * random.standard_normal(400)
    candidate[385:395] += 50.0
    pair = pair_of(reference, candidate)
    found = shift_correlations(pair, PUBLISHED)
    expected = np.array([direct(pair, int(delay)) for delay in found.delays])
    assert np.all(np.abs(found.values - expected) <= np.maximum(found.errors, 1e-9))
    assert phase_score(pair, PUBLISHED).correlation == pytest.approx(expected.max(), abs=1e-9)


@pytest.mark.parametrize("delay", [0, 1, 7, 40, -1, -25])
def test_delay_of_a_moved_pulse_is_found(delay: int) -> None:
    """A pulse moved by s samples is found late by s; the score falls to 0 at a fifth of the samples."""
    pair = pair_of(pulse(400, start=150, length=90), pulse(400, start=150 + delay, length=90))
    phase = phase_score(pair, PUBLISHED)
    assert phase.delay_samples == delay
    assert phase.score == pytest.approx(1 - abs(delay) / 80, abs=1e-12)


def test_ties_go_to_the_smaller_shift_then_to_earlier_times() -> None:
    """A periodic pair correlates equally at many shifts: the nearest wins, and of two the earlier."""
    wave = np.tile([0.0, 1.0, 0.0, -1.0], 50)
    moved = np.roll(wave, 2)
    assert phase_score(pair_of(wave, moved), PUBLISHED).delay_samples == 2
    later = RatingSettings(phase_tie="later")
    assert phase_score(pair_of(wave, moved), later).delay_samples == -2


def test_flat_overlap_counts_as_minus_infinity_or_zero() -> None:
    """A flat candidate cannot be correlated: no shift is chosen, and the setting says what the value is."""
    reference = pulse(100, start=30, length=30)
    flat = np.full(100, 2.0)
    assert phase_score(pair_of(reference, flat), PUBLISHED).correlation == -np.inf
    assert phase_score(pair_of(reference, flat), PUBLISHED).delay_samples == 0
    zero = RatingSettings(flat_overlap="zero")
    assert phase_score(pair_of(reference, flat), zero).correlation == 0.0


def test_zero_instead_of_minus_infinity_can_win_over_a_negative_correlation() -> None:
    """With the rule ``zero``, the nearest shift into a flat overlap beats every anti-correlated one."""
    step = np.zeros(100)
    step[:5] = 1.0
    pair = pair_of(step, -step)
    rejecting = phase_score(pair, PUBLISHED)
    assert rejecting.correlation < 0.0
    assert abs(rejecting.delay_samples) < 5
    zero = phase_score(pair, RatingSettings(flat_overlap="zero"))
    assert (zero.correlation, zero.delay_samples) == (0.0, 5)


@given(samples=st.integers(20, 100_000))
def test_shift_count_is_the_exact_floor(samples: int) -> None:
    """A fifth of the samples, rounded down, with no rounding error of the product."""
    assert shift_count(samples, 0.2) == samples * 2 // 10
