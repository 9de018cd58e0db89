"""A pair as a small figure: the same curves and corridors as in the large one."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.plots import pair_figure
from correlate.plots.small_pair import SMALL_HEIGHT, small_pair_figure
from correlate.plots.svg_figure import figure_svg
from tests.plots.scores import late_model


def test_its_lines_are_those_of_the_large_figure() -> None:
    """Corridors, test and model have the same extremes, colours and dashes: one legend serves both."""
    score = late_model()
    small, large = small_pair_figure(score), pair_figure(score)
    assert len(small.data) == 6
    for ours, theirs in zip(small.data, large.data, strict=False):
        assert (ours.line.color, ours.line.dash) == (theirs.line.color, theirs.line.dash)
        assert ours.fillcolor == theirs.fillcolor
        assert (min(ours.y), max(ours.y)) == pytest.approx((min(theirs.y), max(theirs.y)))
        assert np.array_equal([ours.x[0], ours.x[-1]], [theirs.x[0], theirs.x[-1]])


def test_it_names_both_units_and_has_no_legend() -> None:
    """Its caption names the channel; the units stand at the axes."""
    svg = figure_svg(small_pair_figure(late_model()), words="w", name="n", width=300)
    assert ">[m/s²]</text>" in svg
    assert ">time [ms]</text>" in svg
    assert "corridor" not in svg
    assert f'viewBox="0 0 300 {SMALL_HEIGHT}"' in svg
