"""A crop keeps the samples of an interval and says what it cut."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import crop
from correlate.errors import SignalError
from tests.conditioning.signals import names, signal_of


@given(count=st.integers(3, 500), data=st.data())
def test_times_and_samples_stay_together(count: int, data: st.DataObject) -> None:
    """What is kept has the times it had before."""
    first = data.draw(st.integers(0, count - 2))
    last = data.draw(st.integers(first + 1, count - 1))
    raw = signal_of(np.arange(count, dtype=float), start_s=-0.013, step_s=5e-5)
    time = raw.time_s
    result = crop(raw, start_s=float(time[first]), end_s=float(time[last]))
    np.testing.assert_array_equal(result.samples, np.arange(first, last + 1))
    np.testing.assert_allclose(result.time_s, time[first : last + 1], rtol=0, atol=1e-15)


def test_records_what_was_cut() -> None:
    """The history says where and how many samples went."""
    result = crop(signal_of(np.arange(10.0), step_s=0.1), start_s=0.2, end_s=0.6)
    assert names(result) == ["read", "crop"]
    assert dict(result.history[-1].settings) == {
        "start_s": 0.2,
        "end_s": 0.6,
        "samples_before": 2,
        "samples_after": 3,
    }


def test_nothing_cut_nothing_recorded() -> None:
    """The whole signal comes back as it is."""
    raw = signal_of(np.arange(10.0), step_s=0.1)
    assert crop(raw, start_s=0.0, end_s=0.9) is raw


def test_interval_beyond_the_data_is_refused() -> None:
    """Never silently shorter."""
    with pytest.raises(
        SignalError, match=r"0 s to 1 s reaches beyond the data; choose one within 0 s to 0.9 s"
    ):
        crop(signal_of(np.arange(10.0), step_s=0.1), start_s=0.0, end_s=1.0)


def test_single_sample_is_refused() -> None:
    """One sample is no curve."""
    with pytest.raises(SignalError, match="holds a single sample; make it at least two time steps"):
        crop(signal_of(np.arange(10.0), step_s=0.1), start_s=0.28, end_s=0.32)
