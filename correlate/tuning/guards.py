"""Guards against fitting noise: is the gain real, do held-out load cases follow, is a bound in the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.calibration import half_width
from correlate.tuning.limits import best_row, start_row, within_limits
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """A rating that rose, beside what chance alone could do.

    Attributes
    ----------
    before, after
        Ratings.
    repeat_interval
        Half width of the interval within which the rating moves from one repeat of the tests to the next.
    """

    before: float
    after: float
    repeat_interval: float

    @property
    def change(self) -> float:
        """After less before."""
        return self.after - self.before

    @property
    def real(self) -> bool:
        """Whether the rating rose by more than the interval."""
        return self.change > self.repeat_interval

    @property
    def words(self) -> str:
        """One sentence."""
        if self.change <= 0:
            return f"the rating did not rise ({self.change:+.3f})".replace("-", "−")
        chance = f"the {self.repeat_interval:.3f} that it moves from one repeat of the tests to the next"
        if self.real:
            return f"the rating rose by {self.change:.3f}, more than {chance}"
        return f"the rating rose by {self.change:.3f}, which is smaller than {chance}: it may be chance"


def repeat_interval(
    spreads: Mapping[str, float | None], weights: Mapping[str, float], level: float = 0.95
) -> float:
    r"""Return how far a weighted rating moves from one repeat of the tests to the next.

    .. math:: z \sqrt{\sum_l (w_l s_l / \sum w)^2}

    Parameters
    ----------
    spreads
        Standard deviation of the rating over the repeats, by load case; None where it is not known.
    weights
        Of the load cases in the rating.
    level
        Share of the repeats inside.

    Returns
    -------
    float
        Half the width of the interval. The repeats of different load cases are taken as independent. Derived
        here.

    Raises
    ------
    SettingsError
        No load case with a weight has a known spread.

    Examples
    --------
    >>> round(repeat_interval({"a": 0.03, "b": 0.04}, {"a": 1.0, "b": 1.0}), 6)
    0.048999
    """
    known = {
        name: spread for name, spread in spreads.items() if spread is not None and weights.get(name, 0) > 0
    }
    if not known:
        raise SettingsError(
            "no load case has two rated repeats, so chance cannot be told from gain",
            remedy="rate two or more repeats of the tests",
        )
    total = sum(weights[name] for name in known)
    variance = sum((weights[name] * spread / total) ** 2 for name, spread in known.items())
    return half_width(level) * float(np.sqrt(variance))


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
    """Tell where tuning stood after each batch, held-out load cases included.

    Parameters
    ----------
    table
        Of the runs, the start point among them.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    tuple of Round
        One a round that has a finished run that keeps the limits.

    Raises
    ------
    SettingsError
        The start point has no finished run, or an outcome is missing.
    """
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
    """Say which parameters of a point lie at a bound.

    Parameters
    ----------
    space
        The box.
    point
        Shape ``(d,)``.

    Returns
    -------
    tuple of str
        One sentence a parameter.
    """
    at = space.at_bound(point)
    found = []
    for one, share in zip(space.parameters, space.to_unit(point), strict=True):
        if one.name in at:
            side, value = ("lower", one.lower) if share < 0.5 else ("upper", one.upper)
            shown = f"{value:g}" if one.unit == "1" else f"{value:g} {one.unit}"
            found.append(f"'{one.name}' is at its {side} bound ({shown}): the best value may lie outside")
    return tuple(found)
