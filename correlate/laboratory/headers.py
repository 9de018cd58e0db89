"""The headers of test data against the register: known sensors, calibrated, used as registered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError, UnitError
from correlate.laboratory.log import date_of
from correlate.laboratory.register import header_text
from correlate.reference.check import check, with_findings
from correlate.reference.expectations import NOTHING_EXPECTED
from correlate.reference.finding import Finding, counted
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date

    from correlate.formats import Recording
    from correlate.laboratory.register import Register, Sensor
    from correlate.reference.check import CheckOutcome
    from correlate.reference.expectations import Expectations
    from correlate.reference.finding import Kind, Severity
    from correlate.signal import Signal


SAME_SENSITIVITY: Final = 1e-3
"""Sensitivities that differ by less than this share are equal, because headers round. Chosen here."""
_INVERTED: Final = {"inverted", "negative", "neg", "-", "-1", "−", "−1"}
_NORMAL: Final = {"normal", "positive", "pos", "+", "+1", "1"}


def check_with_register(
    recordings: Sequence[Recording],
    register: Register | None,
    *,
    against: Iterable[Recording] = (),
    expectations: Expectations = NOTHING_EXPECTED,
) -> CheckOutcome:
    """Run the data check, and compare the headers with a register.

    Parameters
    ----------
    recordings, against, expectations
        As for :func:`correlate.check`.
    register
        Of the laboratory; None where there is none, which leaves the data check.

    Returns
    -------
    CheckOutcome
    """
    outcome = check(recordings, against=against, expectations=expectations)
    return outcome if register is None else with_findings(outcome, header_findings(recordings, register))


def header_findings(recordings: Iterable[Recording], register: Register) -> tuple[Finding, ...]:
    """Compare the headers of tests with the register of sensors.

    Parameters
    ----------
    recordings
        Tests.
    register
        Of the laboratory, which also says which header lines are read.

    Returns
    -------
    tuple of Finding
        An error where the calibration was overdue on the day of the test, polarity or sensitivity differ from
        the register, or the range is exceeded; a warning where the sensor is not registered, or for another
        channel; a note for each test in whose headers something is missing. Empty without registered sensors.
    """
    if not register.sensors:
        return ()
    return tuple(finding for recording in recordings for finding in _of_test(recording, register))


def _of_test(recording: Recording, register: Register) -> Iterator[Finding]:
    try:
        day = date_of(recording, register)
    except SettingsError:
        day = None
        yield Finding(
            kind="sensor overdue",
            severity="note",
            file=str(recording.path),
            channel="",
            what=f"the header gives no '{register.header.date}' that can be read, so the "
            "calibration of sensors is not checked",
            remedy="write the day of the test as 2026-11-30",
        )
    unnamed = 0
    for signal in recording.signals:
        headers = recording.channel_headers.get(signal.channel, {})
        serial = header_text(headers, register.header.sensor).partition("\n")[0].strip()
        if not serial:
            unnamed += 1
            continue
        lines = _Lines(str(recording.path), signal, serial, day)
        sensor = register.sensor(serial)
        if sensor is None:
            yield lines.finding(
                "sensor unknown",
                "warning",
                f"the sensor '{serial}' is not in {register.path.name}",
                "correct the serial number, or add the sensor to the register",
            )
            continue
        sensitivity = _number(header_text(headers, register.header.sensitivity))
        turned = _sign(header_text(headers, register.header.polarity), sensitivity)
        yield from lines.examined(sensor, sensitivity, turned)
    if unnamed:
        yield Finding(
            kind="sensor unknown",
            severity="note",
            file=str(recording.path),
            channel="",
            what=f"the headers of {counted(unnamed, 'channel')} name no sensor under "
            f"'{register.header.sensor}', so nothing is compared with the register",
            remedy="write the line, or name the line that is used under [header] in the register",
        )


@dataclass(frozen=True, slots=True)
class _Lines:
    """One channel while its header is compared; `day` is that of the test, None where it is not known."""

    file: str
    signal: Signal
    serial: str
    day: date | None

    def examined(self, sensor: Sensor, sensitivity: float | None, sign: int | None) -> Iterator[Finding]:
        """Compare all that the header says."""
        if not sensor.serves(self.signal.channel.partition(" #")[0]):
            yield self.finding(
                "sensor unknown",
                "warning",
                f"the sensor '{self.serial}' is registered for channel '{sensor.channel}'",
                "check which sensor was connected, or correct the register",
            )
        yield from self._calibration(sensor, sensitivity)
        if sign is not None and sign != sensor.polarity:
            said = "inverted" if sign < 0 else "not inverted"
            yield self.finding(
                "sensor polarity",
                "error",
                f"the header says that the signal of sensor '{self.serial}' is {said}, the register says "
                "the opposite",
                "check the sign of the channel, then correct the header or the register",
                header=float(sign),
                register=float(sensor.polarity),
            )
        yield from self._range(sensor)

    def _calibration(self, sensor: Sensor, sensitivity: float | None) -> Iterator[Finding]:
        if self.day is None:
            return
        found = sensor.calibration_on(self.day)
        if found is None or found.due < self.day:
            until = "no calibration until then" if found is None else f"a calibration until {found.due}"
            yield self.finding(
                "sensor overdue",
                "error",
                f"on {self.day} the sensor '{self.serial}' has {until}",
                "calibrate the sensor and compare its sensitivity, or add the calibration to the register",
            )
        if found is None or sensitivity is None:
            return
        difference = abs(sensitivity) / found.sensitivity - 1.0
        if abs(difference) > SAME_SENSITIVITY:
            yield self.finding(
                "sensor sensitivity",
                "error",
                f"the sensitivity of sensor '{self.serial}' is {abs(sensitivity):g} in the header and "
                f"{found.sensitivity:g} in the register ({100 * difference:+.2g} %)",
                "export the channel again with the sensitivity of the calibration that was valid on that day",
                header=abs(sensitivity),
                register=found.sensitivity,
            )

    def _range(self, sensor: Sensor) -> Iterator[Finding]:
        samples = self.signal.samples
        try:
            factor = conversion_factor(self.signal.unit, sensor.unit)
        except UnitError:
            yield self.finding(
                "sensor range",
                "warning",
                f"the unit {self.signal.unit} cannot be compared with the range of sensor '{self.serial}' "
                f"in {sensor.unit}",
                "correct the unit in the channel or in the register",
            )
            return
        peak = factor * max(float(samples.max()), -float(samples.min()))
        if peak > sensor.range:
            yield self.finding(
                "sensor range",
                "error",
                f"the channel reaches {peak:.4g} {sensor.unit}, and sensor '{self.serial}' can measure up to "
                f"{sensor.range:g} {sensor.unit}",
                "repeat the test with a sensor of larger range, or correct the range in the register",
                peak=peak,
                range=sensor.range,
            )

    def finding(
        self, kind: Kind, severity: Severity, what: str, remedy: str, **evidence: float | str
    ) -> Finding:
        """Return a finding of this channel."""
        return Finding(
            kind=kind,
            severity=severity,
            file=self.file,
            channel=self.signal.channel,
            what=what,
            remedy=remedy,
            evidence={"sensor": self.serial, **evidence},
        )


def _number(text: str) -> float | None:
    """Return the number at the start of a text such as ``2.03 mV/V/g``; None where there is none."""
    try:
        return float(text.split(maxsplit=1)[0].replace(",", "."))
    except (IndexError, ValueError):
        return None


def _sign(polarity: str, sensitivity: float | None) -> int | None:
    """Return 1 or −1 by the line about polarity, else by the sign of the sensitivity; None for neither."""
    word = polarity.strip().casefold()
    if word in _INVERTED:
        return -1
    if word in _NORMAL:
        return 1
    return None if sensitivity is None else (-1 if sensitivity < 0 else 1)
