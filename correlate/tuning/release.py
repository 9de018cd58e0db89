"""A tuned deck as a new release: its files, what was changed, and what the change bought."""

from __future__ import annotations

import json
import shutil
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError
from correlate.files import whole_folder
from correlate.tuning.deck import DeckWriter
from correlate.tuning.limits import limits_of, start_row, within_limits
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name
from correlate.tuning.state import run_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from correlate.tuning.definition import Tuning, TuningGoal
    from correlate.tuning.record import RunRecord
    from correlate.tuning.runs import RunTable
    from correlate.tuning.state import TuningState

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
class Gain:
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
    gains: tuple[Gain, ...]
    losses: tuple[str, ...]


def change_list(tuning: Tuning, state: TuningState, identity: str) -> TunedRelease:
    """Compare a run with the one at the start point.

    Parameters
    ----------
    tuning
        The project.
    state
        Its points and records.
    identity
        Of the run.

    Returns
    -------
    TunedRelease

    Raises
    ------
    SettingsError
        There is no such point, or one of the two runs is not done and rated.
    """
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
        Gain(outcome=name, old=start.outcomes[name], new=chosen.outcomes[name])
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
    """Copy the results of the run into the folder of a release, its deck and the change list beside them.

    Parameters
    ----------
    tuning
        The project.
    release
        What is released.
    folder
        Of the release; it must be absent or empty.
    name
        Of the release; the deck carries it where the template has a field for it.
    files
        Further texts by file name.

    Raises
    ------
    FormatError
        The folder holds something, or may not be written to.
    """
    values = {one.name: one.new for one in release.changes}
    deck = DeckWriter(tuning).write(values, name=name)
    words = json.dumps(asdict(release), indent=1, ensure_ascii=False) + "\n"
    with whole_folder(folder) as beside:
        shutil.copytree(tuning.output_folder(release.run), beside, dirs_exist_ok=True)
        for file, text in {tuning.deck.file: deck.text, CHANGES: words, **files}.items():
            (beside / file).write_bytes(text.encode("utf-8"))


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
