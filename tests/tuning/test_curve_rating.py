"""Rating emulated curves: the same numbers as those of runs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.tuning.curve_rating import CurveRater
from correlate.tuning.definition import LOSS_RATIO, WORST_CHANNEL
from correlate.tuning.rating import RunRater
from correlate.tuning.runs import TRAIN
from tests.benchmarks.tuning import spill
from tests.benchmarks.tuning.problem import Problem

if TYPE_CHECKING:
    from correlate.tuning.runs import RunTable
    from correlate.tuning.traces import TraceTable


@pytest.fixture(scope="module")
def problem(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    """Build a problem whose solver is a formula."""
    return Problem(spill.KIND, tmp_path_factory.mktemp("curves"))


@pytest.fixture(scope="module")
def table(problem: Problem) -> RunTable:
    """Run six points."""
    cube = np.vstack([problem.start, np.random.default_rng(3).random((5, problem.start.size))])
    return problem.table(problem.space.from_unit(cube), [0] * 6)


@pytest.fixture(scope="module")
def traces(problem: Problem, table: RunTable) -> TraceTable:
    """Return the curves of the runs."""
    return problem.traces(table)


def test_curves_of_runs_have_the_outcomes_of_the_runs(
    problem: Problem, table: RunTable, traces: TraceTable
) -> None:
    """Every rating, component and feature equals that of scoring the files, to rounding."""
    rater = CurveRater(problem.rater, traces.channels)
    names = [name for name in table.outcomes if not name.startswith("spread/")]
    found = rater.outcomes(dict(enumerate(traces.curves)), names)
    assert {TRAIN, WORST_CHANNEL} < set(found)
    assert set(found) == set(names)
    for name, values in found.items():
        assert values == pytest.approx(table.outcomes[name], rel=1e-9, abs=1e-9, nan_ok=True), name


def test_features_are_those_of_the_runs(problem: Problem, traces: TraceTable) -> None:
    """The peak of a curve, as the file of the run gives it."""
    rater = CurveRater(problem.rater, traces.channels)
    channel = traces.channels[0]
    name = f"feature/{channel.load_case}/{channel.channel}/peak"
    peaks = rater.outcomes({0: traces.curves[0]}, [name])[name]
    assert np.abs(peaks) == pytest.approx(np.abs(traces.curves[0]).max(axis=1))


def test_thinned_curves_rate_nearly_the_same(problem: Problem, table: RunTable, traces: TraceTable) -> None:
    """About a hundred samples of each curve rate the runs as all of them do, but for a small difference."""
    rater = CurveRater(problem.rater, traces.channels)
    strides = rater.strides(thin=True)
    thinned = {place: one[:, :: strides[place]] for place, one in enumerate(traces.curves)}
    found = rater.outcomes(thinned, [TRAIN], thin=True)[TRAIN]
    assert max(strides) > 1
    assert found == pytest.approx(table.outcomes[TRAIN], abs=0.03)
    assert np.corrcoef(found, table.outcomes[TRAIN])[0, 1] > 0.99


def test_only_the_channels_of_an_outcome_are_needed(problem: Problem, traces: TraceTable) -> None:
    """A load case needs its own channels, and is rated from them alone."""
    rater = CurveRater(problem.rater, traces.channels)
    case = problem.tuning.goal.held_out[0]
    places = rater.needed([f"load case/{case}"])
    assert {traces.channels[place].load_case for place in places} == {case}
    everything = rater.outcomes(dict(enumerate(traces.curves)), [f"load case/{case}"])
    alone = rater.outcomes({place: traces.curves[place] for place in places}, [f"load case/{case}"])
    assert (alone[f"load case/{case}"] == everything[f"load case/{case}"]).all()


def test_the_loss_ratio_is_one_for_curves_as_good_as_the_tests(problem: Problem, traces: TraceTable) -> None:
    """By hand from the channels and their ceilings; it is a weighted sum of ratings beside a constant."""
    tuning = problem.tuning
    before = tuning.goal
    tuning.goal = replace(before, objective="loss ratio", outcomes=(LOSS_RATIO,))
    try:
        rater = RunRater(tuning)
        curves = CurveRater(rater, traces.channels)
        assert LOSS_RATIO in curves.ratings
        channels = [name for name in curves.ratings if name.startswith("channel/")]
        found = curves.outcomes(dict(enumerate(traces.curves)), [LOSS_RATIO, TRAIN, *channels])
        ceilings = rater._ceilings
        ratios = np.array(
            [
                (1 - found[f"channel/{case}/{channel}"]) / max(1 - ceiling, 0.01)
                for (case, channel), ceiling in ceilings.items()
            ]
        )
    finally:
        tuning.goal = before
    # All channels of this problem have the same share.
    assert -found[LOSS_RATIO] == pytest.approx(ratios.mean(axis=0))
    assert (-found[LOSS_RATIO] > 1).all()
