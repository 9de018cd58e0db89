"""Whether what was predicted of proposed runs came true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.limits import best_row

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.proposals import Predicted, Proposal
    from correlate.tuning.runs import RunTable

_SAME: Final = 1e-4
"""Largest difference, in sides of the cube, between a proposal and the run of it: rounding in a file."""
LEAST_SHARE: Final = 0.75
"""A smaller share of the runs inside 95 % intervals is called a broken promise. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmed:
    """One outcome of one proposed run.

    Attributes
    ----------
    row
        Of the run, in the table after.
    outcome
        Its name.
    predicted
        What was expected.
    rated
        What came.
    """

    row: int
    outcome: str
    predicted: Predicted
    rated: float

    @property
    def error(self) -> float:
        """What came, less what was expected."""
        return self.rated - self.predicted.mean

    @property
    def held(self) -> bool:
        """Whether it came inside the interval."""
        return self.predicted.low <= self.rated <= self.predicted.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """What became of a batch.

    Attributes
    ----------
    outcomes
        One a finished run and outcome, run by run.
    not_done
        Row and status of the runs that did not end well.
    waiting
        How many proposals have no run yet.
    best_before, best_after
        Of the first outcome to raise, among the runs that keep the limits.
    """

    outcomes: tuple[Confirmed, ...]
    not_done: tuple[tuple[int, str], ...]
    waiting: int
    best_before: float
    best_after: float

    def of(self, outcome: str) -> tuple[Confirmed, ...]:
        """Return one outcome of every finished run."""
        return tuple(one for one in self.outcomes if one.outcome == outcome)

    def share_inside(self, outcome: str) -> float:
        """Return the share of the runs inside their intervals; nan when none is finished."""
        held = [one.held for one in self.of(outcome)]
        return float(np.mean(held)) if held else float("nan")

    def root_mean_square_error(self, outcome: str) -> float:
        """Return the root of the mean squared error; nan when no run is finished."""
        errors = [one.error for one in self.of(outcome)]
        return float(np.sqrt(np.mean(np.square(errors)))) if errors else float("nan")

    @property
    def gain(self) -> float:
        """How far the batch raised the best."""
        return self.best_after - self.best_before

    def words(self, outcome: str) -> str:
        """Say in one sentence whether the predictions of an outcome held."""
        found = self.of(outcome)
        if not found:
            return f"no proposed run has '{outcome}' yet, so nothing is confirmed"
        inside = sum(one.held for one in found)
        verdict = (
            "the predictions held" if inside >= LEAST_SHARE * len(found) else "the predictions did not hold"
        )
        return (
            f"'{outcome}': {verdict}: {inside} of {len(found)} runs are inside their 95 % intervals, "
            f"with an error of {self.root_mean_square_error(outcome):.2g} (root mean square)"
        )


def confirm(
    table_before: RunTable, table_after: RunTable, proposals: Sequence[Proposal], goal: TuningGoal
) -> Confirmation:
    """Compare a batch of proposals with their runs.

    Parameters
    ----------
    table_before
        Of the runs that the proposals were made from.
    table_after
        Of the runs now.
    proposals
        The batch.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    Confirmation
        To bring the surrogates up to date, fit them to ``table_after``.

    Raises
    ------
    SettingsError
        No proposal is among the runs.
    """
    rows = [_row_of(table_after, proposal) for proposal in proposals]
    if not any(row is not None for row in rows):
        raise SettingsError(
            "none of the proposed points is among the runs", remedy="run the proposals, then confirm them"
        )
    found: list[Confirmed] = []
    not_done: list[tuple[int, str]] = []
    for proposal, row in zip(proposals, rows, strict=True):
        if row is None or table_after.status[row] == "waiting":
            continue
        if table_after.done[row]:
            found += _compared(table_after, row, proposal.predicted)
        else:
            not_done.append((row, table_after.status[row]))
    first = goal.outcomes[0]
    return Confirmation(
        outcomes=tuple(found),
        not_done=tuple(not_done),
        waiting=sum(row is None or table_after.status[row] == "waiting" for row in rows),
        best_before=float(table_before.outcome(first)[best_row(table_before, goal)]),
        best_after=float(table_after.outcome(first)[best_row(table_after, goal)]),
    )


def _row_of(table: RunTable, proposal: Proposal) -> int | None:
    away = np.abs(table.space.to_unit(table.points) - table.space.to_unit(proposal.point)).max(axis=1)
    nearest = int(np.argmin(away))
    return nearest if away[nearest] <= _SAME else None


def _compared(table: RunTable, row: int, predicted: Mapping[str, Predicted]) -> list[Confirmed]:
    return [
        Confirmed(row=row, outcome=name, predicted=said, rated=float(table.outcomes[name][row]))
        for name, said in predicted.items()
        if name in table.outcomes and np.isfinite(table.outcomes[name][row])
    ]
