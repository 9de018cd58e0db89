"""The offset is measured before the event, recorded, and never removed twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import remove_offset, turn_sign
from correlate.errors import SignalError
from tests.conditioning.signals import names, sample_rows, signal_of

if TYPE_CHECKING:
    from numpy.typing import NDArray


def test_mean_of_the_window_is_subtracted_and_recorded() -> None:
    """Worked by hand: 1, 2, 3 before the trigger average to 2."""
    raw = signal_of([1.0, 2.0, 3.0, 52.0], start_s=-0.3, step_s=0.1)
    result = remove_offset(raw, start_s=-0.3, end_s=-0.1)
    np.testing.assert_allclose(result.samples, [-1.0, 0.0, 1.0, 50.0], atol=1e-12)
    assert names(result) == ["read", "remove offset"]
    assert dict(result.history[-1].settings) == {
        "start_s": -0.3,
        "end_s": -0.1,
        "offset": 2.0,
        "unit": "g",
        "samples": 3,
        # Tenths of three samples are the samples: from 1 to 3, over the largest value left, 50.
        "change_over_peak": 0.04,
    }


@given(rows=sample_rows(least=20), offset=st.floats(-1000, 1000))
def test_any_constant_offset_vanishes(rows: NDArray[np.float64], offset: float) -> None:
    """A signal and the same signal on a pedestal come out equal."""
    plain = remove_offset(signal_of(rows), start_s=0.0, end_s=1e-3).samples
    raised = remove_offset(signal_of(rows + offset), start_s=0.0, end_s=1e-3).samples
    np.testing.assert_allclose(raised, plain, atol=1e-10)


def test_second_removal_is_refused() -> None:
    """Also when another step lies between."""
    once = turn_sign(remove_offset(signal_of(np.ones(20)), start_s=0.0, end_s=1e-3))
    with pytest.raises(
        SignalError, match=r"channel 'head ax': the offset was already removed; remove it once"
    ):
        remove_offset(once, start_s=0.0, end_s=1e-3)


def test_window_outside_the_data_is_refused() -> None:
    """A window before the first sample cannot be measured."""
    with pytest.raises(
        SignalError, match=r"-0.02 s to -0.01 s reaches beyond the data; choose one within 0 s"
    ):
        remove_offset(signal_of(np.ones(20)), start_s=-0.02, end_s=-0.01)
