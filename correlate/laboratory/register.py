"""The register of a laboratory: its dummies, its sensors, and how often dummies are qualified."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from dataclasses import dataclass
from datetime import date as Date  # noqa: N812, TC003 - a field is called date, and its type is read
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from correlate.channel import fits
from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.plain_files import whole_bytes
from correlate.remembered import Remembered
from correlate.spelling import one_spelling
from correlate.toml import Table, read_toml, speak_up
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


REGISTER_FILE: Final = "laboratory.toml"
"""Name of the register, beside the campaign file."""

Words = Annotated[str, Field(min_length=1, pattern=r"\S")]
Above = Annotated[float, Field(gt=0)]
CODE_LENGTH: Final = 16


class _Table(Table):
    model_config = ConfigDict(allow_inf_nan=False)


class Exchange(_Table):
    """A part of a dummy that was exchanged.

    Attributes
    ----------
    date
        Day of the exchange; tests on this day count as after it.
    part
        Part that was exchanged.
    reason
        Reason for the exchange.
    who
        Person or role that is responsible.
    tests
        Qualification tests that the part can influence, each by a part of its name; left out: all.
    """

    date: Date
    part: Words
    reason: Words
    who: Words
    tests: tuple[Words, ...] = ()

    def concerns(self, test: str) -> bool:
        """Say whether the part can influence a qualification test."""
        return not self.tests or any(is_part(one, test) for one in self.tests)


class Use(_Table):
    """Tests that a dummy was used in, other than qualification tests.

    Attributes
    ----------
    date
        Day of the tests; on the day of a qualification, they count as before it.
    tests
        Number of tests.
    """

    date: Date
    tests: Annotated[int, Field(ge=1)]


class Dummy(_Table):
    """One dummy.

    Attributes
    ----------
    serial
        Serial number of the whole dummy.
    type
        Type of the dummy, as the laboratory calls it.
    build_level
        Build level of the dummy.
    assemblies
        Serial numbers of its body parts, by which the header of a test may name it.
    exchange
        Exchanged parts.
    use
        Other tests in which it was used.
    """

    serial: Words
    type: Words
    build_level: str = ""
    assemblies: tuple[Words, ...] = ()
    exchange: tuple[Exchange, ...] = ()
    use: tuple[Use, ...] = ()

    @property
    def serials(self) -> tuple[str, ...]:
        """The serial number of the dummy and those of its body parts."""
        return (self.serial, *self.assemblies)

    def exchanges(self, test: str) -> tuple[Exchange, ...]:
        """Return the exchanges that can influence a qualification test, the oldest first."""
        return tuple(sorted((one for one in self.exchange if one.concerns(test)), key=lambda one: one.date))


class Calibration(_Table):
    """One calibration of a sensor.

    Attributes
    ----------
    date
        Day of the calibration.
    due
        Last day on which it is valid.
    sensitivity
        Sensitivity in the unit that the laboratory uses for this sensor, without a sign.
    """

    date: Date
    due: Date
    sensitivity: Above

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.due < self.date:
            raise ValueError(
                f"the calibration is due on {self.due.isoformat()}, before {self.date.isoformat()}"
            )
        return self


class Sensor(_Table):
    """One sensor.

    Attributes
    ----------
    serial
        Serial number, as in the headers of channels.
    channel
        Code of the channel that it measures; ``?`` stands for any character.
    unit
        Unit of its range.
    range
        Largest absolute value that it can measure.
    polarity
        `-1` if its signal has to be inverted to follow the sign convention of the channel.
    sensitivity_unit
        Unit of its sensitivity, only for display, such as ``mV/V/g``.
    calibration
        Its calibrations; for a test, the latest one up to that day counts.
    """

    serial: Words
    channel: Annotated[str, Field(min_length=CODE_LENGTH, max_length=CODE_LENGTH)]
    unit: Words
    range: Above
    polarity: Literal[1, -1] = 1
    sensitivity_unit: str = ""
    calibration: Annotated[tuple[Calibration, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _unit_is_known(self) -> Self:
        speak_up(lambda: parse_unit(self.unit))
        return self

    def serves(self, channel: str) -> bool:
        """Say whether it measures a channel of this code."""
        return fits(channel, self.channel)

    def calibration_on(self, day: Date) -> Calibration | None:
        """Return the latest calibration up to a day; None where there is none."""
        until = [one for one in self.calibration if one.date <= day]
        return max(until, key=lambda one: one.date, default=None)

    @property
    def latest(self) -> Calibration:
        """The latest calibration."""
        return max(self.calibration, key=lambda one: one.date)


class Interval(_Table):
    """How often a qualification test is repeated.

    Attributes
    ----------
    test
        The test, by its name or a part of it.
    type
        Type of the dummies that this is for; left out: all.
    months
        Longest time between two tests, in months.
    tests
        Most uses of the dummy between two tests; with both keys, whichever comes first.
    """

    test: Words
    type: str = ""
    months: Annotated[int, Field(ge=1)] | None = None
    tests: Annotated[int, Field(ge=1)] | None = None

    @model_validator(mode="after")
    def _says_how_often(self) -> Self:
        if self.months is None and self.tests is None:
            raise ValueError("neither 'months' nor 'tests' is given; give one of them")
        return self

    def concerns(self, test: str) -> bool:
        """Say whether this is the interval of a qualification test."""
        return is_part(self.test, test)

    def is_for(self, dummy: Dummy) -> bool:
        """Say whether a dummy is qualified at this interval."""
        return not self.type or self.type.casefold() == dummy.type.casefold()


class HeaderLines(_Table):
    """Which header lines of a channel or test say what.

    Attributes
    ----------
    sensor
        Serial number of the sensor, in the header of a channel.
    sensitivity
        Its sensitivity; a negative one means that the signal was inverted.
    polarity
        Whether the signal was inverted: ``inverted``, ``negative``, ``-`` or `-1` against ``normal``,
        ``positive``, ``+`` or `1`. It overrides the sign of the sensitivity.
    dummy
        Serial number of the dummy, in the header of the test.
    date
        Date of the test, as 2026-11-30.
    """

    sensor: Words = "Transducer ID"
    sensitivity: Words = "Transducer sensitivity"
    polarity: Words = "Transducer polarity"
    dummy: Words = "Serial number"
    date: Words = "Date of the test"


class RegisterTable(_Table):
    """The whole file.

    Attributes
    ----------
    laboratory
        Name of the laboratory.
    dummy, sensor, interval
        One table each.
    header
        Which header lines say what.
    """

    laboratory: str = ""
    dummy: list[Dummy] = Field(default_factory=list)
    sensor: list[Sensor] = Field(default_factory=list)
    interval: list[Interval] = Field(default_factory=list)
    header: HeaderLines = HeaderLines()

    @model_validator(mode="after")
    def _no_serial_twice(self) -> Self:
        _refuse_twice("dummy or body part", (name for one in self.dummy for name in one.serials))
        _refuse_twice("sensor", (one.serial for one in self.sensor))
        return self


def _refuse_twice(word: str, serials: Iterable[str]) -> None:
    twice = [serial for serial, count in Counter(map(one_spelling, serials)).items() if count > 1]
    if twice:
        raise ValueError(f"the {word} '{twice[0]}' is listed twice; keep one of them")


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """The register of a laboratory.

    Attributes
    ----------
    path, sha256
        Of the file, and the hash of its bytes.
    laboratory
        Name of the laboratory; empty where the file gives none.
    dummies, sensors, intervals
        In the order of the file.
    header
        Which header lines say what.
    """

    path: Path
    sha256: str
    laboratory: str
    dummies: tuple[Dummy, ...]
    sensors: tuple[Sensor, ...]
    intervals: tuple[Interval, ...]
    header: HeaderLines

    def dummy(self, serial: str) -> Dummy:
        """Return a dummy by its serial number or that of one of its body parts.

        Raises
        ------
        SettingsError
            There is none; the message lists those that there are.
        """
        found = self.find_dummy(serial)
        if found is None:
            listed = ", ".join(f"'{one.serial}'" for one in self.dummies) or "none"
            raise SettingsError(
                f"there is no dummy '{serial}'", where=str(self.path), remedy=f"the register has {listed}"
            )
        return found

    def find_dummy(self, serial: str) -> Dummy | None:
        """Return a dummy by its serial number or that of one of its body parts, None where there is none."""
        wanted = one_spelling(serial)
        return next(
            (one for one in self.dummies if wanted in {one_spelling(name) for name in one.serials}), None
        )

    def named_in(self, text: str) -> tuple[Dummy, ...]:
        """Return the dummies whose serial number, or that of a body part, stands in a text as a word."""
        words = {one_spelling(word) for word in re.split(r"[\s,;:/()]+", text)}
        return tuple(one for one in self.dummies if words & {one_spelling(name) for name in one.serials})

    def sensor(self, serial: str) -> Sensor | None:
        """Return a sensor by its serial number; None where there is none."""
        wanted = one_spelling(serial)
        return next((one for one in self.sensors if one_spelling(one.serial) == wanted), None)


def read_register(path: str | Path) -> Register:
    """Read the register of a laboratory.

    Parameters
    ----------
    path
        The file, or the folder that holds a ``laboratory.toml``.

    Returns
    -------
    Register

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, each with line and key.
    """
    path = Path(path)
    file = path / REGISTER_FILE if path.is_dir() else path
    found = read_toml(file, RegisterTable, kind="the register of a laboratory")
    table = found.table
    return Register(
        path=file,
        sha256=found.sha256,
        laboratory=table.laboratory,
        dummies=tuple(table.dummy),
        sensors=tuple(table.sensor),
        intervals=tuple(table.interval),
        header=table.header,
    )


_READ: Final = Remembered[Register](4)
"""Registers by file and hash: reading hundreds of sensors takes longer than the rest of a page."""


def project_register(folder: str | Path) -> Register | None:
    """Return the register of a project, read again only if its bytes changed; None if there is none."""
    file = Path(folder) / REGISTER_FILE
    if not file.exists():
        return None
    try:
        sha256 = hashlib.sha256(whole_bytes(file)).hexdigest()
    except (OSError, ValueError):
        return read_register(file)  # raises an error with the reason
    known = _READ.get((file, sha256))
    if known is None:
        known = read_register(file)
        # The file may have changed between hashing and reading.
        _READ.put((file, known.sha256), known)
    return known


def header_text(lines: Mapping[str, str], key: str) -> str:
    """Return the text of a header line, whatever the case of its name; empty where it is not given.

    Examples
    --------
    >>> header_text({"Transducer id": "A-17", "Unit": "NOVALUE"}, "Transducer ID")
    'A-17'
    >>> header_text({"Unit": "NOVALUE"}, "Unit")
    ''
    """
    wanted = key.casefold()
    text = next((value for name, value in lines.items() if name.strip().casefold() == wanted), "").strip()
    return "" if text.upper() == "NOVALUE" else text


def is_part(name: str, whole: str) -> bool:
    """Say whether a name is a part of another, in upper or lower case."""
    return name.strip().casefold() in whole.casefold()
