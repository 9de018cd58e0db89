"""A tuned deck as a release, and confirming it on repeats and held-out load cases."""

from __future__ import annotations

import shutil
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.files import write_json, write_text
from correlate.tuning.guards import best_row, limits_of, start_row, within_limits
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name, run_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from correlate.tuning.definition import Tuning, TuningGoal
    from correlate.tuning.predicted import Predicted
    from correlate.tuning.proposals import RunProposal
    from correlate.tuning.runs import RunRecord, RunTable, TuningState


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
    table_before: RunTable, table_after: RunTable, proposals: Sequence[RunProposal], goal: TuningGoal
) -> Confirmation:
    """Compare a batch of proposals with their runs."""
    rows = [row_of_proposal(table_after, proposal) for proposal in proposals]
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


def row_of_proposal(table: RunTable, proposal: RunProposal) -> int | None:
    """Return the row of the run of a proposal; None where it is not among the runs."""
    away = np.abs(table.space.to_unit(table.points) - table.space.to_unit(proposal.point)).max(axis=1)
    nearest = int(np.argmin(away))
    return nearest if away[nearest] <= _SAME else None


def _compared(table: RunTable, row: int, predicted: Mapping[str, Predicted]) -> list[Confirmed]:
    return [
        Confirmed(row=row, outcome=name, predicted=said, rated=float(table.outcomes[name][row]))
        for name, said in predicted.items()
        if name in table.outcomes and np.isfinite(table.outcomes[name][row])
    ]


CHANGES: Final = "changes.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterChange:
    """One number of the card, before and after.

    Attributes
    ----------
    name, unit
        Of the parameter.
    old, new
        Values.
    percent
        Change in percent of the old value; None where that is 0.
    at_bound
        Whether the new value lies at a bound of its range.
    """

    name: str
    unit: str
    old: float
    new: float
    percent: float | None
    at_bound: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeGain:
    """What the change bought in one outcome.

    Attributes
    ----------
    outcome
        Its name.
    old, new
        Before and after.
    """

    outcome: str
    old: float
    new: float

    @property
    def change(self) -> float:
        """New less old."""
        return self.new - self.old


@dataclass(frozen=True, slots=True, kw_only=True)
class TunedRelease:
    """The change list of a tuned deck.

    Attributes
    ----------
    run, start
        Names of the run that is released and of the one at the start point.
    changes
        One a parameter.
    gains
        Training and held-out rating, then each load case.
    losses
        Sentences about held-out load cases that lost more than the goal allows, and windows no longer met.
    """

    run: str
    start: str
    changes: tuple[ParameterChange, ...]
    gains: tuple[OutcomeGain, ...]
    losses: tuple[str, ...]


def change_list(tuning: Tuning, state: TuningState, identity: str) -> TunedRelease:
    """Compare a run with the one at the start point."""
    chosen = _done(state, state.point(identity).identity)
    table = run_table(tuning, state)
    start = _done(state, table.identities[start_row(table)])
    edges = tuning.space.at_bound(tuning.space.as_point(chosen.values))
    changes = tuple(
        ParameterChange(
            name=one.name,
            unit=one.unit,
            old=start.values[one.name],
            new=chosen.values[one.name],
            percent=_percent(start.values[one.name], chosen.values[one.name]),
            at_bound=one.name in edges,
        )
        for one in tuning.space.parameters
    )
    cases = [outcome_name("load case", name) for name in (*tuning.goal.train, *tuning.goal.held_out)]
    gains = tuple(
        OutcomeGain(outcome=name, old=start.outcomes[name], new=chosen.outcomes[name])
        for name in (TRAIN, HELD_OUT, OVERALL, *cases)
        if name in start.outcomes and name in chosen.outcomes
    )
    return TunedRelease(
        run=chosen.identity,
        start=start.identity,
        changes=changes,
        gains=gains,
        losses=tuple(_losses(table, tuning.goal, chosen)),
    )


def write_release(
    tuning: Tuning, release: TunedRelease, folder: Path, *, name: str, files: Mapping[str, str]
) -> None:
    """Copy the results of the run into an empty folder, its deck and the change list beside them."""
    values = {one.name: one.new for one in release.changes}
    from correlate.tuning.decks import DeckWriter  # noqa: PLC0415 - needs an extra

    deck = DeckWriter(tuning).write(values, name=name)
    shutil.copytree(tuning.output_folder(release.run), folder, dirs_exist_ok=True)
    write_json(folder / CHANGES, asdict(release))
    for file, text in {tuning.deck.file: deck.text, **files}.items():
        write_text(folder / file, text)


def _done(state: TuningState, identity: str) -> RunRecord:
    record = state.records.get(identity)
    if record is None or record.status != "done" or not record.rated_by:
        how = record.status if record is not None and record.status != "done" else "waiting"
        raise SettingsError(
            f"the run of point '{identity}' is {how}", remedy="run it first, or choose another"
        )
    return record


def _percent(old: float, new: float) -> float | None:
    return None if old == 0 else 100.0 * (new - old) / abs(old)


def _losses(table: RunTable, goal: TuningGoal, chosen: RunRecord) -> Iterator[str]:
    """Say which limits of the goal the run breaks."""
    if within_limits(table, goal)[table.identities.index(chosen.identity)]:
        return
    held_out, window = outcome_name("load case", ""), outcome_name("window", "")
    for limit in limits_of(table, goal):
        value = chosen.outcomes.get(limit.outcome)
        if value is not None and value >= limit.least:
            continue
        if limit.outcome.startswith(window):
            yield f"{limit.outcome.removeprefix(window)} leaves its qualification window"
        else:
            lost = "its rating" if value is None else f"{limit.start - value:.3f}"
            most = limit.start - limit.least
            name = limit.outcome.removeprefix(held_out)
            yield f"held-out load case '{name}' loses {lost}, more than {most:g}"
