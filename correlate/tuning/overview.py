"""Where a tuning project stands, for whoever looks at it: runs, rounds, trade-offs and the kept fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr
from correlate.errors import CorrelateError, SettingsError
from correlate.files import write_text
from correlate.limits import LARGEST_RECORD
from correlate.plain_files import whole_text
from correlate.tuning.calibration import calibrations, kept_predictions
from correlate.tuning.definition import Tuning, load_tuning
from correlate.tuning.fitted_curves import FittedCurves, fit_curves
from correlate.tuning.fitting import FILE, TuningFit, fit_everything, fit_text, read_fit, runs_sha256
from correlate.tuning.guards import Round, best_row, bound_words, over_limits_words, rounds_of, start_row
from correlate.tuning.points import (
    add_points,
    design,
    next_number,
    points_of,
    points_text,
    write_points,
)
from correlate.tuning.runs import STATUSES, TuningState, read_state, run_table
from correlate.tuning.saved_emulator import FILE as CURVES_FILE
from correlate.tuning.saved_emulator import (
    SavedEmulator,
    emulator_to_save,
    read_emulator,
    refused_emulator,
    sha256_of,
    write_emulator,
)
from correlate.tuning.search import ParetoFront, pareto_front
from correlate.tuning.surrogate import LEAST_RUNS, RUNS_PER_PARAMETER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from correlate.tuning.runs import RunTable


_EMULATING: Final = 0.45
"""Share of the progress of a fit that the curves take."""


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
    over_limits
        Sentence about a run that is rated higher than the best but violates a limit; empty without one.
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
    curves
        Emulator of the curves that was fitted with it; None without one.
    curves_problem
        Why there are no curves although there is a fit; empty otherwise.
    """

    tuning: Tuning
    state: TuningState
    table: RunTable
    counts: Mapping[str, int]
    start: int | None
    best: int | None
    at_bound: tuple[str, ...]
    over_limits: str
    rounds: tuple[Round, ...]
    front: ParetoFront | None
    problem: str
    fit: TuningFit | None
    fit_problem: str
    curves: SavedEmulator | None
    curves_problem: str

    @property
    def lacking_runs(self) -> int:
        """How many runs must still finish before surrogates are usually reliable."""
        return max(0, runs_for_a_fit(self.tuning) - self.counts.get("done", 0))

    @property
    def lacking_points(self) -> int:
        """How many design points must be added for that, when all that wait are run."""
        return max(0, self.lacking_runs - self.counts.get("waiting", 0))

    @property
    def can_be_fitted(self) -> bool:
        """Whether enough runs are finished for any surrogate."""
        return self.counts.get("done", 0) >= LEAST_RUNS

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
    problem = over_limits = ""
    try:
        start, best = start_row(table), best_row(table, tuning.goal)
        rounds = rounds_of(table, tuning.goal)
        over_limits = over_limits_words(table, tuning.goal)
        front = pareto_front(table, tuning.goal) if len(tuning.goal.outcomes) > 1 else None
    except SettingsError as error:
        problem = str(error)
    fit: TuningFit | None = None
    fit_problem = ""
    try:
        fit = read_fit(tuning.folder / FILE, table)
    except CorrelateError as error:
        fit_problem = str(error)
    curves, curves_problem = (None, "") if fit is None else saved_curves(tuning)
    return TuningOverview(
        tuning=tuning,
        state=state,
        table=table,
        counts={status: table.status.count(status) for status in STATUSES if status in table.status},
        start=start,
        best=best,
        at_bound=() if best is None else bound_words(tuning.space, table.points[best]),
        over_limits=over_limits,
        rounds=rounds,
        front=front,
        problem=problem,
        fit=fit,
        fit_problem=fit_problem,
        curves=curves,
        curves_problem=curves_problem,
    )


def runs_for_a_fit(tuning: Tuning) -> int:
    """Return how many runs a design should have, the start point among them."""
    return max(LEAST_RUNS, RUNS_PER_PARAMETER * len(tuning.space.parameters))


def add_design_points(folder: str | Path, *, seed: int = 0) -> int:
    """Add the design points that a fit lacks, or begin the design with them; nothing is run.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.
    seed
        Of the sequence of points; equal seeds continue it.

    Returns
    -------
    int
        How many points were added.

    Raises
    ------
    CorrelateError
        There is no tuning project, it cannot be run, no point is lacking, or the folder is read-only.
    """
    tuning = load_tuning(folder)
    refuse_what_cannot_run(tuning)
    if not tuning.design_file.exists():
        if any(tuning.runs_folder.glob("*/record.json")):
            raise SettingsError(
                "there are runs, and the file with their design points is missing",
                where=str(tuning.design_file),
                remedy=f"restore it, or move {tuning.runs_folder.name} away",
            )
        points = design(tuning.space, kind="sobol", runs=runs_for_a_fit(tuning), seed=seed)
        write_points(tuning.design_file, tuning.space, points)
        return len(points)
    lacking = tuning_overview(folder).lacking_points
    if not lacking:
        raise SettingsError(
            "the design has enough points",
            where=str(tuning.design_file),
            remedy="run them with 'correlate tune run'",
        )
    return len(add_points(tuning.design_file, tuning.space, runs=lacking, seed=seed))


def refuse_what_cannot_run(tuning: Tuning) -> None:
    """Refuse load cases that the campaign lacks and fields that are no parameters, as a run would."""
    from correlate.campaign import load_campaign  # noqa: PLC0415 - reading a state needs neither campaign
    from correlate.tuning.decks import DeckWriter  # noqa: PLC0415 - nor templates
    from correlate.tuning.rating import checked_cases  # noqa: PLC0415

    checked_cases(tuning, load_campaign(tuning.campaign_file))
    DeckWriter(tuning)


def saved_curves(tuning: Tuning) -> tuple[SavedEmulator | None, str]:
    """Return the emulator of curves that belongs to the saved fit, or why there is none."""
    file = tuning.folder / CURVES_FILE
    try:
        found = read_emulator(file)
        fit_sha256 = sha256_of(whole_text(tuning.folder / FILE, most=LARGEST_RECORD))
    except CorrelateError as error:
        return None, str(error)
    except (OSError, ValueError):
        return None, ""  # reported where the fit itself is read
    if found is None:
        return None, "The saved fit has no emulated curves; fit again to add them."
    if found.fit_sha256 != fit_sha256:
        return None, f"{file.name} and {FILE} belong to different fits, as after an interruption; fit again."
    if found.refusal:
        return None, f"The curves were not emulated: {found.refusal}"
    return found, ""


def fit_tuning(
    folder: str | Path,
    *,
    runs: int = 8,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> TuningFit:
    """Fit outcomes and curves to the finished runs of a project and keep both beside the tuning file.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.
    runs
        How many to propose.
    seed
        Of the sampling; equal seeds give equal fits.
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
    made = make_fit(tuning, read_state(tuning), runs=runs, seed=seed, progress=progress)
    save_fit(made)
    return made.fit


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadeFit:
    """A fit that is not saved yet.

    Attributes
    ----------
    tuning, table
        What it was made from.
    fit, curves
        Of the outcomes, and of the curves.
    """

    tuning: Tuning
    table: RunTable
    fit: TuningFit
    curves: SavedEmulator


def make_fit(
    tuning: Tuning,
    state: TuningState,
    *,
    runs: int = 8,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> MadeFit:
    """Fit outcomes and curves as :func:`fit_tuning` does, and save nothing."""
    table = run_table(tuning, state)
    fitted: FittedCurves | None = None
    try:
        fitted = fit_curves(
            tuning, state, table, progress=lambda done, words: progress(_EMULATING * done, words)
        )
        curves = emulator_to_save(table, fitted)
    except CorrelateError as error:
        curves = refused_emulator(table, str(error))
    fit = fit_everything(
        table,
        tuning.goal,
        curves=fitted,
        calibration=calibrations(kept_predictions(tuning, state, table)),
        runs=runs,
        seed=seed,
        progress=lambda done, words: progress(_EMULATING + (1 - _EMULATING) * done, words),
    )
    return MadeFit(tuning=tuning, table=table, fit=fit, curves=curves)


def save_fit(made: MadeFit) -> None:
    """Save both files of a fit beside the tuning file."""
    text = fit_text(made.fit, made.table)
    # The curves first: they contain the hash of their fit, so an incomplete pair is detected.
    write_emulator(made.tuning.folder / CURVES_FILE, made.curves, fit_text=text)
    write_text(made.tuning.folder / FILE, text)


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
