"""The runs of a project: records, outcomes, state."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError, UnfinishedError
from correlate.files import write_json
from correlate.plain_files import read_json
from correlate.tuning.points import read_points

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.tuning.definition import Tuning
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.points import DesignPoint


Status = Literal["done", "failed", "timed out", "unfinished", "unstable", "waiting"]
STATUSES: Final[tuple[str, ...]] = get_args(Status)

OVERALL: Final = "overall"
TRAIN: Final = "train"
HELD_OUT: Final = "held-out"
_NAMED: Final = 8


def outcome_name(kind: str, *parts: str) -> str:
    """Return the name of an outcome.

    Examples
    --------
    >>> outcome_name("component", "head-drop", "head ax", "phase")
    'component/head-drop/head ax/phase'
    """
    return "/".join((kind, *parts))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RunTable:
    """Every design point with its run.

    Attributes
    ----------
    space
        Of the parameters.
    points
        Shape ``(n, d)``, in the units of the parameters; read-only.
    status
        How each run ended: one of ``STATUSES``.
    outcomes
        By name, shape ``(n,)``, nan where the run is not done or has no such outcome; read-only. Names are
        ``overall``, ``train``, ``held-out`` and those of ``outcome_name``.
    rounds
        Shape ``(n,)``, integers: 0 is the design, 1 and up the batches proposed after it.
    identities
        One a run, for people and folders.

    Raises
    ------
    SettingsError
        Columns of different length, or a status that is none.
    """

    space: ParameterSpace
    points: NDArray[np.float64]
    status: tuple[str, ...]
    outcomes: Mapping[str, NDArray[np.float64]]
    rounds: NDArray[np.int64]
    identities: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse columns that do not belong together, and freeze the others."""
        count = len(self.status)
        if self.points.shape != (count, len(self.space.parameters)):
            raise SettingsError(f"points of shape {self.points.shape} do not fit {count} runs")
        if self.rounds.shape != (count,) or any(one.shape != (count,) for one in self.outcomes.values()):
            raise SettingsError("the columns of the runs have different lengths")
        if self.identities and len(self.identities) != count:
            raise SettingsError("the columns of the runs have different lengths")
        strange = sorted(set(self.status) - set(STATUSES))
        if strange:
            raise SettingsError(f"a run cannot be '{strange[0]}'", remedy=f"known are {', '.join(STATUSES)}")
        for column in (self.points, self.rounds, *self.outcomes.values()):
            column.flags.writeable = False

    def __len__(self) -> int:
        """Return the number of runs."""
        return len(self.status)

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a run: round, status, parameters, outcomes.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        names = self.identities or tuple(str(number) for number in range(len(self)))
        columns = {"point": names, "round": self.rounds, "status": self.status}
        parameters = dict(zip(self.space.names, self.points.T, strict=True))
        return frame({**columns, **parameters, **self.outcomes})

    @property
    def done(self) -> NDArray[np.bool_]:
        """Shape ``(n,)``: the run ended well."""
        return np.array([status == "done" for status in self.status], dtype=np.bool_)

    @property
    def ended(self) -> NDArray[np.bool_]:
        """Shape ``(n,)``: the run ended, well or not."""
        return np.array([status != "waiting" for status in self.status], dtype=np.bool_)

    def outcome(self, name: str) -> NDArray[np.float64]:
        """Return one outcome of every run.

        Raises
        ------
        SettingsError
            No run has it, or none is finished; the message lists outcomes that are nearest in name, first.
        """
        if name not in self.outcomes:
            self._refuse_unfinished()
            near = get_close_matches(name, self.outcomes, n=_NAMED, cutoff=0.5)
            outer = sorted(self.outcomes, key=lambda one: one.count("/"))
            known = ", ".join(list(dict.fromkeys([*near, *outer]))[:_NAMED]) or "none"
            raise SettingsError(f"no run has the outcome '{name}'", remedy=f"there are {known}")
        return self.outcomes[name]

    def _refuse_unfinished(self) -> None:
        if self.done.any():
            return
        lost = [(self.status.count(status), status) for status in STATUSES if status in self.status]
        words = ", ".join(f"{count} {status}" for count, status in lost if status != "waiting")
        if words:
            raise SettingsError(
                f"no run is finished ({words})",
                remedy="see their run.log in the folders under 'runs', then 'correlate tune run --again'",
            )
        raise SettingsError("no run is finished", remedy="run 'correlate tune run'")

    def select(self, rows: Sequence[int] | NDArray[np.bool_] | NDArray[np.int64]) -> RunTable:
        """Return the table of some runs, in the given order.

        Parameters
        ----------
        rows
            A mask of shape ``(n,)`` or row numbers.

        Returns
        -------
        RunTable
        """
        chosen = np.arange(len(self))[np.asarray(rows)]
        return RunTable(
            space=self.space,
            points=self.points[chosen],
            status=tuple(self.status[row] for row in chosen),
            outcomes={name: values[chosen] for name, values in self.outcomes.items()},
            rounds=self.rounds[chosen],
            identities=tuple(self.identities[row] for row in chosen) if self.identities else (),
        )


NAME: Final = "record.json"
LOG: Final = "run.log"


class UnstableError(CorrelateError):
    """Results that no sound run would write: numbers that are not finite, or absurdly large."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRecord:
    """What is kept of one run, in ``record.json`` in its folder.

    Attributes
    ----------
    identity
        Of the design point.
    values
        By parameter.
    deck_sha256
        Of the deck that was run.
    status
        ``done``, ``failed``, ``timed out``, ``unfinished`` or ``unstable``; ``waiting`` is never written.
    message
        Why it is not done; empty when it is.
    exit_code
        Of the last attempt; None when it was stopped, or run elsewhere.
    attempts
        How often it was tried; 0 when it was run elsewhere.
    started
        UTC, ISO 8601; empty when unknown.
    duration_s
        Of the last attempt; None when unknown.
    command
        Program and arguments; empty when it was run elsewhere.
    collected_from
        Folder that the results were taken from; empty when they were made here.
    log_tail
        Last lines of the log.
    outcomes
        By name; empty until it is rated.
    rated_by
        Hash of everything that the outcomes depend on beside the results; empty until it is rated.
    """

    identity: str
    values: Mapping[str, float]
    deck_sha256: str
    status: Status
    message: str = ""
    exit_code: int | None = None
    attempts: int = 0
    started: str = ""
    duration_s: float | None = None
    command: tuple[str, ...] = ()
    collected_from: str = ""
    log_tail: tuple[str, ...] = ()
    outcomes: Mapping[str, float] = field(default_factory=dict)
    rated_by: str = ""

    @property
    def has_results(self) -> bool:
        """Whether the program ended well, so that there are results to rate, sound or not."""
        return self.exit_code == 0 or bool(self.collected_from)

    def rated(self, outcomes: Mapping[str, float], *, by: str) -> RunRecord:
        """Return the record with its outcomes."""
        return replace(self, status="done", message="", outcomes=dict(outcomes), rated_by=by)

    def refused(self, error: CorrelateError, *, by: str) -> RunRecord:
        """Return the record of a run whose results cannot be rated."""
        status: Status = "failed"
        if isinstance(error, UnstableError):
            status = "unstable"
        elif isinstance(error, UnfinishedError):
            status = "unfinished"
        return replace(self, status=status, message=str(error), outcomes={}, rated_by=by)


def write_record(folder: Path, record: RunRecord) -> None:
    """Write the record into the folder of its run, completely or not at all."""
    write_json(folder / NAME, asdict(record))


def read_record(folder: Path) -> RunRecord | None:
    """Read the record of a run."""
    path = folder / NAME
    try:
        content: Any = read_json(path)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise _no_record(path, "it cannot be read") from error
    known = {one.name for one in fields(RunRecord)}
    if not isinstance(content, dict) or not {"identity", "values", "deck_sha256", "status"} <= set(content):
        raise _no_record(path, "keys are missing")
    if set(content) - known or content["status"] not in STATUSES:
        raise _no_record(path, "it was written by another version of the program, or was changed")
    tuples = {key: tuple(content[key]) for key in ("command", "log_tail") if key in content}
    return RunRecord(**{**content, **tuples})


def _no_record(path: Path, why: str) -> FormatError:
    return FormatError(
        f"is not a record of a run: {why}",
        where=str(path),
        remedy="delete the file, and the point is run again",
    )


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
        """Return the points to run."""
        ended = {name for name, one in self.records.items() if one.status == "done" or not again}
        return [one for one in self.points if one.identity not in ended]

    def point(self, identity: str) -> DesignPoint:
        """Return a point by name."""
        for one in self.points:
            if one.identity == identity:
                return one
        raise SettingsError(f"there is no point '{identity}'", remedy="choose one of 'design.csv'")


def read_state(tuning: Tuning) -> TuningState:
    """Read the design table and the records of its points."""
    points = read_points(tuning.design_file, tuning.space)
    read = ((one.identity, read_record(tuning.run_folder(one.identity))) for one in points)
    records = {identity: record for identity, record in read if record is not None}
    changed = [
        one.identity
        for one in points
        if one.identity in records and dict(records[one.identity].values) != one.values  # noqa: PD011 - a mapping
    ]
    if changed:
        raise SettingsError(
            f"changed after the run: {', '.join(changed)}",
            where=str(tuning.design_file),
            remedy="give the new values a new name, or delete the folder of the run under 'runs'",
        )
    return TuningState(tuple(points), records)


def run_table(tuning: Tuning, state: TuningState) -> RunTable:
    """Gather points, ends and outcomes into one table."""
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
