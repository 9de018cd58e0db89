"""Corridors of one channel against another, by arc length."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError, SignalError
from correlate.reference.arc_length import CrossPlot
from correlate.reference.cross_plot import cross_plot_corridor
from tests.oracles.arc_length_average import mean_point

ANGLE = np.linspace(0, np.pi, 801)


def arc(radius: float, *, points: int = 801) -> CrossPlot:
    """Return half a circle."""
    angle = np.linspace(0, np.pi, points)
    return CrossPlot(x=radius * np.cos(angle), y=radius * np.sin(angle))


def loop(stiffness: float, share: float) -> CrossPlot:
    """Return loading along a line and unloading along a parabola, as a rib does."""
    up = np.linspace(0, 1, 120)
    down = np.linspace(1, 0, 120)
    x = np.concatenate((up, down[1:])) * 60 * share
    y = np.concatenate((stiffness * up, stiffness * down[1:] ** 3))
    return CrossPlot(x=x, y=y)


def test_half_circles_of_three_sizes() -> None:
    """The mean of radii 0.9, 1, 1.1 is a circle of radius 1; the half axes are a tenth of it."""
    corridor = cross_plot_corridor([arc(0.9), arc(1.0), arc(1.1)])
    assert np.hypot(corridor.x, corridor.y) == pytest.approx(1.0, abs=1e-4)
    assert corridor.x_half == pytest.approx(0.1 * np.abs(corridor.x), abs=1e-4)
    assert corridor.y_half == pytest.approx(0.1 * np.abs(corridor.y), abs=1e-4)


def test_the_number_of_samples_does_not_matter() -> None:
    """Sampling one repeat four times as densely changes the mean path by little."""
    one = cross_plot_corridor([arc(0.9), arc(1.1)])
    other = cross_plot_corridor([arc(0.9, points=3201), arc(1.1)])
    assert one.x == pytest.approx(other.x, abs=1e-4)


def test_units_do_not_matter() -> None:
    """In mm and N or in m and kN the share of a model inside is the same."""
    repeats = [loop(5.0, 1.0), loop(5.4, 0.97), loop(4.7, 1.04)]
    model = loop(5.6, 1.01)
    share = cross_plot_corridor(repeats).share_inside(model)
    scaled = [CrossPlot(x=path.x / 1e3, y=path.y * 1e3) for path in repeats]
    again = cross_plot_corridor(scaled).share_inside(CrossPlot(x=model.x / 1e3, y=model.y * 1e3))
    assert again == pytest.approx(share, abs=1e-9)
    assert 0 < share < 1


def test_against_a_literal_average() -> None:
    """Mean and spread at every station agree with a second implementation, point by point."""
    repeats = [loop(5.0, 1.0), loop(5.4, 0.97), loop(4.7, 1.04)]
    corridor = cross_plot_corridor(repeats, times=2.0, stations=21)
    plain = [list(zip(path.x.tolist(), path.y.tolist(), strict=True)) for path in repeats]
    for index, share in enumerate(corridor.share.tolist()):
        x, y, x_sd, y_sd = mean_point(plain, share)
        assert corridor.x[index] == pytest.approx(x, abs=1e-9)
        assert corridor.y[index] == pytest.approx(y, abs=1e-9)
        assert corridor.x_half[index] == pytest.approx(2 * x_sd, abs=1e-9)
        assert corridor.y_half[index] == pytest.approx(2 * y_sd, abs=1e-9)


def test_the_mean_lies_inside_and_a_far_path_outside() -> None:
    """The mean path is inside wholly, one three times as large not at all but for its start."""
    corridor = cross_plot_corridor([loop(5.0, 1.0), loop(5.4, 0.97), loop(4.7, 1.04)])
    assert corridor.share_inside(CrossPlot(x=corridor.x, y=corridor.y)) == pytest.approx(1.0)
    assert corridor.share_inside(loop(15.0, 1.0)) < 0.1


def test_a_wider_corridor_never_holds_less() -> None:
    """The share inside grows with the half width."""
    repeats = [loop(5.0, 1.0), loop(5.4, 0.97), loop(4.7, 1.04)]
    shares = [cross_plot_corridor(repeats, times=k).share_inside(loop(5.7, 1.0)) for k in (0.5, 1, 2, 3)]
    assert shares == sorted(shares)


def test_equal_repeats_sweep_their_own_path_only() -> None:
    """Without scatter the corridor is the path itself."""
    corridor = cross_plot_corridor([arc(1.0), arc(1.0)])
    assert corridor.share_inside(arc(1.05)) == 0.0
    assert float(corridor.depth(corridor.x[7], corridor.y[7])) == pytest.approx(0.0, abs=1e-9)


def test_the_assumptions_are_stated() -> None:
    """What the method takes for granted is said with the result."""
    words = " ".join(cross_plot_corridor([arc(0.9), arc(1.1)]).assumptions)
    for needed in ("arc length", "independent", "filtered", "2 repeats"):
        assert needed in words


def test_refusals() -> None:
    """One repeat, no width, few stations, a repeat that stands still, unequal lengths."""
    with pytest.raises(SignalError, match="two repeats or more"):
        cross_plot_corridor([arc(1.0)])
    with pytest.raises(SettingsError, match="0 standard deviations at 200"):
        cross_plot_corridor([arc(1.0), arc(1.1)], times=0)
    with pytest.raises(SettingsError, match="at 3 stations"):
        cross_plot_corridor([arc(1.0), arc(1.1)], stations=3)
    with pytest.raises(SignalError, match="never leaves its first point"):
        cross_plot_corridor([arc(1.0), CrossPlot(x=[1.0, 1.0], y=[2.0, 2.0])])
    with pytest.raises(SignalError, match="x has 2 points and y 3"):
        CrossPlot(x=[0.0, 1.0], y=[0.0, 1.0, 2.0])


def test_the_depth_on_a_grid_is_that_of_its_points() -> None:
    """Equal to the last bit, with as many rows as there are places on the upright axis."""
    corridor = cross_plot_corridor([arc(0.9), arc(1.0), arc(1.1)], times=1.5)
    x, y = np.linspace(-1.0, 5.0, 7), np.linspace(-2.0, 3.0, 5)
    found = corridor.depth_on_grid(x, y)
    assert found.shape == (5, 7)
    assert np.array_equal(found, corridor.depth(*np.meshgrid(x, y)))
