"""A pair is validated once and never changes."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import SignalError
from correlate.pair import AlignedPair
from correlate.samples import frozen_samples

TIME = np.arange(5) * 1e-4
PULSE = np.array([0.0, 1.0, 2.0, 1.0, 0.0])


def test_curves_are_kept_apart_by_name() -> None:
    """Positional arguments would let the two curves be swapped unseen."""
    pair: Any = AlignedPair
    with pytest.raises(TypeError, match="positional"):
        pair(TIME, PULSE, PULSE)


def test_arrays_are_copies_that_cannot_be_written_to() -> None:
    """Changing the input afterwards changes nothing, and the pair itself is read-only."""
    mine = PULSE.copy()
    pair = AlignedPair(time=TIME, reference=mine, candidate=mine)
    mine[:] = 9.0
    np.testing.assert_array_equal(pair.reference, PULSE)
    for name in ("time", "reference", "candidate"):
        assert not getattr(pair, name).flags.writeable
    with pytest.raises(AttributeError, match="cannot assign to field 'reference'"):
        pair.reference = mine  # type: ignore[misc]


@given(first=st.integers(-(10**6), 10**6), count=st.integers(2, 3000), step_s=st.floats(1e-7, 1.0))
def test_multiples_of_a_step_are_a_constant_step(first: int, count: int, step_s: float) -> None:
    """Rounding of the times, also far from zero, is no change of step."""
    time = step_s * np.arange(first, first + count)
    pair = AlignedPair(time=time, reference=np.ones(count), candidate=np.ones(count))
    assert pair.step_s == pytest.approx(step_s, rel=1e-6)
    assert len(pair) == count


def test_clock_far_from_zero_is_a_constant_step() -> None:
    """After 116 days a clock resolves 2e-9 s, more than a millionth of a step of 0.1 ms."""
    time = 1e7 + 1e-4 * np.arange(2000)
    assert AlignedPair(time=time, reference=np.ones(2000), candidate=np.ones(2000)).step_s == pytest.approx(
        1e-4
    )


def test_survives_pickling_read_only() -> None:
    """A pair that crossed to another process is as immutable as before."""
    pair = pickle.loads(pickle.dumps(AlignedPair(time=TIME, reference=PULSE, candidate=2 * PULSE)))  # noqa: S301
    np.testing.assert_array_equal(pair.candidate, 2 * PULSE)
    assert not any(array.flags.writeable for array in (pair.time, pair.reference, pair.candidate))


def test_unequal_lengths_are_refused() -> None:
    """With all three numbers."""
    with pytest.raises(SignalError, match=r"time has 5 samples, reference 5, candidate 4; .*align"):
        AlignedPair(time=TIME, reference=PULSE, candidate=PULSE[:4])


@pytest.mark.parametrize("name", ["time", "reference", "candidate"])
def test_what_is_not_finite_is_refused(name: str) -> None:
    """The curve and the sample are named."""
    curves = {"time": TIME.copy(), "reference": PULSE.copy(), "candidate": PULSE.copy()}
    curves[name][3] = np.inf
    with pytest.raises(SignalError, match=f"channel '{name}': sample 4 is inf"):
        AlignedPair(**curves)


def test_step_that_changes_is_refused() -> None:
    """The sample where it changes is named."""
    time = TIME.copy()
    time[3:] += 5e-7
    with pytest.raises(SignalError, match=r"not constant: it is 0.0001005 s before sample 4"):
        AlignedPair(time=time, reference=PULSE, candidate=PULSE)


@pytest.mark.parametrize("time", [TIME[::-1], np.zeros(5)])
def test_time_that_does_not_increase_is_refused(time: np.ndarray[Any, Any]) -> None:
    """Falling and standing times are refused as such."""
    with pytest.raises(
        SignalError, match=r"the time of sample 2, .* is not above that of the sample before it"
    ):
        AlignedPair(time=time, reference=PULSE, candidate=PULSE)


def test_times_that_were_refused_are_refused_again() -> None:
    """Only times with a constant step are remembered as checked."""
    time = np.array([0.0, 1.0, 3.0])
    time.flags.writeable = False
    for _ in range(2):
        with pytest.raises(SignalError, match="the time step is not constant"):
            AlignedPair(time=time, reference=[0, 1, 2], candidate=[0, 1, 2])


def test_a_pair_of_frozen_arrays_takes_them_as_they_are() -> None:
    """Samples are not checked again; lengths and the step are."""
    time, curve = (frozen_samples(values, channel="c") for values in ([0.0, 0.1, 0.2], [1.0, 2.0, 3.0]))
    pair = AlignedPair.of_frozen(time=time, reference=curve, candidate=curve)
    assert pair.time is time
    assert pair.reference is curve
    with pytest.raises(SignalError, match="reference 3, candidate 2"):
        AlignedPair.of_frozen(time=time, reference=curve, candidate=curve[:2])
    with pytest.raises(SignalError, match="is not above that of the sample before it"):
        AlignedPair.of_frozen(time=time[::-1], reference=curve, candidate=curve)
