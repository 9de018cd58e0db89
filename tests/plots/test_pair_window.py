"""Samples and bins of the time that is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import account_for_loss
from correlate.plots.pair import OUTSIDE_COLUMNS, bin_width, kept_in_window, within
from tests.plots.scores import late_model

if TYPE_CHECKING:
    from numpy.typing import NDArray


@given(
    size=st.integers(2, 4000),
    start=st.floats(0, 0.9),
    length=st.floats(0.01, 0.5),
    seed=st.integers(0, 99),
)
def test_no_peak_of_the_window_is_lost(size: int, start: float, length: float, seed: int) -> None:
    """Of the window and of the whole, the least and the largest sample are kept; indices increase."""
    time: NDArray[np.float64] = np.linspace(0.0, 1.0, size)
    values = np.random.default_rng(seed).normal(size=size)
    window = (start, start + length)
    kept = kept_in_window(time, values, window, columns=50)
    assert np.all(np.diff(kept) > 0)
    assert kept[0] == 0
    assert kept[-1] == size - 1
    assert values[kept].max() == values.max()
    inside = np.flatnonzero((time >= window[0]) & (time <= window[1]))
    if inside.size:
        drawn = values[np.intersect1d(inside, kept)]
        assert (drawn.min(), drawn.max()) == (values[inside].min(), values[inside].max())
    assert kept.size <= 2 * 50 + 2 + 2 * (2 * OUTSIDE_COLUMNS + 2)


def test_a_narrow_window_shows_every_sample() -> None:
    """Zoomed in far enough, nothing is reduced."""
    time = np.arange(35_000, dtype=np.float64) * np.float64(1e-4)
    kept = kept_in_window(time, np.sin(time), (1.0, 1.1), columns=600)
    assert set(range(10_000, 11_001)) <= set(kept.tolist())


@pytest.mark.parametrize("window", [None, (0.01, 0.02), (0.0101, 0.0103)])
def test_bins_are_round_and_hold_the_whole_loss_of_the_window(window: tuple[float, float] | None) -> None:
    """The bars of the window add up to what its samples lose, in at most 121 bins of at least a step."""
    account = account_for_loss(late_model().rating)
    seen = within(account, window)
    width_s = bin_width(seen)
    bins = seen.bins(width_s)
    assert width_s >= 1e-4 * (1 - 1e-9)
    assert bins.total.size <= 121
    start, end = window or (0.0, 0.04)
    inside = (account.time > start - 1e-9) & (account.time < end + 1e-9)
    expected = sum(lost[inside].sum() for lost in account.by_sample.values())
    assert bins.total.sum() == pytest.approx(expected, abs=1e-12)


def test_a_window_without_samples_leaves_the_account_whole() -> None:
    """There is nothing finer to show."""
    account = account_for_loss(late_model().rating)
    assert within(account, (0.01001, 0.01002)) is account
