"""The log: what a result holds, that nothing counts twice, and which dummy and day a test has."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate import FormatError, kept_qualifications
from correlate.errors import SettingsError
from tests.laboratory.books import PELVIS, WINDOWS, kept, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path


def test_a_result_is_kept_with_inputs_settings_and_version(tmp_path: Path) -> None:
    """Everything that is needed to repeat it stands in its file."""
    register = register_in(tmp_path)
    found = kept(register, pushed(50.0))
    assert found.path.parent == tmp_path / "qualifications"
    assert found.path.name.startswith("2025-03-01-KM-W-002-")
    written = json.loads(found.path.read_text(encoding="utf-8"))
    assert written["inputs"] == {PELVIS: "P1-50.0"}
    assert written["settings"]["preparation"]["remove_offset"] is True
    assert written["passed"] is True
    assert written["quantities"][0]["value"] == pytest.approx(50.0, rel=1e-3)
    assert "do not certify" in written["caution"]
    assert kept_qualifications(register) == (found.result,)


def test_the_same_recording_counts_once(tmp_path: Path) -> None:
    """Kept again it is not written; with other windows it is, and only the newest result counts."""
    register = register_in(tmp_path)
    first = kept(register, pushed(50.0))
    again = kept(register, pushed(50.0))
    assert (again.is_new, again.path) == (False, first.path)
    other = kept(register, pushed(50.0), windows=WINDOWS.replace("[40, 60]", "[40, 45]"))
    assert other.is_new
    assert len(list(first.path.parent.glob("*.json"))) == 2
    (counted,) = kept_qualifications(register)
    assert counted == other.result
    assert not counted.passed


def test_a_dummy_that_was_wrong_is_corrected_by_keeping_again(tmp_path: Path) -> None:
    """The result then belongs to the dummy of the newest entry alone."""
    register = register_in(tmp_path)
    kept(register, pushed(50.0))
    kept(register, pushed(50.0), dummy="KM-W-003")
    assert [one.dummy for one in kept_qualifications(register)] == ["KM-W-003"]


def test_the_header_names_the_dummy_by_a_part_too(tmp_path: Path) -> None:
    """The result counts for the whole dummy."""
    found = kept(register_in(tmp_path), pushed(50.0, dummy="KELP-M KM-T-004"))
    assert found.result.dummy == "KM-W-002"


@pytest.mark.parametrize(
    ("dummy", "day", "message"),
    [
        ("KELP-M", "2025-03-01", "'KELP-M' in the header names no dummy of laboratory.toml; give it with"),
        ("", "2025-03-01", "a header without 'Serial number' names no dummy"),
        ("KM-W-002 KM-W-003", "2025-03-01", "names several dummies: KM-W-002, KM-W-003"),
        ("KM-W-002", "1 March", "'Date of the test' is '1 March'; give the day with --date"),
        ("KM-W-002", "", "the header has no 'Date of the test'"),
    ],
)
def test_a_test_without_dummy_or_day_is_refused(tmp_path: Path, dummy: str, day: str, message: str) -> None:
    """One sentence says what the header lacks and how to give it; nothing is written."""
    register = register_in(tmp_path)
    with pytest.raises(SettingsError, match=message):
        kept(register, pushed(50.0, dummy=dummy, day=day))
    assert kept_qualifications(register) == ()


def test_a_damaged_file_of_the_log_is_named(tmp_path: Path) -> None:
    """With what is wrong in it."""
    register = register_in(tmp_path)
    path = kept(register, pushed(50.0)).path
    path.write_text(path.read_text(encoding="utf-8").replace('"passed"', '"past"'), encoding="utf-8")
    with pytest.raises(FormatError, match=rf"{path.name}: this is not a saved qualification result"):
        kept_qualifications(register)
