"""Bounds that the best runs press against."""

from __future__ import annotations

import re

import numpy as np
import pytest

from correlate.tuning.bounds import bound_gains
from correlate.tuning.definition import TuningGoal
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.prediction import fit_predictor
from tests.tuning.functions import run_table

GOAL = TuningGoal(train=("a",))
SPACE = ParameterSpace(
    (
        Parameter(name="stiffness", unit="N/mm", lower=10, upper=1000, scale="log", start=100),
        Parameter(name="damping", unit="1", lower=0, upper=2, start=1),
    )
)


def rated(cube: np.ndarray[tuple[int, int], np.dtype[np.float64]], top: float) -> object:
    """Return runs of a hill whose top is at a share of the range of the stiffness."""
    return run_table(
        SPACE,
        SPACE.from_unit(cube),
        {"train": 0.9 - 0.3 * (cube[:, 0] - top) ** 2 - 0.2 * (cube[:, 1] - 0.4) ** 2},
    )


def points() -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return the start, runs over the box, and three at the upper bound of the stiffness."""
    spread = np.random.default_rng(4).random((16, 2)) * [0.95, 1.0]
    return np.vstack([[0.5, 0.5], spread, [[1.0, 0.4], [1.0, 0.45], [1.0, 0.35]]])


def test_the_gain_of_a_wider_bound_is_estimated() -> None:
    """The hill goes on outside: the estimate is near the truth; bound and new bound are named."""
    table = rated(points(), top=1.3)
    found = bound_gains(table, fit_predictor(table, ["train"]), GOAL)  # type: ignore[arg-type]
    (gain,) = found
    true = 0.3 * (0.3**2 - 0.2**2)
    assert (gain.parameter.name, gain.upper, gain.runs) == ("stiffness", True, 3)
    assert gain.gain == pytest.approx(true, abs=0.005)
    assert gain.low <= true <= gain.high
    assert gain.widened == pytest.approx(1000 * 100**0.1)
    assert re.match(
        r"3 of the best runs have 'stiffness' at its upper bound of 1000 N/mm; with 1585 N/mm the "
        r"objective is expected to change by \+0\.01\d",
        gain.words,
    )


def test_a_top_inside_is_no_reason_to_widen() -> None:
    """Where the best runs are inside, nothing is said."""
    table = rated(points(), top=0.5)
    assert bound_gains(table, fit_predictor(table, ["train"]), GOAL) == ()  # type: ignore[arg-type]
