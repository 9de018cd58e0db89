"""The log of qualification results: one file per result beside the register, never changed afterwards."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import ConfigDict, Field, ValidationError

from correlate.criteria.channels import AS_RECORDED
from correlate.criteria.qualification import VELOCITY_KEY
from correlate.criteria.result import CAUTION
from correlate.display import short_repr
from correlate.errors import FormatError, SettingsError
from correlate.files import opened, turn, unwritable, write_text
from correlate.laboratory.register import header_text
from correlate.toml import Table
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from correlate.criteria import Preparation, Qualification
    from correlate.formats import Recording
    from correlate.laboratory.register import Dummy, Register


LOG_FOLDER: Final = "qualifications"
"""Name of the folder, beside the register."""
_SHORT: Final = 12
_TICK: Final = timedelta(microseconds=1)


class KeptQuantity(Table):
    """One quantity of a saved result.

    Attributes
    ----------
    name, words, unit
        Of the quantity.
    low, high
        Its window on the day it was compared.
    value
        None where it was not measurable.
    verdict
        ``inside``, ``outside`` or ``not measurable``.
    reason
        Why it was not measurable, else empty.
    """

    model_config = ConfigDict(allow_inf_nan=False)

    name: str
    words: str
    unit: str
    low: float
    high: float
    value: float | None
    verdict: Literal["inside", "outside", "not measurable"]
    reason: str = ""


class KeptQualification(Table):
    """One result of a qualification test, as it was written to the log.

    Attributes
    ----------
    dummy
        Serial number of the whole dummy.
    date
        Day of the test.
    device, test
        Whose windows they are.
    source
        Where the windows come from.
    recording
        Name of the test folder or file.
    inputs
        Hash of each channel file.
    settings
        Time zero, offset, impact velocity.
    quantities
        In the order of the windows.
    passed
        Whether every quantity was measured and inside its window.
    written
        When it was written, UTC; always after the result that it replaces.
    version
        Of the program.
    caution
        What the result does not show.
    """

    model_config = ConfigDict(allow_inf_nan=False)

    dummy: str
    date: date
    device: str
    test: str
    source: str
    recording: str
    inputs: dict[str, str]
    settings: dict[str, Any]
    quantities: Annotated[tuple[KeptQuantity, ...], Field(min_length=1)]
    passed: bool
    written: datetime
    version: str
    caution: str

    @property
    def same_test(self) -> tuple[str, str, str]:
        """What results of one recording on one set of windows share: only the newest of them counts."""
        return self.device, self.test, _digest(self.inputs)

    @property
    def identity(self) -> str:
        """Hash of all but the time of writing: a result that is already saved has the same."""
        return _digest(self.model_dump(mode="json", exclude={"written"}))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Outcome of saving a result.

    Attributes
    ----------
    path
        Its file.
    result
        As it is in the log.
    is_new
        Whether the log did not hold it before.
    """

    path: Path
    result: KeptQualification
    is_new: bool


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class TestConditions:
    """How a result was obtained, and what the header of the test does not say.

    Attributes
    ----------
    preparation, impact_velocity_m_per_s
        With which the result was obtained.
    dummy
        Serial number; empty: the one that the header of the test names.
    day
        Of the test; None: the date in its header.
    moment
        When the result was obtained, with time zone; None: now.
    """

    __test__ = False  # pytest takes classes of this name for tests

    preparation: Preparation = AS_RECORDED
    impact_velocity_m_per_s: float | None = None
    dummy: str = ""
    day: date | None = None
    moment: datetime | None = None


def keep_qualification(
    register: Register,
    qualification: Qualification,
    recording: Recording,
    conditions: TestConditions,
) -> Kept:
    """Write the result of a qualification test to the log of a laboratory.

    Parameters
    ----------
    register
        Of the laboratory; the log is the folder ``qualifications`` beside it.
    qualification, recording
        The result, and the data that it is of.
    conditions
        How it was obtained.

    Returns
    -------
    Kept
        A result that the log holds already is not written again.

    Raises
    ------
    SettingsError
        The dummy or the date is not known; the message says how to give it.
    FormatError
        The data have no hash because they were not read from a file, or the log cannot be written.
    """
    serial = conditions.dummy
    found = register.dummy(serial) if serial else dummy_of(recording, register)
    velocity = conditions.impact_velocity_m_per_s
    result = KeptQualification(
        dummy=found.serial,
        date=conditions.day or date_of(recording, register),
        device=qualification.window.device,
        test=qualification.window.test,
        source=qualification.window.provenance,
        recording=recording.path.name,
        inputs=_inputs(recording),
        settings={
            "preparation": asdict(conditions.preparation),
            "impact_velocity_m_per_s": velocity or recording.details.get(VELOCITY_KEY),
        },
        quantities=tuple(
            KeptQuantity(**{name: getattr(one, name) for name in KeptQuantity.model_fields})
            for one in qualification.verdicts
        ),
        passed=qualification.passed,
        written=conditions.moment or datetime.now(UTC),
        version=VERSION,
        caution=CAUTION,
    )
    return _written(register, result)


def kept_qualifications(register: Register) -> tuple[KeptQualification, ...]:
    """Read the log of a laboratory.

    Parameters
    ----------
    register
        Of the laboratory.

    Returns
    -------
    tuple of KeptQualification
        The oldest test first. Of several results of one recording on the windows of one test, only the one
        written last; empty where nothing is saved yet.

    Raises
    ------
    FormatError
        A file of the log is damaged or none of this program.
    """
    newest: dict[tuple[str, str, str], KeptQualification] = {}
    for one in sorted(_all_results(register), key=lambda result: result.written):
        newest[one.same_test] = one
    return tuple(sorted(newest.values(), key=lambda one: (one.date, one.recording, one.test)))


def dummy_of(recording: Recording, register: Register) -> Dummy:
    """Return the dummy that the header of a test names.

    Raises
    ------
    SettingsError
        The header names none of the register, or several.
    """
    key = register.header.dummy.casefold()
    lines = {name: text for name, text in recording.details.items() if name.casefold().startswith(key)}
    named = {name: text for name, text in recording.details.items() if name.startswith("Name of test object")}
    for texts in (lines, named):
        found = {one.serial: one for text in texts.values() for one in register.named_in(text)}
        if len(found) == 1:
            return next(iter(found.values()))
        if found:
            raise SettingsError(
                f"the header names several dummies: {', '.join(found)}",
                where=str(recording.path),
                remedy="give one with --dummy",
            )
    said = next(iter({**lines, **named}.values()), "")
    what = f"'{said}' in the header" if said else f"a header without '{register.header.dummy}'"
    raise SettingsError(
        f"{what} names no dummy of {register.path.name}",
        where=str(recording.path),
        remedy="give it with --dummy, or add it to the register",
    )


def date_of(recording: Recording, register: Register) -> date:
    """Return the day of a test from its header.

    Raises
    ------
    SettingsError
        The header gives none, or none that can be read.
    """
    key = register.header.date
    text = header_text(recording.details, key)
    try:
        return date.fromisoformat(text)
    except ValueError:
        what = f"'{key}' is '{text}'" if text else f"the header has no '{key}'"
        raise SettingsError(
            what, where=str(recording.path), remedy="give the day with --date, as 2026-11-30"
        ) from None


def log_folder(register: Register) -> Path:
    """Return the folder of the log."""
    return register.path.parent / LOG_FOLDER


def _inputs(recording: Recording) -> dict[str, str]:
    hashes = {signal.channel: signal.source.sha256 for signal in recording.signals}
    if not all(hashes.values()):
        raise FormatError(
            "the data were not read from a file",
            where=str(recording.path),
            remedy="write them to a file and read that file",
        )
    return hashes


def _written(register: Register, result: KeptQualification) -> Kept:
    folder = log_folder(register)
    try:
        folder.mkdir(exist_ok=True)
        with turn(folder):
            before = [one for one in _results_in(folder) if one[1].same_test == result.same_test]
            latest = max(before, key=lambda one: one[1].written, default=None)
            if latest is not None and latest[1].identity == result.identity:
                return Kept(path=latest[0], result=latest[1], is_new=False)
            if latest is not None:
                result = _written_after(latest[1], result)
            path = folder / _file_name(result)
            write_text(path, json.dumps(result.model_dump(mode="json"), indent=1, ensure_ascii=False) + "\n")
    except OSError as error:
        raise unwritable(folder, error) from error
    return Kept(path=path, result=result, is_new=True)


def _written_after(earlier: KeptQualification, result: KeptQualification) -> KeptQualification:
    """Return a result with a time after that of an earlier one, even where the clock was set back."""
    if result.written > earlier.written:
        return result
    return result.model_copy(update={"written": earlier.written + _TICK})


def _file_name(result: KeptQualification) -> str:
    """Return a name that sorts by day and dummy, and that no other result has."""
    serial = "".join(mark if mark.isalnum() or mark in "-_" else "_" for mark in result.dummy)
    digest = _digest(result.model_dump(mode="json"))[:_SHORT]
    return f"{result.date.isoformat()}-{serial}-{digest}.json"


def _all_results(register: Register) -> list[KeptQualification]:
    folder = log_folder(register)
    return [result for _, result in _results_in(folder)] if folder.is_dir() else []


def _results_in(folder: Path) -> Iterable[tuple[Path, KeptQualification]]:
    for path in sorted(folder.glob("*.json")):
        with opened(path) as stream:
            raw = stream.read()
        try:
            yield path, KeptQualification.model_validate_json(raw)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            key = ".".join(map(str, first["loc"])) or "the whole file"
            raise FormatError(
                f"this is not a saved qualification result: {key}: {first['msg'].lower()}",
                where=str(path),
                remedy="restore it from a backup, or remove it from the folder",
            ) from error


def _digest(content: Any) -> str:
    text = json.dumps(content, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
