"""Parameters, and exchanges of parameters, that the tests do not determine."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.tuning.identifiability import (
    EVEN,
    UNSURE,
    deviation_of,
    exchange,
    fisher_information,
    identify,
    loose_directions,
)
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.repeat_scatter import repeat_scatter
from tests.tuning.card_problems import SPACE, problem
from tests.tuning.functions import box

THREE = box((0, 1), (0, 1), (0, 1))
NONE = np.zeros((3, 3))
MIDDLE = np.full(3, 0.5)


def slopes_of(
    information: np.ndarray[tuple[int, int], np.dtype[np.float64]],
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return slopes of curves that have this information when their errors are independent and of size 1."""
    values, vectors = np.linalg.eigh(information)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def test_a_range_is_worth_as_much_as_its_variance() -> None:
    """Without information a value is anywhere in its range: 1/√12; with much, its own deviation."""
    assert deviation_of(0.0) == pytest.approx(EVEN)
    assert deviation_of(1e6) == pytest.approx(1e-3, rel=1e-4)


def test_a_single_parameter_is_told_by_name() -> None:
    """Nothing of x1 is known, and x0 and x2 are."""
    information = np.diag([1e4, 0.0, 1e4])
    (found,) = loose_directions(information, NONE, slopes_of(information), THREE, MIDDLE)
    assert found.names == ("x1",)
    assert found.words == "the tests do not determine 'x1'"
    assert found.sure
    assert found.deviation == pytest.approx(EVEN)


def test_a_tie_is_told_with_its_line_although_the_correlation_is_small() -> None:
    """Only 3 x0 + x2 counts; the exchange is 1 of x0 with −3 of x2."""
    along = np.array([3.0, 0.0, 1.0])
    information = 1e4 * (np.outer(along, along) + np.diag([0.0, 1.0, 0.0]))
    (found,) = loose_directions(information, NONE, slopes_of(information), THREE, MIDDLE)
    assert found.names == ("x0", "x2")
    assert abs(found.direction @ along) < 1e-6
    assert found.direction[2] / found.direction[0] == pytest.approx(-3.0)
    assert found.words.startswith("'x0' and 'x2' can be exchanged along a line: +")
    assert "+3.3 % of 'x0' with −10 % of 'x2' changes no curve by more than the scatter of the" in found.words


def test_three_together_and_what_is_left_are_told() -> None:
    """Where only differences are known, all three go together; of four, one direction is left."""
    differences = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
    information = 1e5 * differences.T @ differences
    (found,) = loose_directions(information, NONE, slopes_of(information), THREE, MIDDLE)
    assert found.names == ("x0", "x1", "x2")
    four = box(*[(0, 1)] * 4)
    differences = np.array([[1.0, -1, 0, 0], [0, 1, -1, 0], [0, 0, 1, -1]])
    information = 1e5 * differences.T @ differences
    (found,) = loose_directions(information, np.zeros((4, 4)), slopes_of(information), four, np.full(4, 0.5))
    assert len(found.names) == 4
    assert np.abs(found.direction) == pytest.approx(np.full(4, 0.5))


def test_information_that_may_be_an_error_is_not_believed() -> None:
    """Slopes of x1 are seen, but no larger than the doubt: as far as the runs show it is not determined."""
    information = np.diag([1e4, 400.0, 1e4])
    assert loose_directions(information, NONE, slopes_of(information), THREE, MIDDLE) == ()
    (found,) = loose_directions(
        information, np.diag([0.0, 500.0, 0.0]), slopes_of(information), THREE, MIDDLE
    )
    assert not found.sure
    assert found.words == f"the tests do not determine 'x1'{UNSURE}"


def test_an_exchange_stays_in_the_box_and_within_the_scatter() -> None:
    """At most a tenth of a value, the box, or one standard deviation of a test, whichever comes first."""
    space = ParameterSpace(
        (
            Parameter(name="a", unit="N", lower=1, upper=4, scale="log", start=2),
            Parameter(name="b", unit="N", lower=0, upper=1, start=0.5),
        )
    )
    line = np.array([1.0, -1.0]) / np.sqrt(2)
    tenth = exchange(space, np.array([0.5, 0.9]), line, 0.0)
    assert np.max(np.abs(tenth) / [2.0, 0.9]) == pytest.approx(0.1, rel=1e-6)
    short = exchange(space, np.array([0.5, 0.9]), line, 100.0)
    assert abs(short[1]) == pytest.approx(1e-2 / np.sqrt(2), rel=1e-6)
    assert np.all(exchange(space, np.array([1.0, 1.0]), np.array([1.0, -1.0]), 0.0) == 0)
    edge = exchange(space, np.array([1.0, 0.5]), line, 0.0)
    assert edge[0] <= 0
    assert edge[1] > 0


def test_two_springs_in_series_are_tied_unless_one_is_measured() -> None:
    """Only the two together are seen: the line is found; with one measured, nothing is."""
    point = np.array([0.6, 0.4, 0.5, 0.45, 0.55])
    tied = problem(determined=False, seed=11).tested(point, np.random.default_rng(1))
    found = identify(tied, repeat_scatter(tied), SPACE, point)
    assert [one.names for one in found.loose] == [("foam_modulus", "rib_stiffness")]
    assert found.deviations.max() == pytest.approx(EVEN, rel=0.05)
    assert "can be exchanged along a line" in found.words[0]
    both = problem(determined=True, seed=11).tested(point, np.random.default_rng(1))
    assert identify(both, repeat_scatter(both), SPACE, point).loose == ()


def test_the_information_of_the_mean_grows_with_the_repeats() -> None:
    """Sixteen tests say about four times as much as four, where the emulator is exact enough."""
    made = problem(determined=True, seed=12)
    point = np.full(len(SPACE.names), 0.5)
    few, many = (
        np.median(
            [
                np.linalg.eigvalsh(fisher_information(curves, repeat_scatter(curves), point)[1])[2]
                for curves in (
                    made.tested(point, np.random.default_rng(seed), repeats=repeats, scatter=0.3)
                    for seed in range(4)
                )
            ]
        )
        for repeats in (4, 16)
    )
    assert 2.0 < many / few < 12.0
