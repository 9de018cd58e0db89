"""The sign turns, on record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from hypothesis import given

from correlate.conditioning import turn_sign
from tests.conditioning.signals import names, sample_rows, signal_of

if TYPE_CHECKING:
    from numpy.typing import NDArray


@given(rows=sample_rows())
def test_turning_twice_gives_the_samples_back(rows: NDArray[np.float64]) -> None:
    """Once is the opposite, twice is the original, and both turns are on record."""
    raw = signal_of(rows)
    np.testing.assert_array_equal(turn_sign(raw).samples, -rows)
    twice = turn_sign(turn_sign(raw))
    np.testing.assert_array_equal(twice.samples, rows)
    assert names(twice) == ["read", "turn sign", "turn sign"]


def test_zero_stays_zero() -> None:
    """No zero turns into a negative one, which would print as -0."""
    assert not np.signbit(turn_sign(signal_of([0.0, 1.0])).samples[0])
