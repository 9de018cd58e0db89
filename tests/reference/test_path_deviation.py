"""Signed distance between a mean path and a candidate, in both directions."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.reference.arc_length import CrossPlot
from correlate.reference.cross_plot import CrossPlotCorridor, cross_plot_corridor
from correlate.reference.path_deviation import path_deviation
from tests.oracles.path_distance import signed_distance


def arc(radius: float, end: float = np.pi, *, mirror: int = 1) -> CrossPlot:
    """Return a part of a circle, against the clock from (radius, 0)."""
    angle = np.linspace(0, end, 801)
    return CrossPlot(x=radius * np.cos(angle), y=mirror * radius * np.sin(angle))


def around(mirror: int = 1) -> CrossPlotCorridor:
    """Return the corridor of half circles of radius 0.9, 1 and 1.1: scales of 1, standard deviation 0.1."""
    return cross_plot_corridor([arc(radius, mirror=mirror) for radius in (0.9, 1.0, 1.1)])


def test_circles_differ_by_their_radii() -> None:
    """A larger circle lies to the right of one that turns left, a smaller one to the left, by the radius."""
    for radius in (0.8, 1.25):
        found = path_deviation(around(), arc(radius))
        assert found.from_mean == pytest.approx(1 - radius, abs=2e-3)
        assert found.from_candidate == pytest.approx(1 - radius, abs=2e-3)
        assert found.mean == pytest.approx(1 - radius, abs=2e-3)
        assert found.rms == pytest.approx(abs(1 - radius), abs=2e-3)
        assert found.largest == pytest.approx(abs(1 - radius), abs=2e-3)


def test_the_mirrored_paths_have_the_other_sign() -> None:
    """Mirrored at an axis, left becomes right and every distance keeps its size."""
    plain, turned = path_deviation(around(), arc(1.2)), path_deviation(around(-1), arc(1.2, mirror=-1))
    assert turned.from_mean == pytest.approx(-plain.from_mean)
    assert turned.from_candidate == pytest.approx(-plain.from_candidate)


def test_units_do_not_matter() -> None:
    """With x in other units than before, the distances in the scaled plane are the same."""

    def scaled(path: CrossPlot) -> CrossPlot:
        return CrossPlot(x=1e3 * path.x, y=path.y)

    plain = path_deviation(around(), arc(1.2))
    other = path_deviation(cross_plot_corridor([scaled(arc(r)) for r in (0.9, 1.0, 1.1)]), scaled(arc(1.2)))
    assert other.from_mean == pytest.approx(plain.from_mean, abs=1e-9)
    assert other.from_candidate == pytest.approx(plain.from_candidate, abs=1e-9)


def test_each_direction_sees_what_the_other_does_not() -> None:
    """A candidate that stops early has near points only, far from the end of the mean; and vice versa."""
    short = path_deviation(around(), arc(1.0, 0.8 * np.pi), reach=1.0)
    assert np.abs(short.from_candidate).max() < 0.01
    assert np.abs(short.from_mean).max() == pytest.approx(2 * np.sin(0.1 * np.pi), abs=0.01)
    long = path_deviation(around(), arc(1.0, 1.2 * np.pi), reach=1.0)
    assert np.abs(long.from_mean).max() < 0.01
    assert np.abs(long.from_candidate).max() == pytest.approx(2 * np.sin(0.1 * np.pi), abs=0.01)


def test_loading_is_not_compared_with_unloading() -> None:
    """A loop that returns along its own line: without a bound a candidate's loading looks like unloading."""

    def loop(lower: float) -> CrossPlot:
        up, down = np.linspace(0, 1, 300), np.linspace(1, 0, 300)[1:]
        return CrossPlot(
            x=np.concatenate((up, down)), y=np.concatenate((up, down**2 * (1 - lower) + down * lower))
        )

    corridor = cross_plot_corridor([loop(0.0), loop(0.02)])
    candidate = loop(0.9)
    near = path_deviation(corridor, candidate, reach=0.15)
    anywhere = path_deviation(corridor, candidate, reach=1.0)
    assert near.rms > 1.3 * anywhere.rms


def test_against_a_literal_implementation() -> None:
    """Distances and signs agree with one that looks at every segment."""
    corridor, candidate = around(), CrossPlot(x=[1.05, 0.8, 0.1, -0.7, -1.0], y=[0.0, 0.7, 1.1, 0.6, 0.0])
    found = path_deviation(corridor, candidate, reach=1.0)
    mean = list(
        zip((corridor.x / corridor.x_scale).tolist(), (corridor.y / corridor.y_scale).tolist(), strict=True)
    )
    steps = np.hypot(np.diff(candidate.x), np.diff(candidate.y))
    at = np.concatenate(([0.0], np.cumsum(steps))) / steps.sum()
    x = np.interp(found.candidate_share, at, candidate.x) / corridor.x_scale
    y = np.interp(found.candidate_share, at, candidate.y) / corridor.y_scale
    for number in range(3, x.size - 3, 71):
        expected = signed_distance((float(x[number]), float(y[number])), mean)
        assert found.from_candidate[number] == pytest.approx(expected, abs=2e-3)


def test_a_candidate_on_the_mean_is_at_no_distance() -> None:
    """The mean path itself: zero in both directions."""
    corridor = around()
    found = path_deviation(corridor, CrossPlot(x=corridor.x, y=corridor.y))
    assert found.largest < 1e-8


def test_a_reach_of_nothing_is_refused() -> None:
    """Points can be compared only within some share of the arc."""
    with pytest.raises(SettingsError, match="reach along the arc is 0"):
        path_deviation(around(), arc(1.0), reach=0)
