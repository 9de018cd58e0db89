"""One channel of the repeats against another."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import channel_cross_plot
from correlate.conditioning import Recipe
from correlate.errors import SignalError
from tests.reference.curves import pulse

RECIPE = Recipe(start_s=0.0, end_s=0.04)
SIZES = (90.0, 100.0, 110.0)


def test_points_are_pairs_of_the_same_instant() -> None:
    """With y twice x at every instant, every path is the straight line y = 2 x, whatever the timing."""
    across = [pulse(size=size, late_s=late) for size, late in zip(SIZES, (0, 0.001, -0.001), strict=True)]
    upright = [
        pulse(size=2 * size, late_s=late) for size, late in zip(SIZES, (0, 0.001, -0.001), strict=True)
    ]
    found = channel_cross_plot(
        across=across, upright=upright, across_recipe=RECIPE, upright_recipe=RECIPE, times=2.0
    )
    for path, size in zip(found.paths, SIZES, strict=True):
        assert path.y == pytest.approx(2 * path.x, abs=1e-9)
        assert path.x.max() == pytest.approx(size, rel=1e-6)
    assert found.corridor.times == 2.0
    # The mean path has 200 stations, none of which need lie on the very peak.
    assert np.max(found.corridor.x) == pytest.approx(100.0, rel=0.01)
    assert (found.x_channel, found.x_unit) == ("head ax", "g")


def test_repeats_must_have_both_channels() -> None:
    """Three of one and two of the other cannot be paired."""
    with pytest.raises(SignalError, match="3 repeats of one channel and 2 of the other"):
        channel_cross_plot(
            across=[pulse()] * 3, upright=[pulse()] * 2, across_recipe=RECIPE, upright_recipe=RECIPE
        )


def test_intervals_must_be_the_same() -> None:
    """Two intervals make no common grid."""
    with pytest.raises(SignalError, match="not on one time grid"):
        channel_cross_plot(
            across=[pulse()] * 2,
            upright=[pulse()] * 2,
            across_recipe=RECIPE,
            upright_recipe=Recipe(start_s=0.0, end_s=0.03),
        )
