"""Headers against the register: each kind of finding, and nothing where all agrees."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import header_findings, load_waivers
from correlate.laboratory.headers import SAME_SENSITIVITY
from tests.laboratory.books import PELVIS, REGISTER, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path

GOOD = {"Transducer id": "AC-101", "Transducer sensitivity": "2.1 mV/V/g"}


def found(
    folder: Path, *, header: dict[str, str], day: str = "2025-03-01", peak_g: float = 50.0
) -> list[str]:
    """Return kind and severity of the findings of one test."""
    tests = [pushed(peak_g, day=day, header=header)]
    return [f"{one.kind} {one.severity}" for one in header_findings(tests, register_in(folder))]


@pytest.mark.parametrize(
    ("header", "day", "peak_g", "expected"),
    [
        (GOOD, "2025-03-01", 50.0, []),
        (GOOD | {"Transducer sensitivity": "2.1"}, "2025-03-01", 99.9, []),
        ({"Transducer ID": "AC-101"}, "2025-03-01", 50.0, []),
        (GOOD, "2026-01-20", 50.0, []),
        (GOOD, "2026-01-21", 50.0, ["sensor overdue error"]),
        ({"Transducer ID": "AC-101"}, "2025-01-15", 50.0, ["sensor overdue error"]),
        ({"Transducer ID": "AC-101"}, "2023-01-15", 50.0, ["sensor overdue error"]),
        (GOOD | {"Transducer sensitivity": "2.0"}, "2025-03-01", 50.0, ["sensor sensitivity error"]),
        (GOOD | {"Transducer sensitivity": "2.0"}, "2024-03-01", 50.0, []),
        (GOOD | {"Transducer sensitivity": "-2.1"}, "2025-03-01", 50.0, ["sensor polarity error"]),
        (GOOD | {"Transducer polarity": "inverted"}, "2025-03-01", 50.0, ["sensor polarity error"]),
        (
            GOOD | {"Transducer polarity": "+", "Transducer sensitivity": "-2.1"},
            "2025-03-01", 50.0, [],
        ),
        (GOOD, "2025-03-01", 100.5, ["sensor range error"]),
        (GOOD, "2025-03-01", -100.5, ["sensor range error"]),
        (GOOD | {"Transducer id": "AC-999"}, "2025-03-01", 50.0, ["sensor unknown warning"]),
        ({}, "2025-03-01", 50.0, ["sensor unknown note"]),
        ({"Transducer id": "NOVALUE"}, "2025-03-01", 50.0, ["sensor unknown note"]),
        (GOOD, "", 50.0, ["sensor overdue note"]),
    ],
)  # fmt: skip
def test_each_deviation_is_one_finding(
    tmp_path: Path, header: dict[str, str], day: str, peak_g: float, expected: list[str]
) -> None:
    """The kinds and severities, and none where header and register agree."""
    assert found(tmp_path, header=header, day=day, peak_g=peak_g) == expected


def test_a_sensor_of_another_channel_or_unit_is_a_warning(tmp_path: Path) -> None:
    """The registered channel, and a unit that cannot be compared."""
    text = REGISTER.replace("??PELV??????ACZ?", "??HEAD??????ACX?").replace('unit = "g"', 'unit = "N"')
    findings = header_findings([pushed(50.0, header=GOOD)], register_in(tmp_path, text))
    assert [(one.kind, one.severity) for one in findings] == [
        ("sensor unknown", "warning"),
        ("sensor range", "warning"),
    ]
    assert "is registered for channel '??HEAD??????ACX?'" in findings[0].what
    assert findings[0].channel == PELVIS


def test_the_register_names_the_header_lines(tmp_path: Path) -> None:
    """A laboratory that writes other keys says so."""
    register = register_in(tmp_path, REGISTER + '\n[header]\nsensor = "Sensor number"\n')
    tests = [pushed(50.0, header={"Sensor number": "AC-999"})]
    assert "'AC-999' is not in laboratory.toml" in header_findings(tests, register)[0].what


def test_a_register_without_sensors_finds_nothing(tmp_path: Path) -> None:
    """It may hold dummies alone."""
    assert header_findings([pushed(50.0)], register_in(tmp_path, "")) == ()


def test_rounding_is_no_other_sensitivity(tmp_path: Path) -> None:
    """Up to a thousandth."""
    near = {"Transducer sensitivity": f"{2.1 * (1 + 0.9 * SAME_SENSITIVITY)}"}
    far = {"Transducer sensitivity": f"{2.1 * (1 + 1.1 * SAME_SENSITIVITY)}"}
    assert found(tmp_path, header=GOOD | near) == []
    assert found(tmp_path, header=GOOD | far) == ["sensor sensitivity error"]


def test_findings_can_be_waived(tmp_path: Path) -> None:
    """A waiver may name each kind."""
    (one,) = header_findings([pushed(50.0, header=GOOD, day="2026-02-01")], register_in(tmp_path))
    (tmp_path / "waivers.toml").write_text(
        f'waivers = [{{test = "P1", channel = "{PELVIS}", finding = "{one.kind}", who = "lab", '
        'date = 2026-02-02, why = "calibrated a week later, sensitivity unchanged"}]\n',
        encoding="utf-8",
    )
    assert load_waivers(tmp_path).waiver_of(one) is not None
