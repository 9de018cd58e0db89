"""The invented two years of two dummies: what their log shows is what was put in."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate import Register, due_in, header_findings, history, read, read_register
from correlate.laboratory import check_with_register
from demo_pairs import build as building
from demo_pairs.build import BuildSelection
from demo_pairs.history import make_history
from demo_pairs.laboratory.life import LIVES
from demo_pairs.writing import REGISTER, write_record
from tests.demo_pairs.measuring import records

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def register(tmp_path_factory: pytest.TempPathFactory) -> Register:
    """Write the log of both dummies beside a copy of the register."""
    folder = tmp_path_factory.mktemp("laboratory")
    (folder / REGISTER.name).write_bytes(REGISTER.read_bytes())
    for life in LIVES:
        make_history(life, folder)
    return read_register(folder)


def test_the_softening_ribs_are_found_and_their_exchange_too(register: Register) -> None:
    """Deflection drifts upwards until the ribs are new, which brings it back; the jacket moved nothing."""
    (thorax,) = history(register, "KM-W-002")
    assert len(thorax.results) == 13
    deflection = next(one for one in thorax.quantities if one.name == "sternum_deflection_peak_mm")
    assert deflection.changes.is_drift
    assert deflection.changes.drift is not None
    assert deflection.changes.drift.value > 0
    effects = {one.words: one.effect for one in deflection.exchanges}
    assert effects["rib set"] is not None
    assert effects["rib set"].upper < 0
    assert effects["chest jacket"] is not None
    assert not effects["chest jacket"].is_distinguishable
    assert thorax.has_signal
    assert all(all(quantity.inside) for quantity in thorax.quantities)


def test_the_steady_dummy_shows_no_change(register: Register) -> None:
    """No drift and no step in any quantity."""
    (thorax,) = history(register, "KM-W-003")
    assert len(thorax.results) == 8
    assert not any(one.changes.is_drift or one.changes.is_step for one in thorax.quantities)


def test_the_same_log_is_written_twice(register: Register, tmp_path: Path) -> None:
    """Byte for byte, whenever it is made."""
    make_history(LIVES[1], tmp_path)
    names = sorted(path.name for path in (tmp_path / "qualifications").iterdir() if path.suffix == ".json")
    assert len(names) == 8
    for name in names:
        mine = (tmp_path / "qualifications" / name).read_bytes()
        assert mine == (register.path.parent / "qualifications" / name).read_bytes()


def test_headers_of_the_tests_agree_with_the_register(register: Register, tmp_path: Path) -> None:
    """Every sensor is registered, calibrated on the day, in its range; the check finds nothing more."""
    for case in ("head-drop", "knee-impact"):
        test = records(case)[0]
        write_record(test, tmp_path / test.name)
        recording = read(tmp_path / test.name)
        assert header_findings([recording], register) == ()
        assert (
            check_with_register([recording], register).findings
            == check_with_register([recording], None).findings
        )


def test_what_is_due_depends_on_the_day(register: Register) -> None:
    """In spring nothing is; after half a year both dummies and some sensors are."""
    spring = {one.dummy: one for one in due_in(register, date.fromisoformat("2024-04-15")).tests}
    assert not any(one.overdue for one in spring.values())
    assert spring["KM-W-002"].tests_left == 9
    later = due_in(register, date.fromisoformat("2024-09-01"))
    assert all(one.overdue for one in later.tests)
    assert 0 < sum(one.overdue for one in later.sensors) < len(later.sensors)


def test_the_log_is_a_job_of_the_load_case_it_belongs_to() -> None:
    """A build of other load cases has none."""
    whole = building._jobs(BuildSelection.of())
    other = building._jobs(BuildSelection.of(cases=["head-drop"]))
    assert sum(getattr(job, "func", None) is make_history for job in whole) == 2
    assert not any(getattr(job, "func", None) is make_history for job in other)
