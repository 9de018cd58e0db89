"""What a shift in time alone leaves of an error, and when it restores most of a rating."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import Recipe, Signal, align, rate
from correlate.conditioning import shift_time
from correlate.diagnosis.suspects.delays import (
    LAST_RANGE_S,
    best_delay_s,
    cut_to_interval,
    delay_errors,
    errors_of_repeats,
    shift_alone,
)
from correlate.metrics.iso18571 import RatingSettings

Floats = np.ndarray[tuple[int], np.dtype[np.float64]]
RECIPE = Recipe(start_s=0.0, end_s=0.1)
SETTINGS = RatingSettings()


def curve(*, late_ms: float = 0.0, slow: float = 1.0, size: float = 1.0, start_ms: float = -50.0) -> Signal:
    """Return a pulse of 40 ms from 20 ms on with a rebound, at 10 kHz up to 150 ms."""
    time_ms = np.arange(round(start_ms * 10), 1501) / 10
    x = (time_ms - 20.0 * slow - late_ms) / (40.0 * slow)
    pulse = np.sin(np.pi * np.clip(x, 0, 1)) ** 2 - 0.3 * np.sin(np.pi * np.clip(x - 1.2, 0, 1)) ** 2
    return Signal(samples=size * pulse, start_s=start_ms / 1e3, step_s=1e-4, unit="kN", channel="force")


@pytest.mark.parametrize("delay", [-300, -25, 0, 1, 140])
def test_the_error_at_each_delay_is_that_of_the_sums(delay: int) -> None:
    """The transform gives what the definition gives, sample by sample."""
    test, model = curve(), curve(late_ms=3.0, size=1.2)
    found = delay_errors(test, model, RECIPE, range_s=0.03)
    assert found is not None
    reference = cut_to_interval(test, RECIPE)
    first = 500 + delay
    moved = model.samples[first : first + reference.size]
    expected = float(np.square(reference - moved).sum() / np.square(reference).sum())
    assert found.at(delay) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("late_ms", [-25.0, -3.0, 0.0, 5.0, 40.0, 70.0])
def test_the_range_is_widened_until_the_delay_lies_inside(late_ms: float) -> None:
    """Delays within the first range and far beyond it are found exactly."""
    model = shift_time(curve(start_ms=-150.0), late_ms / 1e3)
    assert best_delay_s(delay_errors(curve(), model, RECIPE, range_s=LAST_RANGE_S)) == pytest.approx(
        late_ms / 1e3, abs=1e-9
    )


def test_no_optimum_at_a_border_is_used() -> None:
    """A ramp that fits the better the further it is moved has no delay, and is not called shifted."""
    ramp = Signal(samples=np.arange(1500.0), start_s=-0.05, step_s=1e-4, unit="kN", channel="force")
    steeper = Signal(samples=np.arange(1500.0) + 5e3, start_s=-0.05, step_s=1e-4, unit="kN", channel="force")
    assert best_delay_s(delay_errors(ramp, steeper, RECIPE, range_s=LAST_RANGE_S)) is None
    assert shift_alone(ramp, steeper, RECIPE, SETTINGS) is None


def test_a_late_model_is_only_shifted() -> None:
    """5 ms late, also 5 % too large: a shift restores most of the loss."""
    late = shift_alone(curve(), curve(late_ms=5.0), RECIPE, SETTINGS)
    assert late is not None
    assert late.delay_s == pytest.approx(0.005)
    assert late.before == rate(align(curve(), curve(late_ms=5.0), RECIPE)).overall
    assert late.after == pytest.approx(1.0, abs=1e-9)
    early = shift_alone(curve(), curve(late_ms=-12.0, size=1.05), RECIPE, SETTINGS)
    assert early is not None
    assert early.delay_s == pytest.approx(-0.012, abs=2e-4)


def test_a_slow_weak_or_good_model_is_not_only_shifted() -> None:
    """Slow by a fifth, slow and low, 40 % too large, 1 ms late: none of these is a shift alone."""
    for model in (curve(slow=1.2), curve(slow=1.3, size=0.8), curve(size=1.4), curve(late_ms=1.0)):
        assert shift_alone(curve(), model, RECIPE, SETTINGS) is None


@pytest.mark.parametrize("start_ms", [-50.0, 15.0])
def test_a_smaller_range_has_the_same_errors(start_ms: float) -> None:
    """Each range is a part of the widest, also where the model covers the test in part."""
    test, model = curve(), curve(late_ms=3.0, start_ms=start_ms)
    widest = delay_errors(test, model, RECIPE, range_s=0.12)
    narrow = delay_errors(test, model, RECIPE, range_s=0.015)
    assert widest is not None
    assert narrow is not None
    found = widest.within(0.015)
    assert found.most == narrow.most == 150
    np.testing.assert_allclose(found.values, narrow.values, rtol=0, atol=1e-12)
    assert np.array_equal(widest.within(1.0).values, widest.values)


def test_only_samples_under_the_model_count() -> None:
    """Where the model begins late, the error is that of the samples that both have."""
    test, model = curve(), curve(start_ms=15.0)
    found = delay_errors(test, model, RECIPE, range_s=0.03)
    assert found is not None
    reference = cut_to_interval(test, RECIPE)
    for delay in (-100, 0, 120):
        first = max(0, 150 - delay)
        under = reference[first:]
        moved = model.samples[delay + first - 150 :][: under.size]
        expected = float(np.square(under - moved).sum() / np.square(under).sum())
        assert found.at(delay) == pytest.approx(expected, abs=1e-12)


def test_repeats_compared_together_give_the_same_as_one_by_one() -> None:
    """The model's spectrum is shared, also between repeats of which one is zero throughout."""
    zero = curve(size=0.0)
    tests, model = [curve(), zero, curve(late_ms=4.0), curve(size=1.2)], curve(late_ms=2.0)
    together = list(errors_of_repeats(tests, model, RECIPE, range_s=0.03))
    alone = [delay_errors(test, model, RECIPE, range_s=0.03) for test in tests]
    assert [one is None for one in together] == [False, True, False, False]
    for one, other in zip(together, alone, strict=True):
        if one is not None and other is not None:
            assert one.values.tolist() == other.values.tolist()
