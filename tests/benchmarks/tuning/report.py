"""What the searches found, as text for the documentation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.gaussian_process import LeaveOneOut
from correlate.tuning.guards import start_row, within_limits
from correlate.tuning.predicted import Predicted, calibrated, calibration_of
from correlate.tuning.runs import HELD_OUT, TRAIN
from correlate.tuning.surrogate import fit_surrogates
from tests.benchmarks.tuning.best import BEST
from tests.benchmarks.tuning.kept import SEARCHES, search_kept, seeds_kept
from tests.benchmarks.tuning.product import DESIGNED

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate
    from tests.benchmarks.tuning.problem import Problem
    from tests.benchmarks.tuning.product import SearchRuns
COUNTED: Final = (26, 38, 72)
"""After so many runs the best is told."""
SENSITIVE: Final = 3
HEADS: Final = (
    "search", "seeds", "runs", "training, limits ignored", "held-out of that run",
    "training within the limits", "held-out of that run",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One search of one seed: its runs and true ratings."""

    seed: int
    runs: SearchRuns
    table: RunTable

    def best(self, count: int, allowed: NDArray[np.bool_]) -> tuple[float, float]:
        """Return training and held-out rating of the best allowed run of the first ones."""
        train = np.where(allowed, self.table.outcome(TRAIN), np.nan)[:count]
        row = int(np.nanargmax(train))
        return float(train[row]), float(self.table.outcome(HELD_OUT)[row])


def found_of(problem: Problem, search: str, seeds: Sequence[int] | None) -> list[Found]:
    """Return the kept searches of some seeds, or of all."""
    found = []
    for seed in seeds_kept(problem, search) if seeds is None else seeds:
        runs = search_kept(problem, search, seed)
        if runs is not None:
            found.append(Found(seed=seed, runs=runs, table=problem.table(runs.points, runs.rounds)))
    return found


def report(problem: Problem, seeds: Sequence[int] | None) -> Iterator[str]:
    """Yield the lines of the report of one problem.

    Parameters
    ----------
    problem
        Whose kept searches are reported.
    seeds
        Which; None for all that are there.

    Yields
    ------
    str
    """
    found = {search: found_of(problem, search, seeds) for search in SEARCHES}
    found = {search: ends for search, ends in found.items() if ends}
    start = problem(problem.space.start_point)
    yield f"## {problem.kind.name}"
    yield ""
    yield f"Start: training {start[TRAIN]:.4f}, held-out {start[HELD_OUT]:.4f}."
    if problem.kind.name in BEST:
        yield f"Highest training rating of a long search: {BEST[problem.kind.name]:.4f}."
    yield "Median (range) of the seeds."
    yield ""
    yield f"| {' | '.join(HEADS)} |"
    yield "| --- |" + " ---: |" * (len(HEADS) - 1)
    for search, ends in found.items():
        for count in COUNTED:
            yield _row(search, ends, count, problem)
    for search, ends in found.items():
        yield from _predictions(search, [one.runs for one in ends])
    if "rating-surrogate" in found and "random" in found:
        yield from _channels(found["rating-surrogate"], found["random"])


def _row(search: str, ends: list[Found], count: int, problem: Problem) -> str:
    ended = [one for one in ends if len(one.table) >= count]
    cells = [search, str(len(ended)), str(count)]
    for limited in (False, True):
        best = [
            one.best(count, within_limits(one.table, problem.tuning.goal) if limited else one.table.done)
            for one in ended
        ]
        cells += [_range([pair[side] for pair in best]) for side in (0, 1)]
    return f"| {' | '.join(cells)} |"


def _predictions(search: str, runs: list[SearchRuns]) -> Iterator[str]:
    """Say how the predictions of the proposed runs held."""
    said = [one for part in runs for one in calibrated_again(part)]
    if not said:
        return
    errors = np.array([came - one.mean for one, came in said])
    inside = np.mean([one.low <= came <= one.high for one, came in said])
    width = np.median([one.high - one.low for one, _ in said]) / 2
    refused = sum(len(part.refused) for part in runs)
    yield ""
    yield (
        f"{search}: {len(said)} predictions of the training rating: {100 * inside:.0f} % inside their 95 % "
        f"intervals (median half width {width:.4f}); rated less predicted: mean {errors.mean():+.4f}, median "
        f"{np.median(errors):+.4f}, median size {np.median(np.abs(errors)):.4f}. "
        f"The program would have refused {refused} of {sum(max(part.rounds) for part in runs)} batches."
    )


def calibrated_again(runs: SearchRuns) -> list[tuple[Predicted, float]]:
    """Return the predictions of a search by the present calibration, each with what came.

    A search does not depend on the calibration, so it need not be run again for another one.
    """
    kept: list[tuple[int, Predicted, float]] = []
    found = []
    for one in runs.predictions:
        earlier = [line for line in kept if line[0] < one.round]
        said = Predicted(
            mean=one.mean, low=one.low, high=one.high, deviation=one.deviation, correction=one.correction
        )
        if one.deviation is not None:
            said = calibrated(one.mean - one.correction, one.deviation, TRAIN, calibration_of(earlier))
        if np.isfinite(one.rated):
            kept.append((one.round, said, one.rated))
            found.append((said, one.rated))
    return found


def _channels(surrogate: list[Found], random: list[Found]) -> Iterator[str]:
    """Say how well the channels that move most are predicted from the designed runs."""
    fresh = {one.seed: one.table for one in random}
    left_out, unseen = [], []
    for one in surrogate:
        if one.seed in fresh:
            for fitted in _most_moved(one.table):
                left_out.append(fitted.q2)
                unseen.append(_fresh_q2(fitted, fresh[one.seed]))
    if left_out:
        yield ""
        yield (
            f"Q² of the {SENSITIVE} channels that move most, from the {DESIGNED} designed runs: "
            f"{_range(left_out)} with runs left out, {_range(unseen)} on the runs of the random search."
        )


def _most_moved(table: RunTable) -> Iterable[Surrogate]:
    """Return the surrogates of the channels that the designed runs move most, from those runs alone."""
    designed = table.select(table.rounds == 0)
    names = [name for name in designed.outcomes if name.startswith("channel/")]
    moved = sorted(names, key=lambda name: -float(np.nanstd(designed.outcomes[name])))[:SENSITIVE]
    return fit_surrogates(designed, moved).values()


def _fresh_q2(surrogate: Surrogate, table: RunTable) -> float:
    """Return the share of the variance of unseen runs that is predicted."""
    rows = table.done & (np.arange(len(table)) != start_row(table))
    rated = table.outcome(surrogate.outcome)[rows]
    predicted = surrogate.predict(table.points[rows]).mean
    return LeaveOneOut(rated=rated, predicted=predicted, deviation=np.ones(rated.size)).q2


def _range(values: Sequence[float]) -> str:
    if not values:
        return "-"
    return f"{np.median(values):.4f} ({min(values):.4f} … {max(values):.4f})"
