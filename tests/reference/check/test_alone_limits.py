"""A single test: each limit of its time zero, and the table of usual channels."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recording
from correlate.reference.check import check
from correlate.reference.check.alone import UsualChannel, examine_alone, usual_channels
from correlate.reference.expectations import Expectations, ExpectedChannel, ExpectedLoadCase
from correlate.unit_factors import confused_units
from correlate.units import conversion
from tests.reference.check.by_hand import facts, kinds

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics

CHEST = "D0CHST0000KMACXC"
PROBE = "00PEND000000ACXC"
BELT = "D0SEBE000300FO0D"
FEMUR = "D0FEMRLE00KMFOZB"


def words_of(name: str, item: ChannelStatistics) -> Recording:
    """Return the words of a test; the samples play no part."""
    return Recording(
        signals=(item.signal,), path=Path("lab/t1"), format="computed", details={"Type of the test": name}
    )


def found(
    channel: str,
    *,
    name: str = "",
    peak: float = 1000.0,
    unit: str = "N",
    onset_s: float = 0.001,
    start_s: float = -0.02,
) -> list[tuple[str, str]]:
    """Examine a channel of a single test."""
    item = replace(
        facts(np.zeros(400), peak=peak, channel=channel, unit=unit, start_s=start_s), onset_s=onset_s
    )
    return kinds(examine_alone([item], words_of(name, item), ()))


@pytest.mark.parametrize(
    ("channel", "onset_s", "start_s", "expected"),
    [
        ("belt", -0.00149, -0.02, []),
        ("belt", -0.00151, -0.02, [("time zero", "warning")]),
        ("belt", 0.1, -0.02, []),
        (PROBE, 0.00399, -0.02, []),
        (PROBE, 0.00401, -0.02, [("time zero", "warning")]),
        ("00SLED000000ACXD", 0.00401, -0.02, [("time zero", "warning")]),
        ("00PEND000000FOXC", 0.00401, -0.02, []),
        (CHEST, 0.00401, -0.02, []),
        # A record that starts with the event has a time zero of its own.
        (PROBE, 0.00401, -0.0051, [("time zero", "warning")]),
        (PROBE, 0.00401, -0.0049, []),
        (PROBE, -0.003, -0.0049, []),
    ],
)
def test_time_zero_of_a_single_test(
    channel: str, onset_s: float, start_s: float, expected: list[tuple[str, str]]
) -> None:
    """Nothing begins 1.5 ms before it, and the rig moves 4 ms after it at the latest."""
    assert found(channel, onset_s=onset_s, start_s=start_s, unit="rad") == expected


@pytest.mark.parametrize(
    ("peak", "expected"),
    [
        (199.0, [("expected peak", "warning")]),
        (201.0, []),
        (24_999.0, []),
        (25_001.0, [("expected peak", "warning")]),
        (49_900.0, [("expected peak", "warning")]),
        (50_100.0, [("unit", "warning")]),
        (101.0, [("expected peak", "warning")]),
        (99.0, [("unit", "warning")]),
        (-1000.0, [("polarity", "warning")]),
    ],
)
def test_sign_and_size_of_a_belt(peak: float, expected: list[tuple[str, str]]) -> None:
    """Whatever the test is; far beyond the range a factor between units is named where one fits."""
    assert found(BELT, peak=peak) == expected
    assert found(BELT, peak=peak / 1e3, unit="kN") == expected
    assert ("polarity" in str(expected)) == (found(BELT, peak=peak, unit="g") != [])


@pytest.mark.parametrize(
    ("channel", "name", "peak", "unit", "expected"),
    [
        (FEMUR, "knee impact", 5000.0, "N", [("polarity", "warning")]),
        (FEMUR, "Knee-Impact 3", -5000.0, "N", []),
        (FEMUR, "frontal sled", 5000.0, "N", []),
        (CHEST, "frontal sled", 30.0, "g", [("polarity", "warning")]),
        (CHEST, "rear sled", 30.0, "g", []),
        ("D0HEAD0000KMACXA", "head drop, lateral", 120.0, "g", []),
        ("D0HEAD0000KMACXA", "head drop", 120.0, "g", [("polarity", "warning")]),
        ("D0NECKUP00KMMOYB", "neck flexion", -80.0, "Nm", [("polarity", "warning")]),
        ("D0NECKUP00KMMOYB", "neck extension", -80.0, "Nm", []),
        ("00PEND000000ACXC", "thorax impact", 300.0, "g", []),
        ("00PEND000000FOXC", "thorax impact", 5.0, "N", [("unit", "warning")]),
        ("D0CHST0000KMDSXB", "thorax impact", 60.0, "mm", []),
        ("D0CHST0000KMDSXB", "thorax impact", -60.0, "mm", []),
    ],
)
def test_what_is_usual_depends_on_the_test(
    channel: str, name: str, peak: float, unit: str, expected: list[tuple[str, str]]
) -> None:
    """By words in its name; conventions that differ between laboratories are left open."""
    assert found(channel, name=name, peak=peak, unit=unit) == expected


def test_the_size_is_that_of_the_sensor_and_minor_axes_are_left_out() -> None:
    """A head that falls on its crown shows little on its x axis."""
    head = facts(np.zeros(400), peak=-30.0, channel="D0HEAD0000KMACXA", unit="g", start_s=-0.02)
    recording = words_of("head drop", head)
    assert kinds(examine_alone([head], recording, ())) == [("expected peak", "warning")]
    assert kinds(examine_alone([replace(head, sensor_peak=200.0)], recording, ())) == []
    small = replace(head, peak=5.0, sensor_peak=200.0, is_minor=True)
    assert kinds(examine_alone([small], recording, ())) == []


def test_expectations_of_the_user_go_before_the_table() -> None:
    """A channel that they name is judged by them alone; among repeats the table is silent."""
    samples = np.zeros(1000)
    samples[400:600] = -3000 * np.sin(np.pi * np.arange(200) / 200) ** 2
    base = facts(samples, channel=BELT, unit="N", start_s=-0.04).signal
    tests = [
        Recording(signals=(base,), path=Path(f"sled/t{number}"), format="computed") for number in range(2)
    ]

    def polarity(expectations: Expectations) -> list[str]:
        outcome = check(tests[:1], expectations=expectations)
        return [one.severity for one in outcome.findings if one.kind == "polarity"]

    def stated(sign: str) -> Expectations:
        belt = ExpectedChannel.model_validate({"channel": BELT, "main_peak": sign})
        return Expectations(load_case=(ExpectedLoadCase(name="sled", channel=(belt,)),))

    assert polarity(Expectations()) == ["warning"]
    assert polarity(stated("negative")) == []
    assert polarity(stated("positive")) == ["error"]
    assert [one for one in check(tests).findings if one.kind == "polarity"] == []


def test_the_table_itself() -> None:
    """Every range is in order and its unit is known; every entry has a source."""
    table = usual_channels()
    assert len(table) > 10
    for entry in table:
        assert entry.size[0] < entry.size[1]
        assert conversion(entry.unit, entry.unit) == (1.0, 0.0)
        assert "49 CFR" in entry.source or "SAE J211-1" in entry.source or "no source" in entry.source
        if entry.main_peak is not None:
            assert "from memory" in entry.source


def test_a_range_that_tells_g_from_metres_is_narrower_than_their_factor() -> None:
    """Otherwise no value could be named in the wrong one of the two."""
    assert confused_units(9.80665) is not None
    head_drop = next(entry for entry in usual_channels() if "head drop" in entry.tests)
    assert head_drop.size[1] / head_drop.size[0] < 9.80665
    assert isinstance(head_drop, UsualChannel)
