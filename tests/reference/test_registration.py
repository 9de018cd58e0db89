"""Registration by features and by warping, over time and along the arc."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.reference.arc_length import CrossPlot
from correlate.reference.corridor import spread_corridor
from correlate.reference.cross_plot import cross_plot_corridor
from correlate.reference.registration import (
    ArcRegistration,
    equal_shares,
    features_along_arc,
    registered_by_features,
    warped_along_arc,
)
from correlate.reference.repeats import RepeatSet, repeat_set
from tests.reference.curves import STEP_S, signal

TIME_S = np.arange(601) * STEP_S
SECOND_S = (0.038, 0.040, 0.0415)


def two_bells(second_s: float, size: float = 1.0) -> np.ndarray:
    """Return a bell at 15 ms and one at a given time, 0 to 60 ms."""
    first = np.exp(-(((TIME_S - 0.015) / 0.003) ** 2))
    return np.asarray(size * (first + 0.8 * np.exp(-(((TIME_S - second_s) / 0.003) ** 2))))


def repeats(sizes: tuple[float, ...] = (1.0, 1.0, 1.0)) -> RepeatSet:
    """Return three repeats whose second bells come at different times, not moved."""
    curves = [two_bells(late_s, size) for late_s, size in zip(SECOND_S, sizes, strict=True)]
    return repeat_set([signal(curve, start_s=0.0) for curve in curves], largest_shift_s=0.0)


def bend(width: float, height: float) -> CrossPlot:
    """Return a path to the right and then up: its bend is at another share of the arc for each."""
    along = np.linspace(0, 1, 200)
    x = np.concatenate((width * along, np.full(199, width)))
    return CrossPlot(x=x, y=np.concatenate((np.zeros(200), height * along[1:])))


BENDS = [bend(1.0, 1.0), bend(1.1, 0.9), bend(0.9, 1.05)]


def to_corner(corridor_x: np.ndarray, corridor_y: np.ndarray) -> float:
    """Return the distance of a mean path from the mean corner of the bends."""
    return float(np.hypot(corridor_x - 1.0, corridor_y).min())


def test_a_corridor_does_not_widen_where_a_peak_comes_at_different_times() -> None:
    """Curves that differ by the time of one peak: registered, they hardly scatter, and the peak is kept."""
    still = repeats()
    moved = registered_by_features(still, 0.004)
    assert still.standard_deviation.max() > 0.3
    assert moved.standard_deviation.max() < 0.04
    assert still.mean[300:].max() < 0.75
    assert moved.mean[300:].max() == pytest.approx(0.8, abs=0.005)


def test_the_moves_are_reported() -> None:
    """The second peak is brought to the mean of its times; the first one stays."""
    peaks = [one for one in registered_by_features(repeats(), 0.004).landmarks if one.kind == "peak"]
    assert [one.common for one in peaks] == pytest.approx([0.015, np.mean(SECOND_S)], abs=2e-5)
    assert peaks[0].moves == pytest.approx((0, 0, 0), abs=2e-5)
    assert peaks[1].moves == pytest.approx(np.mean(SECOND_S) - np.array(SECOND_S), abs=4e-5)
    words = spread_corridor(registered_by_features(repeats(), 0.004)).assumptions
    assert any("features were brought to common times" in one for one in words)


def test_scatter_in_size_is_not_registered_away() -> None:
    """Sizes that differ by 10 % scatter as much after registration as peaks do."""
    sizes = (0.9, 1.0, 1.1)
    moved = registered_by_features(repeats(sizes), 0.004)
    assert moved.standard_deviation[150] == pytest.approx(0.1, abs=0.002)
    assert moved.standard_deviation.max() == pytest.approx(0.1, abs=0.005)


def test_the_order_of_repeats_and_the_unit_do_not_matter() -> None:
    """Permuted, scaled and mirrored repeats give permuted, scaled and mirrored curves."""
    base = registered_by_features(repeats(), 0.004).curves
    curves = [-1e3 * two_bells(late_s) for late_s in reversed(SECOND_S)]
    other = repeat_set([signal(curve, start_s=0.0) for curve in curves], largest_shift_s=0.0)
    assert registered_by_features(other, 0.004).curves[::-1] == pytest.approx(-1e3 * base, abs=1e-6)


def test_curves_without_features_stay() -> None:
    """Flat repeats have no landmark and are not changed."""
    flat = repeat_set([signal(np.full(50, value), start_s=0.0) for value in (1.0, 2.0)], largest_shift_s=0.0)
    found = registered_by_features(flat, 0.002)
    assert found.landmarks == ()
    assert (found.curves == flat.curves).all()
    with pytest.raises(SettingsError, match="largest move of a feature"):
        registered_by_features(flat, 0.0)


@pytest.mark.parametrize("registration", [warped_along_arc, partial(warped_along_arc, control_points=9)])
def test_warping_keeps_a_bend_that_equal_shares_cut(registration: object) -> None:
    """The mean of paths with bends at other shares cuts the corner; warped, it passes much nearer."""
    plain = cross_plot_corridor(BENDS)
    warped = cross_plot_corridor(BENDS, registration=registration)  # type: ignore[arg-type]
    assert to_corner(plain.x, plain.y) > 0.025
    assert to_corner(warped.x, warped.y) < 0.5 * to_corner(plain.x, plain.y)
    assert (warped.x_half * warped.y_half).sum() < (plain.x_half * plain.y_half).sum()


def test_warped_paths_correlate_better() -> None:
    """The mean correlation of x with x and y with y among the repeats is larger after warping than before."""

    def correlation(found: ArcRegistration) -> float:
        pairs = []
        for axis in "xy":
            arcs = [np.linspace(0, 1, 399) for _ in BENDS]
            for path, at in zip(BENDS, arcs, strict=True):
                steps = np.hypot(np.diff(path.x), np.diff(path.y))
                at[1:] = np.cumsum(steps) / steps.sum()
            curves = [
                np.interp(own, at, getattr(path, axis))
                for own, at, path in zip(found.own, arcs, BENDS, strict=True)
            ]
            pairs += [np.corrcoef(curves)[np.triu_indices(3, 1)]]
        return float(np.mean(pairs))

    assert correlation(warped_along_arc(BENDS)) > correlation(equal_shares(BENDS)) + 0.005


def test_a_large_penalty_moves_nothing() -> None:
    """With a penalty that outweighs every distance, points at equal shares correspond."""
    assert warped_along_arc(BENDS, penalty=1e6).largest_move < 1e-3
    assert 0.01 < warped_along_arc(BENDS).largest_move < 0.075


def test_maps_along_the_arc_rise_and_have_no_common_part() -> None:
    """Every map rises from 0 to 1; on average nothing is moved."""
    for found in (warped_along_arc(BENDS), features_along_arc(BENDS)):
        assert (np.diff(found.own, axis=1) >= 0).all()
        assert (found.own[:, 0] == 0).all()
        assert found.own[:, -1] == pytest.approx(1.0)
    assert warped_along_arc(BENDS).own.mean(axis=0) == pytest.approx(warped_along_arc(BENDS).share, abs=0.01)


def test_equal_paths_are_not_moved() -> None:
    """Repeats that are the same need no warping."""
    assert warped_along_arc([BENDS[0], BENDS[0]]).largest_move < 1e-6


def test_features_of_a_loop_correspond() -> None:
    """The largest value of y is at one share for all repeats after registration, as high as their mean."""

    def loop(turn: float) -> CrossPlot:
        up, down = np.linspace(0, 1, 300), np.linspace(1, 0, 300)[1:]
        back = 0.2 * np.linspace(0, 1, 300)[1:]
        x = np.concatenate((up * turn, turn - back * turn))
        return CrossPlot(x=x, y=np.concatenate((up, down)))

    paths = [loop(0.6), loop(1.0), loop(1.4)]
    registered = cross_plot_corridor(paths, registration=features_along_arc)
    plain = cross_plot_corridor(paths)
    assert plain.y.max() < 0.97
    assert registered.y.max() == pytest.approx(1.0, abs=0.02)
    found = features_along_arc(paths)
    assert {one.of for one in found.landmarks} <= {"x", "y"}
    assert any(one.kind == "peak" for one in found.landmarks)


def test_refusals() -> None:
    """No control point, no penalty, no bound."""
    with pytest.raises(SettingsError, match="0 control points"):
        warped_along_arc(BENDS, control_points=0)
    with pytest.raises(SettingsError, match="penalty of 0"):
        warped_along_arc(BENDS, penalty=0)
    with pytest.raises(SettingsError, match="largest move of a feature"):
        features_along_arc(BENDS, largest_move=0)
