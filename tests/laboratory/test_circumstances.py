"""Circumstances of a test: what is stated, what headers and register say, and what does not fit together."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate.criteria import ChannelName, with_codes
from correlate.errors import FormatError
from correlate.laboratory.circumstances import (
    Fact,
    SensorUsed,
    StatedCircumstances,
    circumstances,
    load_circumstances,
)
from tests.laboratory.books import PELVIS, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Recording
    from correlate.laboratory.circumstances import Circumstances, SensorFacts

AIR = {"Reference temperature": "21.2", "Relative air humidity": "NOVALUE", "Laboratory name": "Kelpwick"}


def in_air(recording: Recording) -> Recording:
    """Add what the header of a test says about its conditions."""
    return replace(recording, details={**recording.details, **AIR})


def facts(found: Circumstances) -> dict[str, tuple[str, str]]:
    """Return text and source of each fact by its label."""
    return {fact.label: (fact.text, fact.source) for fact in found.facts}


def sensor(found: Circumstances) -> SensorFacts:
    """Return the one sensor."""
    (one,) = found.sensors
    return one


def test_the_header_says_what_nobody_states() -> None:
    """Each fact has its source; what nobody says is not given."""
    test = in_air(pushed(50.0))
    assert facts(circumstances(test, test.signals)) == {
        "test object": ("KELP-M KM-W-002", "header of the test"),
        "laboratory": ("Kelpwick", "header of the test"),
        "date of the test": ("2025-03-01", "header of the test"),
        "operator": ("not given", ""),
        "temperature": ("21.2 °C", "header of the test"),
        "relative humidity": ("not given", ""),
        "soak time": ("not given", ""),
        "remark": ("not given", ""),
    }


def test_what_is_stated_goes_before_the_header_and_a_contradiction_is_noted() -> None:
    """Equal numbers and a serial number inside a longer name are no contradiction."""
    test = in_air(pushed(50.0))
    stated = StatedCircumstances(
        serial="KM-W-002",
        temperature_degC=21.20,
        operator="operator 2",
        soak_hours=4.5,
        laboratory="Tern Cove",
    )
    found = circumstances(test, test.signals, stated)
    shown = facts(found)
    assert shown["test object"] == ("KM-W-002", "stated")
    assert shown["temperature"] == ("21.2 °C", "stated")
    assert shown["soak time"] == ("4.5 h", "stated")
    assert found.notes == (
        "The laboratory is stated as Tern Cove, and the header of the test says Kelpwick.",
    )
    warmer = circumstances(test, test.signals, StatedCircumstances(temperature_degC=23.0))
    assert warmer.notes == ("The temperature is stated as 23 °C, and the header of the test says 21.2 °C.",)


def test_sensors_come_from_the_statement_the_header_or_nobody() -> None:
    """The statement goes before the header; the hash is that of the channel."""
    named = pushed(50.0, header={"Transducer ID": "AC-7"})
    own = StatedCircumstances(
        sensor=(SensorUsed(channel="??PELV??????ACZ?", serial="AC-9", due=date(2025, 3, 1)),)
    )
    assert sensor(circumstances(named, named.signals)).serial == "AC-7"
    assert sensor(circumstances(named, named.signals, own)).serial == "AC-9"
    bare = pushed(50.0)
    unknown = sensor(circumstances(bare, bare.signals))
    assert (unknown.serial, unknown.calibrated, unknown.due, unknown.overdue) == (None, None, None, None)
    assert unknown.sha256 == bare.signals[0].source.sha256


@pytest.mark.parametrize(
    ("calibrated", "due", "overdue"),
    [
        (date(2025, 1, 1), date(2025, 3, 1), False),
        (date(2025, 1, 1), date(2025, 2, 28), True),
        (date(2025, 3, 1), date(2026, 3, 1), False),
        (date(2025, 3, 2), date(2026, 3, 1), True),
        (None, date(2025, 2, 28), True),
        (date(2025, 1, 1), None, None),
    ],
)
def test_a_calibration_is_valid_on_its_first_and_last_day(
    calibrated: date | None,
    due: date | None,
    overdue: bool | None,  # noqa: FBT001 - what is expected
) -> None:
    """The test is of 1 March 2025; an overdue calibration is a note."""
    test = pushed(50.0)
    own = SensorUsed(channel=PELVIS, serial="AC-9", calibrated=calibrated, due=due)
    found = circumstances(test, test.signals, StatedCircumstances(sensor=(own,)))
    assert sensor(found).overdue is overdue
    note = (f"The calibration of sensor AC-9 ({PELVIS}) was not valid on 2025-03-01.",)
    assert found.notes == (note if overdue else ())


def test_without_a_day_nothing_says_whether_a_calibration_was_valid() -> None:
    """The dates are shown all the same."""
    test = pushed(50.0, day="")
    own = SensorUsed(channel=PELVIS, serial="AC-9", due=date(2020, 1, 1))
    assert sensor(circumstances(test, test.signals, StatedCircumstances(sensor=(own,)))).overdue is None


def test_the_register_adds_dummy_part_and_calibration(tmp_path: Path) -> None:
    """The calibration in force on the day; the dummy by the serial number in the header."""
    register = register_in(tmp_path)
    test = pushed(50.0, header={"Transducer ID": "AC-101"})
    found = circumstances(test, test.signals, register=register, test="pelvis push")
    assert Fact("dummy", "KELP-M KM-W-002 B", "register") in found.facts
    one = sensor(found)
    assert (one.calibrated, one.due, one.overdue) == (date(2025, 1, 20), date(2026, 1, 20), False)
    assert found.notes == ()
    before = pushed(50.0, header={"Transducer ID": "AC-101"}, day="2023-01-15")
    early = sensor(circumstances(before, before.signals, register=register))
    assert (early.calibrated, early.due, early.overdue) == (None, None, True)


@pytest.mark.parametrize(
    ("test", "day", "is_named"),
    [
        ("pelvis push", "2025-06-01", True),
        ("pelvis push", "2025-05-31", False),
        ("head drop", "2025-06-01", False),
        ("pelvis push", "", True),
    ],
)
def test_only_a_part_that_may_matter_to_the_test_is_named(
    tmp_path: Path,
    test: str,
    day: str,
    is_named: bool,  # noqa: FBT001 - what is expected
) -> None:
    """The rib set of 1 June 2025 concerns the pelvis, from that day on."""
    recording = pushed(50.0, day=day)
    found = circumstances(recording, recording.signals, register=register_in(tmp_path), test=test)
    assert (Fact("last part exchanged", "rib set, 2025-06-01", "register") in found.facts) is is_named


def test_errors_and_warnings_of_the_headers_are_notes(tmp_path: Path) -> None:
    """A sensitivity that differs is noted once, with its channel; that headers name nothing is not."""
    register = register_in(tmp_path)
    wrong = pushed(50.0, header={"Transducer ID": "AC-101", "Transducer sensitivity": "2.5"})
    (note,) = circumstances(wrong, wrong.signals, register=register).notes
    assert note.startswith(f"{PELVIS}: the sensitivity of sensor 'AC-101' is 2.5 in the header")
    bare = pushed(50.0)
    assert circumstances(bare, bare.signals, register=register).notes == ()


def test_a_channel_that_was_given_a_code_is_found_under_its_own_name() -> None:
    """The header of a channel belongs to the name in the file."""
    code = "D0PELV0000KMACZ0"
    test = with_codes(pushed(50.0, header={"Transducer ID": "AC-7"}), [ChannelName(name=PELVIS, code=code)])
    one = sensor(circumstances(test, test.signals))
    assert (one.channel, one.serial) == (code, "AC-7")


def test_a_file_of_conditions_is_read_and_its_mistakes_are_listed(tmp_path: Path) -> None:
    """All mistakes at once, each with its key."""
    file = tmp_path / "conditions.toml"
    file.write_text(
        'operator = "operator 2"\nsoak_hours = 4\n[[sensor]]\nchannel = "??PELV??????ACZ?"\nserial = "AC-9"\n'
    )
    found = load_circumstances(file)
    assert (found.operator, found.soak_hours, found.sensor[0].serial) == ("operator 2", 4.0, "AC-9")
    file.write_text('humidity_percent = 140\noperater = "x"\nsoak_hours = -1\n')
    with pytest.raises(
        FormatError, match=r"(?s)conditions\.toml.*humidity_percent.*operater.*soak_hours"
    ) as no:
        load_circumstances(file)
    assert "3 mistake" in str(no.value)
