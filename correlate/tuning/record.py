"""The record of one run: what was run, how it ended, what it was worth."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import CorrelateError, FormatError
from correlate.files import write_json
from correlate.tuning.runs import STATUSES

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from correlate.tuning.runs import Status

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
        ``done``, ``failed``, ``timed out`` or ``unstable``; ``waiting`` is never written.
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
        status: Status = "unstable" if isinstance(error, UnstableError) else "failed"
        return replace(self, status=status, message=str(error), outcomes={}, rated_by=by)


def write_record(folder: Path, record: RunRecord) -> None:
    """Write the record into the folder of its run, completely or not at all.

    Raises
    ------
    FormatError
        The folder may not be written to.
    """
    write_json(folder / NAME, asdict(record))


def read_record(folder: Path) -> RunRecord | None:
    """Read the record of a run.

    Parameters
    ----------
    folder
        Of the run.

    Returns
    -------
    RunRecord or None
        None when the run has not ended.

    Raises
    ------
    FormatError
        There is a file, and it is no record.
    """
    path = folder / NAME
    try:
        content: Any = json.loads(path.read_text(encoding="utf-8"))
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
