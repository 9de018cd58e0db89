"""The next runs, proposed in batches."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import FormatError, SettingsError
from correlate.files import write_json
from correlate.plain_files import read_json
from correlate.tuning.acquisition import acquisition
from correlate.tuning.guards import needed_outcomes, within_limits
from correlate.tuning.one_thread import in_one_thread
from correlate.tuning.points import next_number, points_of, write_points
from correlate.tuning.predicted import NO_CALIBRATION, Predicted, predicted_of
from correlate.tuning.prediction import PRINTED_DRAWS, draws_of
from correlate.tuning.search import CLIMBS, STEPS, candidates
from correlate.tuning.surrogate import LEAST_Q2

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.tuning.acquisition import Acquisition
    from correlate.tuning.definition import Tuning, TuningGoal
    from correlate.tuning.points import DesignPoint
    from correlate.tuning.predicted import Calibration
    from correlate.tuning.prediction import OutcomePredictor
    from correlate.tuning.runs import RunTable, TuningState

    Floats = NDArray[np.float64]


APART: Final = 0.01
"""Two points differ in at least one parameter by this share of its range. Chosen here."""
_LOOKED_AT: Final = 8


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunProposal:
    """A run to make next.

    Attributes
    ----------
    point
        Shape ``(d,)``, in the units of the parameters.
    predicted
        By outcome.
    best
        Of each outcome to raise, the best of the runs that keep the limits.
    chance_of_limits
        That every limit holds.
    chance_of_success
        That the run ends well.
    reason
        One sentence.
    """

    point: Floats
    predicted: Mapping[str, Predicted]
    best: Mapping[str, float]
    chance_of_limits: float
    chance_of_success: float
    reason: str


@in_one_thread
def propose(
    table: RunTable,
    predictor: OutcomePredictor,
    goal: TuningGoal,
    runs: int,
    seed: int,
    *,
    least_q2: float = LEAST_Q2,
    calibration: Mapping[str, Calibration] = NO_CALIBRATION,
) -> tuple[RunProposal, ...]:
    """Choose the next runs by constrained expected improvement, one after the other.

    After each choice the prediction is used as its result, so that the next choice is made elsewhere. With
    several objectives, each choice weights them at random, which spreads the batch along the Pareto
    front. Where curves are emulated, the search uses a quick estimate, and the choice among the points
    found uses draws of curves.

    Parameters
    ----------
    table
        Of the runs.
    predictor
        Of at least :func:`~correlate.tuning.guards.needed_outcomes`.
    goal
        What tuning is to raise, and what it must keep.
    runs
        How many.
    seed
        Equal seeds give equal proposals.
    least_q2
        Least Q² of objectives and limits; lower it to obtain proposals nevertheless.
    calibration
        Of the predictions of each outcome, from earlier ones.

    Returns
    -------
    tuple of RunProposal
        Inside the bounds, apart from each other and from every run, waiting ones included.

    Raises
    ------
    SettingsError
        An outcome is not predicted or not reliably enough, an objective is the same in every run, no run
        keeps the limits, or there is no room for another point.

    References
    ----------
    .. [1] Jones, Schonlau, Welch, Journal of Global Optimization 13 (1998) 455-492; limits: Schonlau, Welch,
       Jones, IMS Lecture Notes 34 (1998) 11-25; batch: Ginsbourger, Le Riche, Carraro (2010), the believer.
    """
    _check(table, predictor, goal, runs, least_q2)
    promise = acquisition(table, predictor, goal)
    if promise.known.size == 0:
        raise SettingsError(
            "no finished run keeps the limits", remedy="run the start point, or widen a limit"
        )
    waiting = table.space.to_unit(table.points[~table.ended])
    current = promise.believing(waiting) if len(waiting) else promise
    taken = table.space.to_unit(table.points)
    near = _best_points(table, goal, promise)
    random = np.random.default_rng(seed)
    found = []
    pool = np.zeros((0, near.shape[1]))
    for number in range(runs):
        weights = random.dirichlet(np.ones(len(goal.outcomes)))
        pool = _apart(pool, taken)
        if len(pool) == 0 or not predictor.by_curves:
            pool = _apart(_searched(current, weights, near, seed=seed * 1000 + number), taken)
        if len(pool) == 0:
            raise SettingsError(
                "there is no room for another point between the runs",
                remedy="widen the bounds, or stop here",
            )
        pool = _by_promise(current, weights, pool, seed=seed)
        found.append(_described(table, promise, pool[0], calibration))
        taken = np.vstack([taken, pool[:1]])
        current = current.believing(pool[:1])
        pool = pool[1 : 1 + CHOSEN_FROM]
    return tuple(found)


NEAR_POOL: Final = 16
"""Random points around each optimum of the search. Chosen here."""
CURVE_STEPS: Final = 15
"""Steps of an optimisation in which every step rates curves. Chosen here."""
POOL: Final = 32
"""Best points of the search that are assessed with draws. Chosen here."""
CHOSEN_FROM: Final = 24
"""Candidates for the second and later choices of a batch. Chosen here."""
CHOICE_DRAWS: Final = 16
"""Draws of each candidate. Chosen here."""


def _searched(current: Acquisition, weights: Floats, near: Floats, *, seed: int) -> Floats:
    """Return candidates, most promising first, with random points around the best of them."""
    steps = CURVE_STEPS if current.predictor.by_curves else STEPS
    points, _ = candidates(
        lambda cube: current.log_promise(cube, weights), near.shape[1], near, seed, steps=steps
    )
    if not current.predictor.by_curves:
        return points
    random = np.random.default_rng([seed, 2])
    climbed = points[:CLIMBS]
    moves = random.normal(0.0, 0.03, (NEAR_POOL, *climbed.shape))
    moves *= random.random(moves.shape) < random.choice([0.3, 1.0], (NEAR_POOL, len(climbed), 1))
    about = np.clip(climbed + moves, 0.0, 1.0).reshape(-1, climbed.shape[1])
    # Some of the others too: those around the best may all lie too close to runs.
    others = points[POOL :: max(1, len(points) // POOL)]
    return np.vstack([points[:POOL], about, others])


def _by_promise(current: Acquisition, weights: Floats, pool: Floats, *, seed: int) -> Floats:
    """Return points, most promising first: by draws of curves, where those find none better by the guess."""
    quick = current.log_promise(pool, weights)
    if not current.predictor.by_curves:
        return np.asarray(pool[np.argsort(-quick, kind="stable")])
    draws = draws_of(len(current.predictor.rows), CHOICE_DRAWS, seed)
    drawn = current.promise(pool, weights, draws)
    return np.asarray(pool[np.lexsort((-quick, -drawn))])


def _check(
    table: RunTable, predictor: OutcomePredictor, goal: TuningGoal, runs: int, least_q2: float
) -> None:
    if runs < 1:
        raise SettingsError(f"{runs} runs cannot be proposed", remedy="ask for one or more")
    for name in needed_outcomes(table, goal):
        if name not in predictor.outcomes:
            raise SettingsError(f"outcome '{name}' is not predicted", remedy="fit it too")
        if name in goal.outcomes and predictor.flat(name):
            raise SettingsError(
                f"outcome '{name}' is the same in every run, so nothing can raise it",
                remedy="widen the bounds, or maximise another outcome",
            )
        q2 = predictor.trust(name)
        if not predictor.flat(name) and not q2 >= least_q2:
            raise SettingsError(
                f"'{name}' is predicted too poorly (Q² {q2:.2f}, at least {least_q2:g} is required)",
                remedy="add design points ('correlate tune design --add N'), or lower --least-q2",
            )


def _best_points(table: RunTable, goal: TuningGoal, promise: Acquisition) -> Floats:
    """Return the best runs by each outcome, within the limits and overall, in the unit cube."""
    rows: list[int] = []
    kept = within_limits(table, goal)
    for name in promise.outcomes:
        most = max(2, _LOOKED_AT // (2 * len(goal.outcomes)))
        for chosen in (np.flatnonzero(kept), np.flatnonzero(table.done)):
            order = np.argsort(-np.nan_to_num(table.outcome(name)[chosen], nan=-np.inf), kind="stable")
            rows += chosen[order[:most]].tolist()
    return table.space.to_unit(table.points[list(dict.fromkeys(rows))])


def _apart(points: Floats, taken: Floats) -> Floats:
    """Return the points that are far enough from every run, in their order."""
    away = np.abs(points[:, None, :] - taken[None, :, :]).max(axis=2).min(axis=1)
    return np.asarray(points[away >= APART])


def _described(
    table: RunTable, promise: Acquisition, cube: Floats, calibration: Mapping[str, Calibration]
) -> RunProposal:
    drawn = {name: values[0] for name, values in promise.predictor.printed(cube[None, :]).items()}
    predicted = {name: predicted_of(values, name, calibration.get(name)) for name, values in drawn.items()}
    best = dict(zip(promise.outcomes, promise.known.max(axis=0).tolist(), strict=True))
    held = [drawn[limit.outcome] >= limit.least for limit in promise.limits]
    # Half a draw is added to each side: sixty-four draws cannot prove a certainty.
    limits = (float(np.all(held, axis=0).sum()) + 0.5) / (PRINTED_DRAWS + 1) if held else 1.0
    success = float(promise.success.chance(cube[None, :])[0])
    return RunProposal(
        point=table.space.from_unit(cube),
        predicted=predicted,
        best=best,
        chance_of_limits=limits,
        chance_of_success=success,
        reason=_reason(predicted, best, limits=limits if promise.limits else None, success=success),
    )


def _reason(
    predicted: Mapping[str, Predicted], best: Mapping[str, float], *, limits: float | None, success: float
) -> str:
    """Say in words why a point was chosen."""
    better = [name for name in best if predicted[name].mean > best[name]]
    hoped = [name for name in best if predicted[name].high > best[name]]
    if better:
        name = max(better, key=lambda one: predicted[one].mean - best[one])
        gain = predicted[name].mean - best[name]
        words = f"'{name}' is expected {gain:.3g} above the best run so far"
        words += "" if predicted[name].low > best[name] else ", but not with certainty"
    elif hoped:
        name = max(hoped, key=lambda one: predicted[one].high - best[one])
        gain = predicted[name].high - best[name]
        words = f"little is known here: '{name}' may come out up to {gain:.3g} above the best run so far"
    elif len(best) > 1:
        words = "a compromise between the outcomes that no run has tried"
    else:
        words = "no point is expected to be better; this one is most informative about the best so far"
    words += f"; probability that the limits are met: {limits:.0%}" if limits is not None else ""
    words += f"; probability that the run succeeds: {success:.0%}" if success < 1 else ""
    return words


def batch_file(tuning: Tuning, round_number: int) -> Path:
    """Return the file of a batch."""
    return tuning.folder / "batches" / f"round-{round_number}.json"


def last_round(state: TuningState) -> int:
    """Return the number of the last batch; 0 for the design."""
    return max((one.round for one in state.points), default=0)


def add_batch(tuning: Tuning, state: TuningState, proposals: Sequence[RunProposal]) -> list[DesignPoint]:
    """Add proposals to the design table as the next round, and keep what was predicted of them."""
    number = last_round(state) + 1
    first = next_number(state.points)
    added = [
        points_of(tuning.space, one.point[None, :], round_number=number, first=first + place)[0]
        for place, one in enumerate(proposals)
    ]
    lines = [_line(one, point) for one, point in zip(proposals, added, strict=True)]
    file = batch_file(tuning, number)
    file.parent.mkdir(exist_ok=True)
    # The predictions first: stopped in between, the batch was never made, and its file is written anew.
    write_json(file, lines)
    write_points(tuning.design_file, tuning.space, [*state.points, *added])
    return added


def read_batch(tuning: Tuning, round_number: int) -> tuple[RunProposal, ...]:
    """Read what was predicted of a batch."""
    file = batch_file(tuning, round_number)
    try:
        lines: Any = read_json(file)
        return tuple(_proposal(tuning, line) for line in lines)
    except FileNotFoundError as error:
        raise SettingsError(
            f"round {round_number} was not proposed here, so nothing was predicted of it",
            where=str(file),
            remedy="propose runs with 'correlate tune propose'",
        ) from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise FormatError(
            "is not a batch of proposals",
            where=str(file),
            remedy="restore the file, or delete it: then nothing is known of its predictions",
        ) from error


def _line(proposal: RunProposal, point: DesignPoint) -> dict[str, Any]:
    return {
        "point": point.identity,
        "values": point.values,
        "predicted": {name: asdict(said) for name, said in proposal.predicted.items()},
        "best": dict(proposal.best),
        "chance_of_limits": proposal.chance_of_limits,
        "chance_of_success": proposal.chance_of_success,
        "reason": proposal.reason,
    }


def _proposal(tuning: Tuning, line: dict[str, Any]) -> RunProposal:
    return RunProposal(
        point=tuning.space.as_point(line["values"]),
        predicted={name: Predicted(**said) for name, said in line["predicted"].items()},
        best=line["best"],
        chance_of_limits=line["chance_of_limits"],
        chance_of_success=line["chance_of_success"],
        reason=line["reason"],
    )
