"""Arrays of samples are checked once and then never written to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from correlate.conditioning import (
    derivative,
    integral,
    mean_signal,
    remove_offset,
    resample,
    resultant,
    turn_sign,
)
from correlate.errors import SignalError
from correlate.samples import frozen_samples, handed_over
from correlate.signal import Signal

if TYPE_CHECKING:
    from collections.abc import Callable

FINITE = st.floats(allow_nan=False, allow_infinity=False)


@given(npst.arrays(np.float64, st.integers(2, 50), elements=FINITE))
def test_values_are_taken_exactly(samples: np.ndarray[Any, Any]) -> None:
    """Every finite number keeps its bits, whatever the order in memory, and cannot be written to."""
    for given_samples in (samples, samples[::-1], samples.tolist()):
        frozen = frozen_samples(given_samples, channel="c")
        assert frozen.tobytes() == np.array(given_samples, dtype=np.float64).tobytes()
        assert frozen.flags.c_contiguous
        with pytest.raises(ValueError, match="read-only"):
            frozen[0] = 1.0


def read_only_view(memory: Any) -> np.ndarray[Any, Any]:
    """Return an array that cannot be written to and looks into memory that can."""
    view = np.frombuffer(memory) if isinstance(memory, bytearray) else memory[:]
    view.flags.writeable = False
    return view


@pytest.mark.parametrize("memory", [np.zeros(3), bytearray(24)])
def test_changing_the_input_changes_nothing(memory: Any) -> None:
    """Not even through a read-only view of memory that somebody else can write to."""
    frozen = frozen_samples(read_only_view(memory), channel="c")
    memory[:] = b"\x01" * 24 if isinstance(memory, bytearray) else 7.0
    np.testing.assert_array_equal(frozen, np.zeros(3))


def test_frozen_arrays_are_not_copied() -> None:
    """Neither an array that is frozen already, nor a part of it, nor a view of immutable bytes."""
    frozen = frozen_samples([1.0, 2.0, 3.0], channel="c")
    assert frozen_samples(frozen, channel="c") is frozen
    assert np.shares_memory(frozen_samples(frozen[1:], channel="c"), frozen)
    of_bytes = np.frombuffer(bytes(24))
    assert frozen_samples(of_bytes, channel="c") is of_bytes


def test_an_array_that_was_handed_over_is_not_copied_and_nobody_can_write_to_it() -> None:
    """A reference that was kept, and a view of it, cannot change the samples."""
    kept = np.array([1.0, 2.0, 3.0])
    frozen = frozen_samples(handed_over(kept), channel="c")
    assert frozen is kept
    for reference in (kept, kept[1:]):
        with pytest.raises(ValueError, match="read-only"):
            reference[0] = 7.0


@pytest.mark.parametrize("samples", [[], [1.0], 5.0, [[1.0, 2.0], [3.0, 4.0]], None])
def test_wrong_shapes_are_refused(samples: Any) -> None:
    """One row of at least two samples."""
    with pytest.raises(SignalError, match=r"channel 'head ax': the samples have shape .*; give one row"):
        frozen_samples(samples, channel="head ax")


@pytest.mark.parametrize("samples", ["abc", ["1", "x"], [1 + 2j, 3], [[1.0], [1.0, 2.0]], [object(), 1]])
def test_what_is_no_number_is_refused(samples: Any) -> None:
    """Texts, complex numbers and ragged rows are refused in the same manner as everything else."""
    with pytest.raises(SignalError, match="channel 'head ax': the samples are not all real numbers"):
        frozen_samples(samples, channel="head ax")


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_what_is_not_finite_is_refused(value: float) -> None:
    """The first such sample is named, counted from 1."""
    with pytest.raises(SignalError, match=f"sample 2 is {value}; export the channel again"):
        frozen_samples([0.0, value, np.nan], channel="head ax")


def test_a_view_that_was_handed_over_is_frozen_with_the_array_behind_it() -> None:
    """A result whose shape a library changed is not copied, and the memory behind it cannot be written to."""
    behind = np.array([[1.0], [2.0], [3.0]])
    shaped = behind.reshape(3)
    assert frozen_samples(handed_over(shaped), channel="c") is shaped
    with pytest.raises(ValueError, match="read-only"):
        behind[0, 0] = 7.0


FORCE = Signal(samples=np.sin(np.arange(200) / 9), start_s=-0.002, step_s=5e-5, unit="kN", channel="force")
STEPS: dict[str, Callable[[Signal], Signal]] = {
    "offset": lambda signal: remove_offset(signal, start_s=-0.002, end_s=-0.001),
    "finer grid": lambda signal: resample(signal, step_s=2e-5),
    "derivative": derivative,
    "integral": integral,
    "mean": lambda signal: mean_signal([signal, turn_sign(signal)], ["a", "b"]),
    "resultant": lambda signal: resultant(signal, signal, signal),
}


@pytest.mark.parametrize("step", STEPS)
def test_steps_do_not_copy_what_they_computed(step: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each new array of a step is that of the new signal; only arrays that other code holds are copied."""
    copied: list[int] = []
    STEPS[step](FORCE)  # loads its libraries, which create arrays

    def counting(array: Any, **settings: Any) -> Any:
        # Libraries call this, too, without stating an order in memory.
        if "order" in settings:
            copied.append(np.size(array))
        return array_of(array, **settings)

    array_of = np.array
    monkeypatch.setattr(np, "array", counting)
    result = STEPS[step](FORCE)
    held = np.ones(7)
    Signal(samples=held, start_s=0.0, step_s=1.0, unit="N", channel="held")
    assert [size for size in copied if size == len(result)] == []
    assert copied[-1] == 7
    with pytest.raises(ValueError, match="read-only"):
        result.samples[0] = 1.0
