"""The whole rating: closed forms, a literal twin, invariants, refusals."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from correlate import AlignedPair, RatingSettings, Weights, rate
from correlate.errors import SettingsError, SignalError
from correlate.metrics.iso18571 import grade_of
from correlate.metrics.iso18571.scores import band_width, score_of_error, smoothed_slope
from tests.metrics.curves import noisy_pairs, pair_of, pulse
from tests.oracles import iso18571_literal as literal

COMPONENTS = ("corridor", "phase", "magnitude", "slope")


def square_wave(samples: int, *, half_period: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a wave that jumps between +1 and -1."""
    return np.where((np.arange(samples) // half_period) % 2 == 0, 1.0, -1.0)


# ---------------------------------------------------------------- closed forms (derived from the definition)


@given(pair=noisy_pairs())
def test_identity_scores_exactly_one(pair: AlignedPair) -> None:
    """A curve rated against itself earns 1 in everything, exactly."""
    rating = rate(pair_of(pair.reference, pair.reference))
    assert (rating.overall, *(getattr(rating, name) for name in COMPONENTS)) == (1.0,) * 5
    assert rating.grade == "excellent"


@pytest.mark.parametrize("delay", [1, 5, 60, -3, -100])
def test_a_moved_pulse_loses_phase_alone_after_the_shift(delay: int) -> None:
    """E_P = 1 - s / (0.2 N); magnitude and slope are judged after shifting back, so they stay 1."""
    samples = 600
    pair = pair_of(pulse(samples, start=250, length=120), pulse(samples, start=250 + delay, length=120))
    rating = rate(pair)
    assert rating.phase == pytest.approx(1 - abs(delay) / (0.2 * samples), abs=1e-12)
    assert (rating.magnitude, rating.slope) == (1.0, 1.0)
    assert rating.shift_samples == delay
    assert rating.shift_s == pytest.approx(delay * 1e-4, abs=1e-12)


@pytest.mark.parametrize("factor", [0.55, 0.7, 0.9, 1.1, 1.3, 1.45])
def test_a_scaled_square_wave(factor: float) -> None:
    """Z = ((0.5 - |k-1|) / 0.45)^2, E_P = 1, E_M = 1 - 2 |k-1|, E_S = 1 - |k-1| / 2."""
    wave = square_wave(400, half_period=40)
    rating = rate(pair_of(3.0 * wave, 3.0 * factor * wave))
    error = abs(factor - 1)
    assert rating.corridor == pytest.approx(((0.5 - error) / 0.45) ** 2, abs=1e-12)
    assert rating.phase == 1.0
    assert rating.magnitude == pytest.approx(1 - 2 * error, abs=1e-12)
    assert rating.slope == pytest.approx(1 - error / 2, abs=1e-12)
    weighted = 0.4 * rating.corridor + 0.2 * (rating.phase + rating.magnitude + rating.slope)
    assert rating.overall == pytest.approx(weighted, abs=1e-15)


@pytest.mark.parametrize("share", [0.06, 0.1, 0.25, 0.49])
def test_a_constant_offset(share: float) -> None:
    """Z = ((0.5 - q) / 0.45)^2, E_P = 1, E_S = 1."""
    reference = pulse(500, start=100, length=200, height=80.0)
    peak = float(reference.max())
    rating = rate(pair_of(reference, reference + share * peak))
    assert rating.corridor == pytest.approx(((0.5 - share) / 0.45) ** 2, abs=1e-9)
    assert rating.phase == 1.0
    assert rating.slope == pytest.approx(1.0, abs=1e-9)


def test_inside_the_inner_corridor_and_outside_the_outer() -> None:
    """An offset of 4 % of the peak costs no corridor score, one of 60 % costs all of it."""
    reference = pulse(500, start=100, length=200)
    assert rate(pair_of(reference, reference + 0.04)).corridor == 1.0
    assert rate(pair_of(reference, reference + 0.6)).corridor == 0.0


@pytest.mark.parametrize(
    ("overall", "word"),
    [
        (1.0, "excellent"),
        (0.9400001, "excellent"),
        (0.94, "good"),
        (0.80, "fair"),
        (0.58, "poor"),
        (0.0, "poor"),
    ],
)
def test_grades_change_above_their_floor(overall: float, word: str) -> None:
    """The published floors belong to the lower grade."""
    assert grade_of(overall) == word


# ------------------------------------------------------------------------------------------- literal twin


@settings(max_examples=60)
@given(pair=noisy_pairs())
def test_everything_equals_the_literal_implementation(pair: AlignedPair) -> None:
    """All scores, the overall rating and the shift equal those of the slow second implementation."""
    rating = rate(pair)
    expected = literal.rating(pair.reference.tolist(), pair.candidate.tolist(), pair.step_s)
    assert rating.shift_samples == expected["delay"]
    for name in ("overall", *COMPONENTS):
        assert getattr(rating, name) == pytest.approx(expected[name], abs=1e-9), name


def test_a_long_pair_equals_the_literal_implementation() -> None:
    """A pair of 700 samples with sharp peaks equals the literal one."""
    random = np.random.default_rng(11)
    time = np.arange(700) * 1e-4
    reference = np.exp(-(((time - 0.03) / 0.004) ** 2)) * 60 + random.standard_normal(700)
    candidate = np.exp(-(((time - 0.034) / 0.005) ** 2)) * 50 + random.standard_normal(700)
    rating = rate(pair_of(reference, candidate))
    expected = literal.rating(reference.tolist(), candidate.tolist(), 1e-4)
    assert [getattr(rating, name) for name in COMPONENTS] == pytest.approx(
        [expected[name] for name in COMPONENTS], abs=1e-9
    )


# --------------------------------------------------------------------------------------------- invariants


@given(pair=noisy_pairs(), power=st.integers(-20, 20))
def test_scaling_both_by_a_power_of_two_changes_no_bit(pair: AlignedPair, power: int) -> None:
    """One factor on both curves cancels everywhere; a power of two has no rounding of its own."""
    factor = 2.0**power
    ours, scaled = rate(pair), rate(pair_of(factor * pair.reference, factor * pair.candidate))
    assert [getattr(ours, name) for name in COMPONENTS] == [getattr(scaled, name) for name in COMPONENTS]


@given(pair=noisy_pairs(), factor=st.sampled_from([9.80665, 1 / 9.80665, 1000.0, 4.4482216152605, 25.4]))
def test_changing_the_unit_of_both_changes_nothing(pair: AlignedPair, factor: float) -> None:
    """In g or m/s^2, mm or m, lbf or N: the rating is the same."""
    ours, other = rate(pair), rate(pair_of(factor * pair.reference, factor * pair.candidate))
    assert other.overall == pytest.approx(ours.overall, abs=1e-9)


@given(pair=noisy_pairs())
def test_turning_both_signs_changes_no_bit(pair: AlignedPair) -> None:
    """A mirrored pair is as good as the pair."""
    ours, mirrored = rate(pair), rate(pair_of(-pair.reference, -pair.candidate))
    assert [getattr(ours, name) for name in COMPONENTS] == [getattr(mirrored, name) for name in COMPONENTS]


@given(pair=noisy_pairs())
def test_every_score_lies_between_zero_and_one(pair: AlignedPair) -> None:
    """No score leaves [0, 1]."""
    rating = rate(pair)
    assert all(0.0 <= getattr(rating, name) <= 1.0 for name in ("overall", *COMPONENTS))


@given(
    start=st.integers(60, 150),
    length=st.integers(40, 120),
    offsets=st.lists(st.floats(0.0, 0.8), min_size=2, max_size=5, unique=True),
)
def test_a_growing_offset_never_scores_higher(start: int, length: int, offsets: list[float]) -> None:
    """The further a pulse is lifted, the lower its rating."""
    reference = pulse(400, start=start, length=length)
    found = [rate(pair_of(reference, reference + offset)).overall for offset in sorted(offsets)]
    assert all(later <= earlier + 1e-9 for earlier, later in pairwise(found))


@given(pair=noisy_pairs())
def test_warping_path_carries_the_magnitude_sums(pair: AlignedPair) -> None:
    """The path on request adds up to the sums in the ingredients, in indices of the pair itself."""
    rating = rate(pair)
    path = rating.warping_path()
    warped = pair.reference[path[:, 0]]
    magnitude = rating.ingredients.magnitude
    assert np.abs(pair.candidate[path[:, 1]] - warped).sum() == pytest.approx(magnitude.difference_sum)
    assert np.abs(warped).sum() == pytest.approx(magnitude.reference_sum)


@given(samples=st.integers(1, 100_000))
def test_band_width_is_the_exact_ceiling(samples: int) -> None:
    """A tenth of the samples, rounded up, with no rounding error of the product."""
    assert band_width(samples, 0.1) == -(-samples // 10)


# ------------------------------------------------------------------------- named choices and their effect


@given(pair=noisy_pairs())
def test_mirrored_time_with_mirrored_tie_rule(pair: AlignedPair) -> None:
    """Preferring the reference on ties walks the path of the exchanged curves."""
    rating = rate(pair, RatingSettings(path_tie="reference"))
    exchanged = rate(pair_of(pair.candidate, pair.reference))
    assume(rating.shift_samples == -exchanged.shift_samples)
    assert rating.warping_path().tolist() == exchanged.warping_path()[:, ::-1].tolist()


def test_a_reference_sum_of_zero_scores_by_its_rule() -> None:
    """Nothing against nothing is perfect, or not, as set; something against nothing never scores."""
    assert score_of_error(0.0, 0.0, 0.5, "compare")[1] == 1.0
    assert score_of_error(0.0, 0.0, 0.5, "zero")[1] == 0.0
    assert score_of_error(0.1, 0.0, 0.5, "compare") == (math.inf, 0.0)


def test_ends_of_the_derivative_and_of_the_average_follow_their_rules() -> None:
    """On a parabola the second-order end is exact, the one-sided end is off by half a step."""
    parabola = np.arange(30.0) ** 2
    one_sided = smoothed_slope(parabola, 1.0, RatingSettings(slope_average_samples=1))
    second = smoothed_slope(parabola, 1.0, RatingSettings(slope_average_samples=1, slope_ends="second-order"))
    assert (one_sided[0], second[0]) == (1.0, 0.0)
    assert (one_sided[-1], second[-1]) == (57.0, 58.0)
    repeated = smoothed_slope(np.arange(30.0) ** 2, 1.0, RatingSettings(average_ends="repeat"))
    # Window at the first sample: five values of the repeated end slope 1, then 2, 4, 6, 8.
    assert repeated[0] == pytest.approx((5 * 1 + 2 + 4 + 6 + 8) / 9)
    shrunk = smoothed_slope(np.arange(30.0) ** 2, 1.0, RatingSettings())
    assert shrunk[0] == 1.0


def test_weights_decide_the_overall_rating() -> None:
    """With all weight on phase, the overall rating is the phase score."""
    pair = pair_of(pulse(400, start=100, length=90), 0.5 * pulse(400, start=120, length=90))
    rating = rate(pair, RatingSettings(weights=Weights(corridor=0, phase=1, magnitude=0, slope=0)))
    assert rating.overall == rating.phase == pytest.approx(0.75)


# ----------------------------------------------------------------------------------------------- refusals


def test_fewer_than_twenty_samples_are_refused() -> None:
    """Ten samples cannot be rated."""
    with pytest.raises(SignalError, match="has 10 samples, and a rating needs 20"):
        rate(pair_of(np.arange(10.0), np.arange(10.0)))


@pytest.mark.parametrize("place", [0, 15, 29])
def test_a_reference_with_one_sample_that_is_not_zero_is_rated(place: int) -> None:
    """Wherever it is, in the middle or not."""
    reference = np.zeros(30)
    reference[place] = 1.0
    assert rate(pair_of(reference, reference)).overall == 1.0


def test_a_reference_of_zeros_is_refused() -> None:
    """Nothing can be rated against a reference that is zero throughout."""
    with pytest.raises(SignalError, match="zero throughout"):
        rate(pair_of(np.zeros(100), np.ones(100)))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"inner_half_width": 0.6}, "inner_half_width must be below outer_half_width"),
        ({"largest_shift": 1.0}, "largest_shift must be between 0 and 1"),
        ({"warping_band": 0.0}, "warping_band must be above 0"),
        ({"slope_average_samples": 8}, "slope_average_samples must be an odd number"),
        ({"slope_limit": math.nan}, "slope_limit must be above 0"),
        ({"phase_tie": "sideways"}, "phase_tie must be one of earlier, later"),
    ],
)
def test_settings_outside_their_range_are_refused(wrong: dict[str, object], message: str) -> None:
    """Each wrong setting is named with what it may be."""
    with pytest.raises(SettingsError, match=message):
        RatingSettings(**wrong)  # type: ignore[arg-type]


def test_weights_that_do_not_add_up_are_refused() -> None:
    """Four weights must sum to 1."""
    with pytest.raises(SettingsError, match="do not add up to 1"):
        Weights(corridor=0.5)
