"""Which tests are compared with each other as repeats."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import ChannelError, Recording, Signal
from correlate.formats.recording import SetAside
from correlate.reference.check import check
from correlate.reference.check.grouping import repeat_groups

if TYPE_CHECKING:
    from collections.abc import Sequence

CHEST = ["D0CHST0000KMDSXC", "D0THSP0000KMACXC", "00PEND000000ACXC", "00PEND000000FOXC"]
NECK = ["D0NECKUP00KMMOYB", "D0NECKUP00KMFOXA", "00PEND000000ACXC"]


def impact(
    name: str, channels: Sequence[str] = CHEST, *, mass: str = "", speed: str = "", subject: str = ""
) -> Recording:
    """Return a test with these channels and words."""
    samples = np.zeros(400)
    samples[200:260] = 100 * np.sin(np.pi * np.arange(60) / 60)
    details = {
        "Type of the test": "impact",
        "Mass test object 1": mass,
        "Velocity test object 1": speed,
        "Name of test object 1": subject,
    }
    signals = [
        Signal(samples=samples, start_s=-0.02, step_s=1e-4, unit="g", channel=channel) for channel in channels
    ]
    return Recording(signals=tuple(signals), path=Path("lab") / name, format="computed", details=details)


def names(*tests: Recording) -> dict[str, int]:
    """Return the name and size of every group."""
    return {group.name: len(group.members) for group in repeat_groups(tests)}


def test_repeats_that_state_nothing_are_one_group() -> None:
    """Nor does the letter of the filter matter."""
    other = [f"{code[:-1]}0" for code in CHEST]
    assert names(impact("t1"), impact("t2"), impact("t3", other)) == {"impact": 3}


@pytest.mark.parametrize(
    ("shared", "expected"), [(2, {"impact": 2}), (1, {"impact": 1, "impact (other channels)": 1})]
)
def test_half_the_channels_are_shared(shared: int, expected: dict[str, int]) -> None:
    """Of four channels two; a channel that cannot be read counts as there."""
    others = ["spare 1", "spare 2", "spare 3"]
    second = impact("t2", [*CHEST[:shared], *others[: 4 - shared]])
    assert names(impact("t1"), second) == expected
    lost = tuple(SetAside(code, ChannelError("is no number")) for code in CHEST[shared:2])
    assert names(impact("t1"), replace(second, set_aside=lost)) == {"impact": 2}


def test_a_smaller_test_is_a_repeat() -> None:
    """Half of the channels of the smaller one: a repeat may lack most of them."""
    assert names(impact("t1"), impact("t2", CHEST[:1])) == {"impact": 2}


@pytest.mark.parametrize(
    ("key", "first", "second", "expected"),
    [
        ("mass", "20", "22.9", {"impact": 2}),
        ("mass", "20", "23.1", {"impact": 1, "impact (23.1 kg)": 1}),
        ("mass", "20", "17.3", {"impact": 1, "impact (17.3 kg)": 1}),
        ("mass", "20", "NOVALUE", {"impact": 2}),
        ("speed", "6.0", "6.59", {"impact": 2}),
        ("speed", "6.0", "6.61", {"impact": 1, "impact (6.61 m/s)": 1}),
        ("speed", "", "6.61", {"impact": 2}),
        ("subject", "KELP-M 011", "KELP-M 012", {"impact": 2}),
        ("subject", "KELP-M 011", "Kelp-m", {"impact": 2}),
        ("subject", "KELP-M 011", "KELP-F 011", {"impact": 1, "impact (KELP-F 011)": 1}),
        ("subject", "NOVALUE", "KELP-F 011", {"impact": 2}),
        ("subject", "011", "012", {"impact": 2}),
    ],
)
def test_mass_speed_and_name_of_the_test_object(
    key: str, first: str, second: str, expected: dict[str, int]
) -> None:
    """Within 15 % and 10 %, and with a word in common; what is not stated does not separate."""
    one, other = impact("t1"), impact("t2")
    line = {"mass": "Mass", "speed": "Velocity", "subject": "Name of"}[key]
    line = f"{line} test object 1"
    one = replace(one, details={**one.details, line: first})
    assert names(one, replace(other, details={**other.details, line: second})) == expected


def test_groups_of_one_name_are_numbered() -> None:
    """Two other groups that share no channels with each other either."""
    tests = [impact("t1"), impact("t2", NECK[:2]), impact("t3", ["belt"]), impact("t4", NECK)]
    expected = {"impact": 1, "impact (other channels)": 2, "impact (other channels) 2": 1}
    assert names(*tests) == expected


def test_a_chest_and_a_neck_test_of_one_type_are_not_compared() -> None:
    """The probe is three times as fast in one; the outcome names both groups."""
    fast = impact("fast", NECK, speed="6.0")
    fast = replace(
        fast,
        signals=tuple(replace(item, samples=3 * item.samples) for item in fast.signals),
    )
    outcome = check([impact("slow", speed="2.0"), fast])
    assert {one.kind for one in outcome.findings} & {"gain", "unit"} == set()
    assert list(outcome.load_cases) == ["impact", "impact (other channels)"]


def test_further_repeats_without_a_test_to_check_are_left_out() -> None:
    """Only groups with a test that is checked are in the outcome, with the further repeats behind it."""
    others = [impact("t2"), impact("t3", NECK[:2])]
    outcome = check([impact("t1")], against=others)
    assert [[Path(one).name for one in files] for files in outcome.load_cases.values()] == [["t1", "t2"]]
