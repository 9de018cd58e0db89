"""The circumstances of a qualification test: dummy, conditions, instrumentation, and who stated them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date as Date  # noqa: N812 - a field is called date, and its type is read
from typing import TYPE_CHECKING, Annotated, Any, Final

from pydantic import ConfigDict, Field, ValidationError

from correlate.channel import fits
from correlate.conditioning.naming import NAME_STEP
from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.laboratory.headers import header_findings
from correlate.laboratory.register import CODE_LENGTH, HeaderLines, header_text
from correlate.toml import Table, read_toml

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from correlate.formats import Recording
    from correlate.laboratory.register import Register, Sensor
    from correlate.signal import Signal

Words = Annotated[str, Field(min_length=1, pattern=r"\S")]

STATED: Final = "stated"
HEADER: Final = "header of the test"
REGISTER: Final = "register"
NOT_GIVEN: Final = "not given"
DAY: Final = "date of the test"
"""Label of that fact."""


class _Table(Table):
    model_config = ConfigDict(allow_inf_nan=False)


class SensorUsed(_Table):
    """A sensor that was used in a test.

    Attributes
    ----------
    channel
        Code of the channel; ``?`` stands for any character.
    serial
        Serial number of the sensor.
    calibrated
        Day of its calibration.
    due
        Last day on which the calibration is valid.
    """

    channel: Annotated[str, Field(min_length=CODE_LENGTH, max_length=CODE_LENGTH)]
    serial: Words
    calibrated: Date | None = None
    due: Date | None = None


class StatedCircumstances(_Table):
    """What the laboratory states about one qualification test.

    Attributes
    ----------
    serial
        Serial number of the dummy or of the part that was tested.
    laboratory
        Where the test was run.
    operator
        Who ran the test: a person or a role.
    date
        Day of the test.
    temperature_degC
        Air temperature at the dummy, in °C.
    humidity_percent
        Relative humidity at the dummy, in percent.
    soak_hours
        How long the dummy had been in these conditions, in h.
    remark
        Further remarks.
    sensor
        Sensors, where the headers of the channels and the register do not name them.
    """

    serial: Words | None = None
    laboratory: Words | None = None
    operator: Words | None = None
    date: Date | None = None
    temperature_degC: float | None = None  # noqa: N815 - the unit is written as it is
    humidity_percent: Annotated[float, Field(ge=0, le=100)] | None = None
    soak_hours: Annotated[float, Field(ge=0)] | None = None
    remark: Words | None = None
    sensor: tuple[SensorUsed, ...] = ()


NOTHING_STATED: Final = StatedCircumstances()
"""Everything comes from headers and register."""


def load_circumstances(path: Path) -> StatedCircumstances:
    """Read what a laboratory states from a TOML file; all mistakes of the file are reported at once."""
    return read_toml(path, StatedCircumstances, kind="a file of test conditions").table


def checked_circumstances(base: StatedCircumstances, further: Mapping[str, Any]) -> StatedCircumstances:
    """Return what is stated with further statements, which override the first.

    Parameters
    ----------
    base
        For instance of a file.
    further
        By the names of the keys.

    Returns
    -------
    StatedCircumstances

    Raises
    ------
    SettingsError
        A value cannot be; the message names it.
    """
    try:
        return StatedCircumstances.model_validate({**base.model_dump(), **further})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key, said = first["loc"][0], first["msg"][:1].lower() + first["msg"][1:]
        raise SettingsError(
            f"'{key}' is {first['input']!r}: {said}", where="conditions of the test", remedy="correct it"
        ) from None


@dataclass(frozen=True, slots=True)
class Fact:
    """One circumstance.

    Attributes
    ----------
    label, text
        In words; the text is ``not given`` where nobody says.
    source
        Who says so; empty where nobody does.
    """

    label: str
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFacts:
    """The sensor of one channel.

    Attributes
    ----------
    channel, sha256
        Code of the channel, and hash of its data.
    serial
        Of the sensor; None where nobody says.
    calibrated, due
        Of its calibration; None where nobody says.
    overdue
        Whether the calibration was not valid on the day of the test; None where that is not known.
    """

    channel: str
    sha256: str
    serial: str | None
    calibrated: Date | None
    due: Date | None
    overdue: bool | None


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """The circumstances of one test.

    Attributes
    ----------
    facts
        Dummy, laboratory, day and conditions.
    sensors
        One for each channel that was used.
    notes
        What does not fit together, one sentence each.
    """

    facts: tuple[Fact, ...]
    sensors: tuple[SensorFacts, ...]
    notes: tuple[str, ...]


def circumstances(
    recording: Recording,
    channels: Sequence[Signal],
    stated: StatedCircumstances = NOTHING_STATED,
    register: Register | None = None,
    *,
    test: str = "",
) -> Circumstances:
    """Collect the circumstances of a test from what is stated, its headers, and a register.

    Parameters
    ----------
    recording
        The test.
    channels
        Those that were used, as recorded.
    stated
        What the laboratory states; it overrides the headers.
    register
        Of dummies and sensors, if there is one.
    test
        Name of the qualification test: parts that cannot influence it are left out.

    Returns
    -------
    Circumstances
        A statement that contradicts the header, an overdue calibration, and every error or warning of
        :func:`header_findings` on these channels is a note.
    """
    lines = HeaderLines() if register is None else register.header
    notes: list[str] = []
    facts = _facts(recording, stated, lines, notes)
    day = next((_day(fact.text) for fact in facts if fact.label == DAY), None)
    known = _Known(recording, stated, register, day)
    sensors = tuple(known.sensor(one) for one in channels)
    notes += [
        f"The calibration of sensor {one.serial} ({one.channel}) was not valid on {day}."
        for one in sensors
        if one.overdue
    ]
    if register is not None:
        facts = _with_register(facts, register, test=test, day=day)
        used = {one.channel for one in channels}
        notes += [
            f"{one.channel}: {one.what}."
            for one in header_findings([recording], register)
            if one.channel in used and one.severity != "note" and one.kind != "sensor overdue"
        ]
    return Circumstances(facts=tuple(facts), sensors=sensors, notes=tuple(notes))


def _facts(
    recording: Recording, stated: StatedCircumstances, lines: HeaderLines, notes: list[str]
) -> list[Fact]:
    """Return what is stated, else what the header says; where both differ, note it."""
    plan = (
        ("test object", stated.serial, (lines.dummy, "Name of test object 1"), ""),
        ("laboratory", stated.laboratory, ("Laboratory name",), ""),
        (DAY, stated.date, (lines.date,), ""),
        ("operator", stated.operator, (), ""),
        ("temperature", stated.temperature_degC, ("Reference temperature",), " °C"),
        ("relative humidity", stated.humidity_percent, ("Relative air humidity",), " %"),
        ("soak time", stated.soak_hours, (), " h"),
        ("remark", stated.remark, (), ""),
    )
    facts = []
    for label, value, keys, unit in plan:
        own = "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
        there = next(filter(None, (header_text(recording.details, key) for key in keys)), "")
        if own and there and not _is_same(own, there):
            notes.append(
                f"The {label} is stated as {own}{unit}, and the header of the test says {there}{unit}."
            )
        text = own or there
        source = STATED if own else HEADER if there else ""
        facts.append(Fact(label, f"{text}{unit}" if text else NOT_GIVEN, source))
    return facts


def _is_same(own: str, there: str) -> bool:
    try:
        return float(own) == float(there)
    except ValueError:
        return own.casefold() in there.casefold()


def _with_register(facts: Sequence[Fact], register: Register, *, test: str, day: Date | None) -> list[Fact]:
    """Return the facts, with the dummy as the register knows it and the last part exchanged until a day."""
    test_object, *others = facts
    named = register.named_in(test_object.text)
    if len(named) != 1:
        return [*facts]
    dummy = named[0]
    words = " ".join(filter(None, (dummy.type, dummy.serial, dummy.build_level)))
    found = [test_object, Fact("dummy", words, REGISTER), *others]
    before = [one for one in dummy.exchanges(test) if day is None or one.date <= day]
    if before:
        last = before[-1]
        found.append(Fact("last part exchanged", f"{last.part}, {last.date}", REGISTER))
    return found


def _day(text: str) -> Date | None:
    try:
        return Date.fromisoformat(text)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class _Known:
    """All that may say which sensor a channel has, and how it was calibrated on the day of the test."""

    recording: Recording
    stated: StatedCircumstances
    register: Register | None
    day: Date | None

    def sensor(self, signal: Signal) -> SensorFacts:
        """Return the sensor of a channel: as stated, else as in its header, else unknown."""
        own = next((one for one in self.stated.sensor if fits(signal.channel, one.channel)), None)
        serial = self._in_header(signal) if own is None else own.serial
        calibrated, due = (None, None) if own is None else (own.calibrated, own.due)
        known = None if self.register is None or not serial else self.register.sensor(serial)
        if known is not None and calibrated is None and due is None:
            calibrated, due = self._registered(known)
        overdue = None
        if self.day is not None and due is not None:
            overdue = self.day > due or (calibrated is not None and self.day < calibrated)
        elif self.day is not None and known is not None:
            # The register has no calibration until that day.
            overdue = True
        return SensorFacts(
            channel=signal.channel,
            sha256=signal.source.sha256 or "",
            serial=serial or None,
            calibrated=calibrated,
            due=due,
            overdue=overdue,
        )

    def _in_header(self, signal: Signal) -> str:
        lines = HeaderLines() if self.register is None else self.register.header
        header = self.recording.channel_headers.get(_recorded_name(signal), {})
        return header_text(header, lines.sensor).partition("\n")[0]

    def _registered(self, sensor: Sensor) -> tuple[Date | None, Date | None]:
        """Return the calibration that counts on the day of the test, the latest where no day is known."""
        found = sensor.latest if self.day is None else sensor.calibration_on(self.day)
        return (None, None) if found is None else (found.date, found.due)


def _recorded_name(signal: Signal) -> str:
    """Return the name of a channel in its file, before it was given a code."""
    named = [step.settings["from"] for step in signal.history if step.name == NAME_STEP]
    return str(named[0]) if named else signal.channel
