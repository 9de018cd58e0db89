"""Where a tuning project stands, for whoever looks at it: runs, rounds, trade-offs and the kept fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.errors import CorrelateError, SettingsError
from correlate.tuning.definition import Tuning, load_tuning
from correlate.tuning.fitting import FILE, TuningFit, fit_everything, read_fit, runs_sha256, write_fit
from correlate.tuning.guards import Round, best_row, bound_words, rounds_of, start_row
from correlate.tuning.points import next_number, points_of, points_text
from correlate.tuning.runs import STATUSES, TuningState, read_state, run_table
from correlate.tuning.search import ParetoFront, pareto_front

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from correlate.tuning.runs import RunTable


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TuningOverview:
    """Where a tuning project stands.

    Attributes
    ----------
    tuning, state
        The project, its points and records.
    table
        Of the runs.
    counts
        Runs by how they ended, in the order of ``STATUSES``.
    start, best
        Rows of the start point and of the best run that keeps the limits; None where there is none.
    at_bound
        Sentences about parameters of the best run at the ends of their ranges.
    rounds
        What each batch brought; empty where nothing can be compared.
    front
        Of several outcomes that are raised; None where one is.
    problem
        Why runs cannot be compared; empty when they can.
    fit
        As it was made last; None when there is none.
    fit_problem
        Why it cannot be read; empty when it can.
    """

    tuning: Tuning
    state: TuningState
    table: RunTable
    counts: Mapping[str, int]
    start: int | None
    best: int | None
    at_bound: tuple[str, ...]
    rounds: tuple[Round, ...]
    front: ParetoFront | None
    problem: str
    fit: TuningFit | None
    fit_problem: str

    @property
    def fit_is_old(self) -> bool:
        """Whether the runs are others than those the fit was made from."""
        return self.fit is not None and self.fit.runs_sha256 != runs_sha256(self.table)


def tuning_overview(folder: str | Path) -> TuningOverview:
    """Read where a tuning project stands. Nothing is run, rated or fitted.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.

    Returns
    -------
    TuningOverview

    Raises
    ------
    CorrelateError
        There is no tuning project, or its file, its design or a record cannot be read.
    """
    tuning = load_tuning(folder)
    state = read_state(tuning)
    table = run_table(tuning, state)
    start: int | None = None
    best: int | None = None
    rounds: tuple[Round, ...] = ()
    front: ParetoFront | None = None
    problem = ""
    try:
        start, best = start_row(table), best_row(table, tuning.goal)
        rounds = rounds_of(table, tuning.goal)
        front = pareto_front(table, tuning.goal) if len(tuning.goal.outcomes) > 1 else None
    except SettingsError as error:
        problem = str(error)
    fit: TuningFit | None = None
    fit_problem = ""
    try:
        fit = read_fit(tuning.folder / FILE, table)
    except CorrelateError as error:
        fit_problem = str(error)
    return TuningOverview(
        tuning=tuning,
        state=state,
        table=table,
        counts={status: table.status.count(status) for status in STATUSES if status in table.status},
        start=start,
        best=best,
        at_bound=() if best is None else bound_words(tuning.space, table.points[best]),
        rounds=rounds,
        front=front,
        problem=problem,
        fit=fit,
        fit_problem=fit_problem,
    )


def fit_tuning(
    folder: str | Path, *, runs: int = 8, progress: Callable[[float, str], None] = lambda _done, _words: None
) -> TuningFit:
    """Fit everything to the finished runs of a project and keep it beside the tuning file.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.
    runs
        How many to propose.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work, and the fit that
        was kept before stays.

    Returns
    -------
    TuningFit

    Raises
    ------
    CorrelateError
        There is no tuning project, too few runs are finished, or the folder may not be written to.
    """
    tuning = load_tuning(folder)
    table = run_table(tuning, read_state(tuning))
    fit = fit_everything(table, tuning.goal, runs=runs, progress=progress)
    write_fit(tuning.folder / FILE, fit, table)
    return fit


def proposals_csv(overview: TuningOverview, numbers: Iterable[int]) -> str:
    """Return proposals as lines of a design table, which ``design.csv`` takes as its next round.

    Parameters
    ----------
    overview
        With a fit.
    numbers
        Of the proposals, from 0.

    Returns
    -------
    str
        CSV: point, round and the parameters, the values rounded as those of a design.

    Raises
    ------
    SettingsError
        There is no such proposal.
    """
    proposals = overview.fit.proposals if overview.fit else ()
    space, known = overview.table.space, overview.state.points
    round_number = max((one.round for one in known), default=0) + 1
    first = next_number(known)
    found = []
    for place, number in enumerate(sorted(set(numbers))):
        if not 0 <= number < len(proposals):
            raise SettingsError(f"there is no proposal {number + 1}", remedy="choose one that is shown")
        point = proposals[number].point[None, :]
        found += points_of(space, point, round_number=round_number, first=first + place)
    return points_text(space, found)
