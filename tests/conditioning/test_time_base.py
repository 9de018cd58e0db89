"""Printed times become a signal on one constant step, and nothing about it is silent."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from correlate.conditioning import signal_on_constant_step
from correlate.errors import SignalError, UnitError
from correlate.signal import Signal, Source
from tests.conditioning.signals import READ, names


def made(time_s: object, samples: object = None) -> Signal:
    """Return the signal of some times; by default the samples are the times themselves."""
    times = np.asarray(time_s, dtype=np.float64)
    return signal_on_constant_step(
        times,
        times if samples is None else np.asarray(samples, dtype=np.float64),
        unit="g",
        channel="head ax",
        source=Source("run.csv", "ab12"),
        history=(READ,),
    )


@pytest.mark.parametrize(
    ("start_s", "step_s"), [(0.0, 1e-4), (-0.05, 5e-5), (0.003, 1 / 30_000), (-0.01, 1e-6)]
)
def test_times_on_one_step_leave_no_trace(start_s: float, step_s: float) -> None:
    """Times that were computed from one step give that step and add nothing to the history."""
    signal = made(start_s + step_s * np.arange(3001))
    assert signal.history == (READ,)
    assert signal.start_s == start_s
    assert signal.step_s == pytest.approx(step_s, rel=1e-12)
    assert len(signal) == 3001
    assert signal.source == Source("run.csv", "ab12")


def test_short_decimal_step_is_exact() -> None:
    """A step of 0.1 ms comes out as exactly that, although the times carry rounding errors."""
    assert made(0.0123 + 1e-4 * np.arange(2501)).step_s == 1e-4


@example(count=5, step_s=2.5e-05, start_s=0.0)
@example(count=78, step_s=2.5e-05, start_s=0.0)
@given(
    count=st.integers(5, 3000),
    step_s=st.floats(1e-6, 1e-3),
    start_s=st.sampled_from([0.0, -0.05, -0.01, 0.003]),
)
def test_fixed_decimals_count_as_constant(count: int, step_s: float, start_s: float) -> None:
    """Times rounded to a decimal place up to 0.3 of the step keep every sample unchanged."""
    places = -int(np.floor(np.log10(0.3 * step_s)))
    exact = start_s + step_s * np.arange(count)
    signal = made(np.round(exact, places), np.arange(count))
    assert names(signal)[1:] in ([], ["even time step"])
    np.testing.assert_array_equal(signal.samples, np.arange(count))
    np.testing.assert_allclose(signal.time_s, exact, rtol=0, atol=1.001 * 10.0**-places)


@example(count=5, step_s=2.5e-05, start_s=-0.05)
@given(count=st.integers(5, 3000), step_s=st.floats(1e-6, 1e-3), start_s=st.sampled_from([0.0, -0.05, 0.003]))
def test_significant_digits_count_as_constant(count: int, step_s: float, start_s: float) -> None:
    """Times printed with a fixed number of significant digits keep every sample unchanged."""
    exact = start_s + step_s * np.arange(count)
    digits = int(np.floor(np.log10(np.abs(exact).max()))) - int(np.floor(np.log10(0.3 * step_s))) + 1
    signal = made([float(f"{value:.{digits}g}") for value in exact], np.arange(count))
    assert names(signal)[1:] in ([], ["even time step"])
    np.testing.assert_array_equal(signal.samples, np.arange(count))


def test_largest_deviation_is_recorded() -> None:
    """The step that evens the times says how far the worst of them was off."""
    signal = made([0.0, 3.3e-5, 6.7e-5, 1e-4])
    assert names(signal) == ["read", "even time step"]
    assert signal.step_s == pytest.approx(1e-4 / 3, rel=1e-12)
    assert signal.history[-1].settings["largest_deviation_s"] == pytest.approx(3.33e-7, rel=1e-9)


def test_one_percent_of_jitter_counts_as_constant() -> None:
    """A clock that wanders by less than 1 % of its step is taken as even, and that is recorded."""
    jitter = np.zeros(101)
    jitter[50] = 0.009e-4
    signal = made(1e-4 * np.arange(101) + jitter * 1.000000001, np.arange(101))
    assert names(signal) == ["read", "even time step"]
    np.testing.assert_array_equal(signal.samples, np.arange(101))


def test_two_percent_of_jitter_is_resampled() -> None:
    """A wander of 2 % that no printing explains is an uneven sampling."""
    jitter = np.zeros(101)
    jitter[50] = 0.02e-4 * 1.000000001
    assert names(made(1e-4 * np.arange(101) + jitter)) == ["read", "resample unevenly sampled"]


def test_lost_samples_are_bridged_by_a_straight_line() -> None:
    """Two lost samples are filled linearly at the step of the clock; worked by hand."""
    signal = made([0.0, 0.001, 0.002, 0.005, 0.006], [0.0, 1.0, 2.0, 8.0, 7.0])
    assert signal.step_s == 0.001
    np.testing.assert_allclose(signal.samples, [0.0, 1.0, 2.0, 4.0, 6.0, 8.0, 7.0], atol=1e-12)
    assert dict(signal.history[-1].settings) == {
        "method": "linear interpolation",
        "step_s": 0.001,
        "smallest_step_s": 0.001,
        "largest_step_s": 0.003,
        "samples_before": 5,
        "samples": 7,
    }


@given(count=st.integers(20, 2000), lost=st.integers(1, 1998), places=st.integers(4, 6))
def test_a_lost_sample_is_never_taken_for_rounding(count: int, lost: int, places: int) -> None:
    """However coarsely the times are printed, a missing sample makes the sampling uneven."""
    assume(lost < count - 1)
    times = np.round(np.arange(count) * 10.0**-places / 0.4, places)
    signal = made(np.delete(times, lost))
    assert names(signal) == ["read", "resample unevenly sampled"]


@given(steps=st.lists(st.floats(0.5e-4, 1.5e-4), min_size=10, max_size=200))
def test_uneven_sampling_keeps_a_straight_line(steps: list[float]) -> None:
    """Linear interpolation gives back a straight line at whatever times it was sampled."""
    times = np.cumsum([0.0, *steps])
    signal = made(times, 3.0 * times - 1.0)
    np.testing.assert_allclose(signal.samples, 3.0 * signal.time_s - 1.0, atol=1e-5)
    if names(signal)[-1] == "resample unevenly sampled":
        np.testing.assert_allclose(signal.samples, 3.0 * signal.time_s - 1.0, atol=1e-12)
        assert signal.step_s == pytest.approx(np.median(np.diff(times)), rel=1e-9)


def test_two_samples_are_enough() -> None:
    """Two times make one step."""
    assert made([0.0, 0.25]).step_s == 0.25


@pytest.mark.parametrize("third", [0.001, 0.0005])
def test_time_that_does_not_increase_is_refused(third: float) -> None:
    """A time that repeats or falls back is named by the number of its sample."""
    with pytest.raises(
        SignalError, match=r"run.csv, channel 'head ax': the time of sample 3, .* is not above"
    ):
        made([0.0, 0.001, third, 0.003])


def test_numbers_of_times_and_samples_must_agree() -> None:
    """A sample without a time is refused with both counts."""
    with pytest.raises(SignalError, match="there are 3 times and 2 samples"):
        made([0.0, 0.1, 0.2], [1.0, 2.0])


def test_time_that_is_not_finite_is_refused() -> None:
    """A time that is not a number is named as a time."""
    with pytest.raises(SignalError, match="channel 'time of head ax': sample 2 is nan"):
        made([0.0, np.nan, 0.2], [1.0, 2.0, 3.0])


def test_steps_too_unequal_are_refused() -> None:
    """Microseconds beside minutes would fill the memory."""
    with pytest.raises(SignalError, match=r"between 1e-06 s and 1e\+03 s, too unequal for one grid"):
        made([0.0, 1e-6, 2e-6, 1e3])


def test_unknown_unit_is_refused() -> None:
    """A unit nobody can parse is refused by the signal itself."""
    with pytest.raises(UnitError, match="the unit 'furlong' is not known"):
        signal_on_constant_step([0, 1], [0, 1], unit="furlong", channel="c", source=Source("run.csv"))
