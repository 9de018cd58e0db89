"""The register: what is in it, and every mistake at once with its line."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate import FormatError, project_register, read_register
from correlate.errors import SettingsError
from correlate.laboratory import register as register_module
from tests.laboratory.books import REGISTER, register_in

if TYPE_CHECKING:
    from pathlib import Path


def test_dummies_are_found_by_their_serials_and_those_of_their_parts(tmp_path: Path) -> None:
    """Capitals do not matter; an unknown one is refused with the known ones."""
    register = register_in(tmp_path)
    assert register.dummy("km-t-004").serial == "KM-W-002"
    assert [one.serial for one in register.named_in("KELP-M, KM-W-003 (whole)")] == ["KM-W-003"]
    with pytest.raises(SettingsError, match="there is no dummy 'KM-X'; the register has 'KM-W-002', 'KM-W-0"):
        register.dummy("KM-X")


def test_the_calibration_in_force_is_the_latest_until_the_day(tmp_path: Path) -> None:
    """The day of a calibration belongs to it; before the first one there is none."""
    sensor = register_in(tmp_path).sensor("ac-101")
    assert sensor is not None
    days = {date(2024, 1, 9): None, date(2025, 1, 19): 2.0, date(2025, 1, 20): 2.1}
    found = {day: sensor.calibration_on(day) for day in days}
    assert {day: one and one.sensitivity for day, one in found.items()} == days


def test_all_mistakes_are_reported_at_once_with_their_lines(tmp_path: Path) -> None:
    """An unknown key, an unknown unit, a calibration that ends before it begins, a serial twice."""
    text = REGISTER.replace("build_level", "build_levle").replace('unit = "g"', 'unit = "furlong"')
    text = text.replace("due = 2025-01-10", "due = 2023-01-10").replace("KM-W-003", "KM-T-004")
    with pytest.raises(FormatError) as caught:
        register_in(tmp_path, text)
    for words in (
        "4 mistakes",
        "line 6, dummy.build_levle: there is no such key; did you mean 'build_level'?",
        "line 17, sensor: the unit 'furlong' is not known",
        "line 24, sensor.calibration: the calibration is due on 2023-01-10, before 2024-01-10",
        "the dummy or body part 'km-t-004' is listed twice",
    ):
        assert words in str(caught.value)


def test_an_interval_says_how_often(tmp_path: Path) -> None:
    """Neither months nor tests is a mistake."""
    with pytest.raises(FormatError, match="neither 'months' nor 'tests' is given"):
        register_in(tmp_path, '[[interval]]\ntest = "head"\n')


def test_a_project_has_a_register_or_none(tmp_path: Path) -> None:
    """It lies beside the campaign file; a register that is named must exist."""
    assert project_register(tmp_path) is None
    with pytest.raises(FormatError, match="cannot be read"):
        read_register(tmp_path)
    assert register_in(tmp_path) == project_register(tmp_path)


def test_the_same_bytes_are_read_once_and_others_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pages request the register very often; a change is noticed, even if the length is the same."""
    file = register_in(tmp_path).path
    first = project_register(tmp_path)
    real = register_module.read_register
    read: list[object] = []

    def noting(path: Path) -> object:
        read.append(path)
        return real(path)

    monkeypatch.setattr(register_module, "read_register", noting)
    assert project_register(tmp_path) is first
    assert read == []
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("KM-W-003", "KM-W-004"), encoding="utf-8")
    changed = project_register(tmp_path)
    assert changed is not None
    assert [one.serial for one in changed.dummies][-1] == "KM-W-004"
    file.write_text(text, encoding="utf-8")
    assert project_register(tmp_path) == first
    file.write_text("[[dummy]]", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(FormatError):
            project_register(tmp_path)
