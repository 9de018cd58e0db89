"""Limits that a proposal must keep, and what a gain means against the scatter of the repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.statistics import mean_estimate, paired_difference, weighted_sum
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

    from correlate.statistics import Estimate
    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


_ROUNDING: Final = 1e-9
_SAME: Final = 1e-4
"""Largest distance from the start point, in sides of the cube, that counts as rounding in a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeLimit:
    """An outcome that may not fall below a value.

    Attributes
    ----------
    outcome
        Its name.
    least
        The value.
    start
        What the start point has.
    """

    outcome: str
    least: float
    start: float


def start_row(table: RunTable) -> int:
    """Return the row of the start point."""
    away = np.abs(table.space.to_unit(table.points) - table.space.to_unit(table.space.start_point))
    rows = np.flatnonzero(table.done & (away.max(axis=1, initial=0.0) <= _SAME))
    if rows.size == 0:
        raise SettingsError(
            "the start point has no finished run, so nothing can be compared with it",
            remedy="run the start point first",
        )
    return int(rows[0])


def limits_of(table: RunTable, goal: TuningGoal) -> tuple[OutcomeLimit, ...]:
    """Return the limits of a goal as numbers."""
    found = []
    if goal.held_out and goal.largest_held_out_loss is not None:
        for case in goal.held_out:
            name = outcome_name("load case", case)
            value = float(table.outcome(name)[start_row(table)])
            if not np.isfinite(value):
                raise SettingsError(
                    f"the start point has no outcome '{name}'", remedy="rate the start point again"
                )
            found.append(OutcomeLimit(outcome=name, least=value - goal.largest_held_out_loss, start=value))
    windows = [name for name in table.outcomes if name.startswith(outcome_name("window", ""))]
    if goal.windows_stay_met and windows:
        starts = {name: float(table.outcomes[name][start_row(table)]) for name in windows}
        found += [
            OutcomeLimit(outcome=name, least=0.0, start=value) for name, value in starts.items() if value >= 0
        ]
    return tuple(found)


def within_limits(table: RunTable, goal: TuningGoal) -> NDArray[np.bool_]:
    """Return which finished runs keep every limit, shape ``(n,)``."""
    kept = table.done.copy()
    for limit in limits_of(table, goal):
        kept &= table.outcomes[limit.outcome] >= limit.least - _ROUNDING
    return kept


def broken_limits(table: RunTable, goal: TuningGoal) -> tuple[tuple[OutcomeLimit, tuple[int, ...]], ...]:
    """Return every limit that finished runs break, with the rows of those runs."""
    found = []
    for limit in limits_of(table, goal):
        kept = table.outcomes[limit.outcome] >= limit.least - _ROUNDING
        rows = np.flatnonzero(table.done & ~kept)
        if rows.size:
            found.append((limit, tuple(rows.tolist())))
    return tuple(found)


def over_limits_words(table: RunTable, goal: TuningGoal) -> str:
    """Say which run is rated higher than the best within the limits, and which limits it violates.

    By the first objective; empty without such a run.
    """
    values = np.where(table.done, table.outcome(goal.outcomes[0]), np.nan)
    above = np.flatnonzero(values > values[best_row(table, goal)])
    if above.size == 0:
        return ""
    row = int(above[np.argmax(values[above])])
    missing = {
        limit.outcome: limit.least - float(table.outcomes[limit.outcome][row])
        for limit, rows in broken_limits(table, goal)
        if row in rows
    }
    # The limit missed by most comes first; one whose outcome has no value before all others.
    first, *others = sorted(missing, key=lambda name: -np.nan_to_num(missing[name], nan=np.inf))
    short = "no value" if np.isnan(missing[first]) else f"−{missing[first]:.2g}"
    words = f"{table.identities[row]} has {values[row]:.3f} but violates the limit '{first}' ({short})"
    if others:
        words += f" and {len(others)} other{'' if len(others) == 1 else 's'}"
    if above.size > 1:
        runs = "run is" if above.size == 2 else "runs are"
        words += f"; {above.size - 1} further {runs} rated higher than the best"
    return words


def needed_outcomes(table: RunTable, goal: TuningGoal) -> tuple[str, ...]:
    """Name the outcomes whose surrogates a proposal needs: what is to be raised, then what must be kept."""
    return tuple(dict.fromkeys([*goal.outcomes, *(limit.outcome for limit in limits_of(table, goal))]))


def best_row(table: RunTable, goal: TuningGoal) -> int:
    """Return the row of the best run that keeps every limit, by the first outcome to raise."""
    values = np.where(within_limits(table, goal), table.outcome(goal.outcomes[0]), np.nan)
    if not np.isfinite(values).any():
        raise SettingsError(
            "no finished run keeps the limits", remedy="run the start point, or widen a limit"
        )
    return int(np.nanargmax(values))


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """A rating that rose, beside what chance between repeats could do.

    Attributes
    ----------
    before, after
        Ratings.
    estimate
        Of the difference, paired by repeat; None where fewer than two repeats are rated.
    by_repeats
        Half width of the 95 % interval of the difference between two ratings of one run, each against its
        own repeats: the change that repeating the tests alone can cause; None where not known.
    """

    before: float
    after: float
    estimate: Estimate | None
    by_repeats: float | None = None

    @property
    def change(self) -> float:
        """After less before."""
        return self.after - self.before

    @property
    def real(self) -> bool:
        """Whether the rating rose beyond chance between repeats."""
        return self.estimate is not None and self.estimate.verdict() == "better"

    @property
    def words(self) -> str:
        """One sentence."""
        if self.change <= 0:
            return f"the rating did not rise ({self.change:+.3f})".replace("-", "−")
        rose = f"the rating rose by {self.change:.3f}"
        if self.estimate is None:
            return f"{rose}; with one repeat per load case, chance cannot be distinguished from gain"
        low, high = (
            f"{end:+.3f}".replace("-", "−") for end in (self.estimate.lower(), self.estimate.upper())
        )
        interval = f"95 % interval {low} to {high}, paired by repeat"
        verdict = "better" if self.real else "not distinguishable"
        alone = (
            ""
            if self.by_repeats is None
            else f"; repeating the tests alone could change a rating by up to {self.by_repeats:.3f}"
        )
        return f"{rose}, {verdict} ({interval}){alone}"


def gain_over_repeats(
    before: Mapping[str, Mapping[str, float]],
    after: Mapping[str, Mapping[str, float]],
    weights: Mapping[str, float],
) -> Estimate | None:
    """Estimate how much a weighted rating rose, paired by repeat.

    Notes
    -----
    Repeats of one load case are the same tests before and after; those of different load cases are
    independent. How often the verdict is wrong: ``docs/statistics.md``.

    Examples
    --------
    >>> found = gain_over_repeats(
    ...     {"drop": {"T1": 0.80, "T2": 0.70}}, {"drop": {"T1": 0.83, "T2": 0.74}}, {"drop": 2.0}
    ... )
    >>> round(found.value, 6), found.count
    (0.035, 2)
    """
    total = sum(weights.values())
    return weighted_sum(
        (weight / total, paired_difference(before.get(name, {}), after.get(name, {})))
        for name, weight in weights.items()
    )


def moved_by_repeats(
    ratings: Mapping[str, Mapping[str, float]], weights: Mapping[str, float]
) -> float | None:
    """Return how much a weighted rating may change if the tests are repeated with the same model.

    Parameters
    ----------
    ratings
        Of one run by load case and repeat.
    weights
        Of the load cases.

    Returns
    -------
    float or None
        Half width of the 95 % interval of the difference of two such ratings, the load cases independent;
        None where a load case has fewer than two repeats.

    Examples
    --------
    >>> found = moved_by_repeats({"drop": {"T1": 0.80, "T2": 0.82, "T3": 0.84}}, {"drop": 1.0})
    >>> round(found or 0.0, 3)
    0.077
    """
    total = sum(weights.values())
    mean = weighted_sum(
        (weight / total, mean_estimate(list(ratings.get(name, {}).values())))
        for name, weight in weights.items()
    )
    return None if mean is None else float(np.sqrt(2.0)) * mean.half_width()


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """Where tuning stood after a batch.

    Attributes
    ----------
    number
        0 is the design.
    row
        Of the best run so far that keeps the limits.
    raised
        What it has of each outcome to raise.
    held_out
        Its rating of each held-out load case.
    held_out_start
        That of the start point.
    runs, not_done
        Runs ended so far, and those of them that did not end well.
    over_limits
        Finished runs so far that break a limit.
    """

    number: int
    row: int
    raised: Mapping[str, float]
    held_out: Mapping[str, float]
    held_out_start: Mapping[str, float]
    runs: int
    not_done: int
    over_limits: int


def rounds_of(table: RunTable, goal: TuningGoal) -> tuple[Round, ...]:
    """Tell where tuning stood after each batch, held-out load cases included."""
    names = {case: outcome_name("load case", case) for case in goal.held_out}
    start = start_row(table)
    found = []
    for number in np.unique(table.rounds[table.ended]).tolist():
        rows = np.flatnonzero((table.rounds <= number) & table.ended)
        rows = rows if start in rows else np.append(start, rows)
        part = table.select(rows)
        row = int(rows[best_row(part, goal)])
        found.append(
            Round(
                number=number,
                row=row,
                raised={name: float(table.outcome(name)[row]) for name in goal.outcomes},
                held_out={case: float(table.outcome(name)[row]) for case, name in names.items()},
                held_out_start={case: float(table.outcome(name)[start]) for case, name in names.items()},
                runs=len(part),
                not_done=int((~part.done).sum()),
                over_limits=int((part.done & ~within_limits(part, goal)).sum()),
            )
        )
    return tuple(found)


def bound_words(space: ParameterSpace, point: ArrayLike) -> tuple[str, ...]:
    """Say which parameters of a point lie at a bound."""
    at = space.at_bound(point)
    found = []
    for one, share in zip(space.parameters, space.to_unit(point), strict=True):
        if one.name in at:
            side, value = ("lower", one.lower) if share < 0.5 else ("upper", one.upper)
            shown = f"{value:g}" if one.unit == "1" else f"{value:g} {one.unit}"
            found.append(f"'{one.name}' is at its {side} bound ({shown}): the best value may lie outside")
    return tuple(found)
