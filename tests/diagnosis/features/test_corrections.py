"""Each correction gives the model the feature of the test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.diagnosis.features import Features, corrections, features
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate.diagnosis.features.corrections import Model

    Floats = NDArray[np.float64]

TIME: Floats = np.arange(2501, dtype=np.float64) * 1e-4


def curve(
    *,
    height: float = -100.0,
    start: float = 0.02,
    rise: float = 0.02,
    fall: float = 0.03,
    ring: float = 0.25,
    frequency: float = 20.0,
    decay: float = 12.0,
) -> Floats:
    """Return a leaning pulse of two quarter sines, followed by a ringing tail that swings back first."""
    top = start + rise
    up = np.sin(0.5 * np.pi * np.clip((TIME - start) / rise, 0.0, 1.0))
    down = np.cos(0.5 * np.pi * np.clip((TIME - top) / fall, 0.0, 1.0))
    late = np.maximum(TIME - top - fall, 0.0)
    tail = -ring * np.exp(-decay * late) * np.sin(2 * np.pi * frequency * late)
    values: Floats = height * (np.where(top > TIME, up, down) + tail)
    return values


def model_of(test: Floats, candidate: Floats) -> Model:
    """Return what the corrections take."""
    return corrections.model_of(TIME, candidate, features(TIME, test), features(TIME, candidate), None)


CASES: list[tuple[Callable[[Model], Floats], Callable[[Features], float | None], dict[str, float], float]] = [
    (corrections.move_onset, lambda it: it.onset_time, {"start": 0.026}, 1e-4),
    (corrections.scale_peak, lambda it: it.peak, {"height": -70.0}, 1e-9),
    (corrections.scale_impulse, lambda it: it.impulse, {"height": -70.0, "fall": 0.035}, 1e-9),
    (corrections.move_peak, lambda it: it.peak_time, {"rise": 0.027}, 3e-3),
    (corrections.stretch_rise, lambda it: it.rise_rate, {"rise": 0.027}, 5e-3),
    (corrections.stretch_fall, lambda it: it.fall_rate, {"fall": 0.021}, 5e-3),
    (corrections.stretch_pulse, lambda it: it.half_duration, {"rise": 0.03, "fall": 0.04}, 2e-3),
    (corrections.lean_pulse, lambda it: it.share_before_peak, {"rise": 0.03, "fall": 0.02}, 1e-2),
    (corrections.scale_rebound, lambda it: it.rebound, {"ring": 0.4}, 1e-9),
    (corrections.stretch_tail, lambda it: it.tail_frequency, {"frequency": 26.0}, 1e-2),
    (corrections.damp_tail, lambda it: it.tail_damping, {"decay": 4.0}, 5e-2),
    (corrections.damp_tail, lambda it: it.tail_damping, {"decay": 18.0}, 5e-2),
]


@pytest.mark.parametrize(("correct", "read", "wrong", "tolerance"), CASES)
def test_the_corrected_model_has_the_feature_of_the_test(
    correct: Callable[[Model], Floats],
    read: Callable[[Features], float | None],
    wrong: dict[str, float],
    tolerance: float,
) -> None:
    """The feature was off by more than 5 % or 2 ms, and is right after its own correction."""
    test, candidate = curve(), curve(**wrong)
    wanted, before = read(features(TIME, test)), read(features(TIME, candidate))
    assert wanted is not None
    assert before is not None
    assert abs(before - wanted) > min(0.05 * abs(wanted), 0.002)
    after = read(features(TIME, correct(model_of(test, candidate))))
    assert after == pytest.approx(wanted, rel=tolerance, abs=1e-5)


def test_a_correction_leaves_the_rest_alone() -> None:
    """Damping the tail changes nothing before it; scaling the rebound nothing of the main pulse."""
    test, candidate = curve(), curve(decay=4.0, ring=0.4)
    it = model_of(test, candidate)
    before = TIME < 0.07
    np.testing.assert_array_equal(corrections.damp_tail(it)[before], candidate[before])
    np.testing.assert_array_equal(corrections.scale_rebound(it)[before], candidate[before])


def two_bumps(second_time: float, second_value: float) -> Floats:
    """Return two bumps, the second of which moves and grows."""
    bump = [np.cos(np.pi * np.clip((TIME - at) / 0.04, -0.5, 0.5)) ** 2 for at in (0.05, second_time)]
    values: Floats = 10.0 * bump[0] + second_value * bump[1]
    return values


def test_one_of_two_peaks_is_put_right() -> None:
    """Time and value of the second peak are corrected without touching the first."""
    it = model_of(two_bumps(0.12, 6.0), two_bumps(0.135, 8.0))
    moved = features(TIME, corrections.move_one_peak(it, 1)).peaks
    assert [peak.time for peak in moved] == pytest.approx([0.05, 0.12])
    assert [peak.value for peak in moved] == pytest.approx([10.0, 8.0])
    scaled = features(TIME, corrections.scale_one_peak(it, 1)).peaks
    assert [peak.value for peak in scaled] == pytest.approx([10.0, 6.0], rel=1e-3)


def test_the_loop_is_opened_to_the_share_of_the_test() -> None:
    """A force that gives 60 % back is made to give 80 % back, its loading kept."""
    path = np.sin(np.pi * np.clip((TIME - 0.02) / 0.1, 0.0, 1.0))
    force = [np.where(TIME <= 0.07, path, (1.0 - lost) * path) for lost in (0.2, 0.4)]
    found = [features(TIME, one, against=path) for one in force]
    it = corrections.model_of(TIME, force[1], found[0], found[1], path)
    corrected = corrections.open_loop(it)
    assert features(TIME, corrected, against=path).hysteresis == pytest.approx(found[0].hysteresis, abs=5e-3)
    loading = TIME <= 0.07
    np.testing.assert_array_equal(corrected[loading], force[1][loading])


def test_what_is_too_far_off_is_refused() -> None:
    """A rise ten times too steep is another event, and no stretch makes it that of the test."""
    with pytest.raises(SignalError, match=r"differ by a factor of .*, too much for a correction"):
        corrections.stretch_rise(model_of(curve(), curve(rise=0.002)))


def test_a_missing_rebound_cannot_be_scaled() -> None:
    """Nothing times anything stays nothing."""
    with pytest.raises(SignalError, match="no rebound that could be scaled"):
        corrections.scale_rebound(model_of(curve(), curve(ring=0.0)))
