"""Where runs fail: said where it is so, and hardly ever where chance alone made it look so."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import hypergeom

from correlate.tuning.failed_regions import LEVEL, failed_regions
from correlate.tuning.parameters import Parameter, ParameterSpace
from tests.tuning.functions import box, run_table

REPEATS = 200


def status_of(failed: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[str]:
    """Return how runs ended, the failed ones in different ways."""
    ways = np.resize(["failed", "timed out", "unfinished", "unstable"], failed.size)
    return [str(way) for way in np.where(failed, ways, "done")]


def test_a_bound_of_one_parameter_is_found_and_put_in_words() -> None:
    """Six of the seven stiffest failed and one of the others; the number stands between two runs."""
    modulus = Parameter(name="neck_rubber_modulus", unit="MPa", lower=1, upper=10, scale="log", start=3)
    space = ParameterSpace((Parameter(name="damping", unit="1", lower=0, upper=1, start=0.5), modulus))
    points = np.column_stack([np.random.default_rng(3).random(40), np.geomspace(1, 10, 40)])
    failed = np.isin(np.arange(40), [5, 33, 34, 36, 37, 38, 39])
    [region] = failed_regions(run_table(space, points, {}, status=status_of(failed)))
    assert region.words == (
        "runs fail where neck_rubber_modulus is above 6.8 MPa (6 of 7 failed there, 1 of 33 elsewhere)"
    )
    assert points[32, 1] < region.value < points[33, 1]
    assert region.p <= 0.01


def test_two_ends_of_a_range_are_two_regions() -> None:
    """The second is looked for among the runs outside the first."""
    points = np.random.default_rng(0).random((80, 4))
    failed = (points[:, 2] < 0.2) | (points[:, 2] > 0.75)
    found = failed_regions(run_table(box(*[(0, 1)] * 4), points, {}, status=status_of(failed)))
    assert [(one.parameter, one.failed_inside == one.inside) for one in found] == [("x2", True), ("x2", True)]
    assert {one.above for one in found} == {True, False}
    assert found[1].failed_outside == 0


@pytest.mark.parametrize(
    "status", [["done"] * 9, ["failed"] * 9, ["waiting"] * 9, ["failed", *["waiting"] * 8]]
)
def test_runs_that_ended_alike_say_nothing(status: list[str]) -> None:
    """Nor do runs that have not ended."""
    points = np.random.default_rng(0).random((9, 2))
    assert failed_regions(run_table(box((0, 1), (0, 1)), points, {}, status=status)) == ()


def test_runs_of_one_value_are_never_parted() -> None:
    """Of levels, as in a Morris design, the bound lies between two."""
    level = np.repeat([0.0, 0.5, 1.0], 10)
    table = run_table(box((0, 1)), level[:, None], {}, status=status_of(level == 1.0))
    [region] = failed_regions(table)
    assert (region.value, region.inside, region.failed_inside) == (0.75, 10, 10)


def test_the_share_of_shuffles_is_that_of_fisher_for_one_bound() -> None:
    """With two levels there is one bound, and both sides of it: the p of the test can be summed by hand."""
    level = np.repeat([0.0, 1.0], [12, 8])
    failed = np.isin(np.arange(20), [1, 12, 13, 14, 15, 16])
    [region] = failed_regions(run_table(box((0, 1)), level[:, None], {}, status=status_of(failed)))
    chances = hypergeom.pmf(np.arange(7), 20, 6, 8)
    one_sided = np.minimum(np.cumsum(chances), np.cumsum(chances[::-1])[::-1])
    exact = chances[one_sided <= one_sided[5] * (1 + 1e-9)].sum()
    assert region.p == pytest.approx(exact, abs=0.02)


def test_chance_alone_is_seldom_taken_for_a_region() -> None:
    """Failures at random among 30 runs of 8 parameters: at most 5 in 100, within three standard errors."""
    alarms = 0
    for seed in range(REPEATS):
        random = np.random.default_rng(seed)
        points, failed = random.random((30, 8)), random.permutation(np.arange(30) < 6)
        alarms += bool(failed_regions(run_table(box(*[(0, 1)] * 8), points, {}, status=status_of(failed))))
    assert alarms / REPEATS <= LEVEL + 3 * np.sqrt(LEVEL * (1 - LEVEL) / REPEATS)
    assert alarms, "a test that never speaks says nothing"
