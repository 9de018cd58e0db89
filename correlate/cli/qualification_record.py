"""``correlate qualify --record``: the record of one qualification test."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from correlate.cli.signed_records import sign_options, signer_of, signer_words, write_record
from correlate.errors import SettingsError
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from correlate.criteria import Qualification
    from correlate.formats import Recording
    from correlate.laboratory.circumstances import StatedCircumstances
    from correlate.reference.package.signature import Signer

_OPTIONS = (
    click.option(
        "--record",
        "record_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Also write the record of one test, as a page (.html) or PDF (.pdf).",
    ),
    click.option(
        "--conditions",
        "conditions_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Operator, conditions and sensors for the record (TOML).",
    ),
    click.option("--operator", metavar="WHO", help="Who ran the test, for the record."),
    click.option("--temperature", type=float, metavar="°C", help="Air temperature, for the record."),
    click.option("--humidity", type=float, metavar="%", help="Relative humidity, for the record."),
    click.option(
        "--soak",
        type=float,
        metavar="HOURS",
        help="Time in these conditions before the test, for the record.",
    ),
    click.option(
        "--register",
        "sensors_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Register of dummies and sensors, for the record.  [default: that of --keep]",
    ),
    sign_options,
)


def record_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of the record to a command."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOptions:
    """The options of a record as they were given.

    Attributes
    ----------
    record_file, conditions_file, sensors_file
        Of ``--record``, ``--conditions`` and ``--register``.
    operator, temperature, humidity, soak
        Of the options of these names.
    key_file, passphrase_file
        Of ``--sign`` and ``--passphrase-file``.
    """

    record_file: Path | None
    conditions_file: Path | None
    sensors_file: Path | None
    operator: str | None
    temperature: float | None
    humidity: float | None
    soak: float | None
    key_file: Path | None
    passphrase_file: Path | None

    def check(self, data: Sequence[Path]) -> None:
        """Refuse what cannot become a record before anything is computed."""
        from correlate.report.record_file import check_record_name

        if self.record_file is None:
            if any(value is not None for value in self._for_record):
                raise click.UsageError(
                    "--conditions, --operator, --temperature, --humidity, --soak, --register and --sign "
                    "belong to --record"
                )
            return
        need_extra("report")
        check_record_name(self.record_file)
        if len(data) > 1:
            raise SettingsError(
                f"a record is about one test, and {len(data)} are given",
                where=str(self.record_file),
                remedy="write one record for each test",
            )

    @property
    def _for_record(self) -> tuple[object, ...]:
        return (
            self.conditions_file,
            self.sensors_file,
            self.operator,
            self.temperature,
            self.humidity,
            self.soak,
            self.key_file,
        )

    def signer(self) -> Signer | None:
        """Return the key that the record is signed with, asking for its passphrase if it has one."""
        return signer_of(self.key_file, self.passphrase_file)

    def stated(self, *, dummy: str, day: date | None) -> StatedCircumstances:
        """Return what the file of conditions and the options state; options override the file."""
        from correlate.laboratory.circumstances import (
            NOTHING_STATED,
            checked_circumstances,
            load_circumstances,
        )

        base = NOTHING_STATED if self.conditions_file is None else load_circumstances(self.conditions_file)
        options = {
            "serial": dummy or None,
            "date": day,
            "operator": self.operator,
            "temperature_degC": self.temperature,
            "humidity_percent": self.humidity,
            "soak_hours": self.soak,
        }
        return checked_circumstances(
            base, {key: value for key, value in options.items() if value is not None}
        )


def record_qualification(
    options: RecordOptions,
    recording: Recording,
    found: Qualification,
    *,
    stated: StatedCircumstances,
    register_file: Path | None,
    signer: Signer | None,
) -> None:
    """Write the record of a test and its signature, if they are asked for."""
    from datetime import UTC, datetime

    from correlate.laboratory import read_register
    from correlate.laboratory.circumstances import circumstances
    from correlate.report.qualification_record import QualificationRecord, record_content
    from correlate.selfcheck import installation

    if options.record_file is None:
        return
    file = options.sensors_file or register_file
    register = None if file is None else read_register(file)
    record = QualificationRecord(
        qualification=found,
        circumstances=circumstances(recording, found.channels, stated, register, test=found.window.test),
        when=datetime.now(UTC),
        code_sha256=installation().sha256,
        signer=signer_words(signer),
    )
    write_record(options.record_file, record_content(record, options.record_file), signer, moment=record.when)
