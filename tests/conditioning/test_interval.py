"""Which samples lie in an interval, and which intervals are none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning.time_axis import check_within, multiples_between, samples_between
from correlate.errors import SettingsError, SignalError
from tests.conditioning.signals import signal_of

RAMP = signal_of(np.arange(11.0), start_s=-0.5, step_s=0.1)


@pytest.mark.parametrize(
    ("start_s", "end_s", "expected"),
    [
        (-0.5, 0.5, slice(0, 11)),
        (-0.2, 0.1, slice(3, 7)),
        (-0.25, 0.14, slice(3, 7)),
        (0.3, 0.3, slice(8, 9)),
    ],
)
def test_both_ends_are_included(start_s: float, end_s: float, expected: slice) -> None:
    """Samples at the ends belong to the interval; between samples the next inner ones do."""
    assert samples_between(RAMP, start_s=start_s, end_s=end_s) == expected


@given(first=st.integers(0, 2000), count=st.integers(0, 2000), step_s=st.floats(1e-6, 1e-2))
def test_rounding_of_times_loses_no_sample(first: int, count: int, step_s: float) -> None:
    """An interval whose ends are computed like the times themselves holds exactly the samples meant."""
    signal = signal_of(np.zeros(4001), start_s=-0.05, step_s=step_s)
    time = signal.time_s
    last = first + count
    assert samples_between(signal, start_s=float(time[first]), end_s=float(time[last])) == slice(
        first, last + 1
    )


def test_interval_beyond_the_data_is_refused() -> None:
    """The message names the file, the channel and what there is."""
    with pytest.raises(
        SignalError,
        match=r"run.csv, channel 'head ax': the interval 0 s to 0.6 s reaches beyond the data; "
        r"choose one within -0.5 s to 0.5 s",
    ):
        check_within(RAMP, start_s=0.0, end_s=0.6)
    with pytest.raises(SignalError, match="reaches beyond the data"):
        samples_between(RAMP, start_s=-0.51, end_s=0.0)


def test_interval_between_two_samples_is_refused() -> None:
    """An interval without a sample is no interval of this signal."""
    with pytest.raises(SignalError, match=r"0.12 s to 0.18 s holds no sample"):
        samples_between(RAMP, start_s=0.12, end_s=0.18)


@pytest.mark.parametrize(("start_s", "end_s"), [(0.2, 0.1), (float("nan"), 0.1), (0.0, float("inf"))])
def test_what_is_no_interval_is_refused(start_s: float, end_s: float) -> None:
    """An end before the start, or no number at all, is a wrong setting."""
    with pytest.raises(SettingsError, match="is not an interval; give a start and a later end"):
        samples_between(RAMP, start_s=start_s, end_s=end_s)


@given(first=st.integers(-3000, 3000), count=st.integers(0, 3000), step_s=st.floats(1e-6, 1.0))
def test_multiples_of_a_step_are_found_again(first: int, count: int, step_s: float) -> None:
    """The multiples between two multiples are those two and what lies between."""
    assert multiples_between(first * step_s, (first + count) * step_s, step_s) == (first, first + count)
