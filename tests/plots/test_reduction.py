"""Reduction for drawing: fewer points, the same extremes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from correlate.samples import kept_samples

if TYPE_CHECKING:
    from numpy.typing import NDArray

curves = arrays(np.float64, st.integers(2, 400), elements=st.floats(-1e6, 1e6))
columns = st.integers(1, 30)


@given(curves, columns)
def test_no_extreme_is_lost(values: NDArray[np.float64], count: int) -> None:
    """The least and the largest drawn value are those of the whole curve, and both ends are drawn."""
    drawn = values[kept_samples(values, count)]
    assert drawn.min() == values.min()
    assert drawn.max() == values.max()
    assert drawn[0] == values[0]
    assert drawn[-1] == values[-1]


@given(curves, columns)
def test_points_stay_in_order_and_few(values: NDArray[np.float64], count: int) -> None:
    """Indices increase, each names a sample, and there are two a column and the two ends at most."""
    kept = kept_samples(values, count)
    assert (np.diff(kept) > 0).all()
    assert kept[0] == 0
    assert kept[-1] == values.size - 1
    assert kept.size <= 2 * count + 2


@given(st.integers(0, 999), st.integers(1, 40))
def test_a_single_spike_is_always_drawn(place: int, count: int) -> None:
    """One sample that stands out is kept wherever it is, up or down."""
    for height in (1.0, -1.0):
        values = np.zeros(1000)
        values[place] = height
        assert place in kept_samples(values, count)


@given(curves)
def test_a_short_curve_is_drawn_whole(values: NDArray[np.float64]) -> None:
    """With room for every sample none is left out."""
    assert kept_samples(values, values.size).tolist() == list(range(values.size))


def test_every_column_keeps_its_own_extremes() -> None:
    """A long oscillation keeps the least and the largest sample of each of its columns."""
    values = np.sin(np.arange(10_000) * 0.37) * np.linspace(1, 3, 10_000)
    kept = set(kept_samples(values, 100).tolist())
    for start in range(0, 10_000, 100):
        column = values[start : start + 100]
        assert start + int(column.argmin()) in kept
        assert start + int(column.argmax()) in kept


def test_a_long_curve_is_reduced() -> None:
    """A second of data at 100 kHz becomes a few thousand points."""
    assert kept_samples(np.sin(np.arange(100_000) / 50)).size == pytest.approx(3202, abs=10)
