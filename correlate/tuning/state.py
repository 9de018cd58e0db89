"""Where a project stands: every design point with its record, if it has one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.points import read_points
from correlate.tuning.record import RunRecord, read_record
from correlate.tuning.runs import RunTable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.tuning.definition import Tuning
    from correlate.tuning.points import DesignPoint


@dataclass(frozen=True, slots=True)
class TuningState:
    """Design points and records of a project.

    Attributes
    ----------
    points
        In the order of the design table.
    records
        Of the points that were run, by identity.
    """

    points: tuple[DesignPoint, ...]
    records: Mapping[str, RunRecord]

    def missing(self, *, again: bool = False) -> list[DesignPoint]:
        """Return the points to run.

        Parameters
        ----------
        again
            Those that failed, timed out or were unstable, too.

        Returns
        -------
        list of DesignPoint
        """
        ended = {name for name, one in self.records.items() if one.status == "done" or not again}
        return [one for one in self.points if one.identity not in ended]

    def point(self, identity: str) -> DesignPoint:
        """Return a point by name.

        Raises
        ------
        SettingsError
            There is none.
        """
        for one in self.points:
            if one.identity == identity:
                return one
        raise SettingsError(f"there is no point '{identity}'", remedy="choose one of 'design.csv'")


def read_state(tuning: Tuning) -> TuningState:
    """Read the design table and the records of its points.

    Parameters
    ----------
    tuning
        The project.

    Returns
    -------
    TuningState

    Raises
    ------
    FormatError
        The table or a record cannot be read.
    SettingsError
        A point was changed after it was run; all such points are named.
    """
    points = read_points(tuning.design_file, tuning.space)
    read = ((one.identity, read_record(tuning.run_folder(one.identity))) for one in points)
    records = {identity: record for identity, record in read if record is not None}
    changed = [
        one.identity
        for one in points
        if one.identity in records and dict(records[one.identity].values) != one.values
    ]
    if changed:
        raise SettingsError(
            f"changed after the run: {', '.join(changed)}",
            where=str(tuning.design_file),
            remedy="give the new values a new name, or delete the folder of the run under 'runs'",
        )
    return TuningState(tuple(points), records)


def run_table(tuning: Tuning, state: TuningState) -> RunTable:
    """Gather points, ends and outcomes into one table.

    Parameters
    ----------
    tuning
        The project.
    state
        Its points and records.

    Returns
    -------
    RunTable
        In the order of the design table. A run that was not rated yet counts as waiting.
    """
    shown = [state.records.get(one.identity) for one in state.points]
    return RunTable(
        space=tuning.space,
        points=np.array([tuning.space.as_point(one.values) for one in state.points]).reshape(
            len(state.points), len(tuning.space.parameters)
        ),
        status=tuple(_status(record) for record in shown),
        outcomes=_outcomes(shown),
        rounds=np.array([one.round for one in state.points], dtype=np.int64),
        identities=tuple(one.identity for one in state.points),
    )


def _status(record: RunRecord | None) -> str:
    if record is None or (record.status == "done" and not record.rated_by):
        return "waiting"
    return record.status


def _outcomes(records: Sequence[RunRecord | None]) -> dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    rated = [record.outcomes if record is not None else {} for record in records]
    names = list(dict.fromkeys(name for outcomes in rated for name in outcomes))
    return {name: np.array([outcomes.get(name, np.nan) for outcomes in rated]) for name in names}
