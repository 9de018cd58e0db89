"""How the examinations of a test are put together: load cases, repeats, and faults that explain others."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recording, Signal
from correlate.reference.check import check, load_case_of
from correlate.reference.repair import repair_recording
from tests.reference.check.by_hand import HEAD, Floats

if TYPE_CHECKING:
    from collections.abc import Mapping

TIME = np.arange(-400, 1200) * 1e-4
NOISE = np.random.default_rng(11).normal(0, 0.05, (8, TIME.size))


def bell(number: int, *, late_s: float = 0.0, size: float = 100.0) -> Floats:
    """Return a bell of 8 ms about 30 ms, each with its own noise."""
    return np.asarray(size * np.exp(-(((TIME - 0.03 - late_s) / 0.008) ** 2)) + NOISE[number])


def recording(
    name: str,
    samples: Floats,
    *,
    unit: str = "g",
    channel: str = HEAD,
    details: Mapping[str, str] | None = None,
) -> Recording:
    """Return a test with one channel."""
    signal = Signal(samples=samples, start_s=-0.04, step_s=1e-4, unit=unit, channel=channel)
    return Recording(signals=(signal,), path=Path(name), format="computed", details=dict(details or {}))


def found(tests: list[Recording], against: list[Recording] | None = None) -> set[tuple[str, str]]:
    """Return test and kind of every finding."""
    return {(Path(one.file).name, one.kind) for one in check(tests, against=against or ()).findings}


REPEATS = [recording(f"drop/t{number}", bell(number)) for number in range(3)]


@pytest.mark.parametrize(
    ("details", "expected"),
    [
        ({"Type of the test": "head drop"}, "head drop"),
        ({"Type of the test": "  head drop "}, "head drop"),
        ({"Type of the test": "NOVALUE"}, "lab"),
        ({"Type of the test": " "}, "lab"),
        ({}, "lab"),
    ],
)
def test_the_load_case_is_named_by_the_test_or_else_by_its_folder(
    details: dict[str, str], expected: str
) -> None:
    """A value that says nothing counts as none."""
    assert load_case_of(recording("lab/t1", bell(0), details=details)) == expected


def test_repeats_of_one_load_case_are_compared_and_others_are_not() -> None:
    """A test that is 10 ms late shows beside two repeats, not beside tests of another folder."""
    late = recording("drop/late", bell(3, late_s=0.01))
    assert found([*REPEATS, late]) == {("late", "time zero")}
    assert found([recording("other/late", bell(3, late_s=0.01)), *REPEATS]) == set()


def test_tests_to_compare_with_are_not_reported_themselves() -> None:
    """Nor counted among the channels; but they stand in the list of the load case."""
    late = recording("drop/late", bell(3, late_s=0.01))
    assert found(REPEATS, against=[late]) == set()
    assert found([late], against=REPEATS) == {("late", "time zero")}
    outcome = check([late], against=[*REPEATS, recording("far/t9", bell(4))])
    assert [Path(one.file).name for one in outcome.channels] == ["late"]
    assert {name: len(files) for name, files in outcome.load_cases.items()} == {"drop": 4}


def test_a_grave_fault_explains_size_and_time() -> None:
    """A late channel that is saturated as well is called saturated only; a small spike explains nothing."""
    late = bell(3, late_s=0.01)
    assert found([*REPEATS, recording("drop/t9", np.minimum(late, 60.0))]) == {("t9", "saturation")}
    small = late.copy()
    small[300] += 3.0
    assert found([*REPEATS, recording("drop/t9", small)]) == {("t9", "spike"), ("t9", "time zero")}


def test_a_grave_fault_does_not_explain_a_turned_sign() -> None:
    """Both are said."""
    turned = -np.minimum(bell(3), 60.0)
    assert found([*REPEATS, recording("drop/t9", turned)]) == {("t9", "saturation"), ("t9", "polarity")}


def test_levels_are_compared_where_units_are_equal() -> None:
    """Repeats in another unit do not say what offset is usual."""
    shifted = [recording(f"drop/t{number}", bell(number) + 10.0) for number in range(3)]
    assert found(shifted) == set()
    metric = [
        replace(one, signals=tuple(replace(signal, unit="m/s^2") for signal in one.signals))
        for one in (
            recording("drop/t8", bell(4) * 9.80665 + 98),
            recording("drop/t9", bell(5) * 9.80665 + 98),
        )
    ]
    assert ("t0", "offset") in found([shifted[0], *metric])


def two_axes(name: str, x: Floats, y: Floats) -> Recording:
    """Return a test with two axes of one sensor."""
    return replace(
        recording(name, x),
        signals=(
            *recording(name, x).signals,
            *recording(name, y, channel="D0HEAD0000KMACYP").signals,
        ),
    )


def test_nothing_else_is_said_of_exchanged_axes() -> None:
    """Size and sign of two exchanged channels are no faults of their own."""
    repeats = [
        two_axes(f"drop/t{number}", bell(number), bell(number + 3, late_s=0.02, size=-30.0))
        for number in range(3)
    ]
    assert found(repeats) == set()
    exchanged = two_axes("drop/t9", bell(6, late_s=0.02, size=-30.0), bell(7))
    assert found([*repeats, exchanged]) == {("t9", "axes")}


def test_a_copy_in_another_test_is_found_in_both() -> None:
    """Each of the two is named, once."""
    copied = recording("drop/copy", bell(0))
    findings = [one for one in check([*REPEATS, copied]).findings if one.kind == "copy"]
    assert sorted(Path(one.file).name for one in findings) == ["copy", "t0"]


def test_a_channel_that_one_repeat_lacks() -> None:
    """It is compared with those that have it."""
    other = recording("drop/t9", bell(3), channel="D0CHST0000KMACXP")
    late = recording("drop/late", bell(4, late_s=0.01))
    assert found([other, late, *REPEATS]) == {("late", "time zero")}


def test_dead_channels_are_not_matched() -> None:
    """A repeat without a signal says nothing about the others."""
    dead = recording("drop/dead", np.zeros(TIME.size))
    assert found([dead, *REPEATS]) == {("dead", "dropout")}


def test_short_pulses_with_nothing_around_them_are_checked() -> None:
    """A contact that closes for 4 samples in one test and for 9 in the other: its flat tops are found."""
    tests = []
    for name, width in (("t1", 4), ("t2", 9)):
        samples = np.zeros(2399)
        samples[1200 : 1200 + width] = 100.0
        tests.append(recording(f"drop/{name}", samples, channel="contact"))
    assert {("t1", "saturation"), ("t2", "saturation")} <= found(tests)


def test_the_summary_of_a_channel() -> None:
    """What is known, and None for what is not."""
    (quiet,) = check([recording("drop/t1", bell(0) + 2.0)]).channels
    assert quiet.offset == pytest.approx(2.0, abs=0.02)
    assert quiet.noise == pytest.approx(0.05, rel=0.2)
    assert quiet.count_size is None
    assert (quiet.samples, quiet.step_s, quiet.start_s) == (1600, 1e-4, -0.04)
    cut = Signal(samples=np.rint(bell(0)[650:]), start_s=0.025, step_s=1e-4, unit="g", channel=HEAD)
    (loud,) = check([Recording(signals=(cut,), path=Path("t2"), format="computed")]).channels
    assert (loud.offset, loud.noise) == (None, None)
    assert loud.count_size == pytest.approx(1.0)


def test_the_outcome_in_words() -> None:
    """Tests, channels, and findings of each severity."""
    outcome = check([*REPEATS, recording("drop/late", bell(3, late_s=0.01))])
    assert outcome.in_words == "4 tests, 4 channels: 1 error, 0 warnings, 0 notes"
    assert outcome.count("error") == 1
    assert outcome.has_errors
    assert check(REPEATS).in_words == "3 tests, 3 channels: 0 errors, 0 warnings, 0 notes"
    assert not check(REPEATS).has_errors


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (np.zeros(2), "it has 2 samples, fewer than 20"),
        (np.arange(19.0), "it has 19 samples, fewer than 20"),
        (np.arange(20.0), ""),
        (np.full(400, 1.1e100), "its largest value is 1.1e+100 g"),
        (np.full(400, 5.0), ""),
    ],
)
def test_a_channel_that_cannot_be_judged_does_not_stop_the_others(samples: Floats, reason: str) -> None:
    """It is set aside, with the reason; the other channels and tests are checked as ever."""
    odd = recording("drop/t9", samples)
    whole = replace(odd, signals=(*odd.signals, replace(REPEATS[0].signals[0], channel="chest ax")))
    outcome = check([*REPEATS, whole])
    aside = [one for one in outcome.findings if one.kind == "set aside"]
    assert [one.what for one in aside] == ([f"the channel cannot be checked: {reason}"] if reason else [])
    assert [one.severity for one in aside] == ["error"] * bool(reason)
    assert len(outcome.channels) == 5 - bool(reason)


def two_channels(name: str, first: Floats, second: Floats) -> Recording:
    """Return a test with the accelerations of a head and of a chest."""
    signals = (recording(name, first).signals[0], recording(name, second, channel=CHEST).signals[0])
    return replace(recording(name, first), signals=signals)


CHEST = "D0CHST0000KMACXP"


def test_exchanged_channels_are_reported_once_and_can_be_exchanged_back() -> None:
    """Sign, size and likeness of both follow from the exchange; so does a relation that uses one of them."""
    sound = [two_channels(f"drop/t{n}", bell(n), bell(n + 3, late_s=0.02, size=-30.0)) for n in range(3)]
    bad = two_channels("drop/t0", sound[0].signals[1].samples, sound[0].signals[0].samples)
    (finding,) = check([bad], against=sound[1:]).findings
    assert (finding.kind, finding.severity) == ("exchanged channels", "error")
    assert {finding.channel, finding.evidence["other"]} == {HEAD, CHEST}
    assert finding.repair is not None
    back = repair_recording(bad, {finding.channel: [finding.repair]}, accepted_by="lab")
    assert check([back], against=sound[1:]).findings == ()


def probe(name: str, number: int, *, gain: float) -> Recording:
    """Return an impact by 10 kg with force and acceleration, the latter too large by a factor."""
    made = [
        recording(name, samples, unit=unit, channel=code).signals[0]
        for code, unit, samples in (
            ("00PEND000000ACXP", "m/s^2", gain * bell(number)),
            ("00PEND000000FOXP", "N", 10.0 * bell(number + 4)),
        )
    ]
    details = {"Mass test object 1": "10"}
    return Recording(signals=tuple(made), path=Path(name), format="computed", details=details)


def test_a_channel_with_wrong_values_accuses_no_other_one() -> None:
    """The gain of the acceleration is found among repeats; the force that it contradicts is sound."""
    others = [probe(f"sound{number}", number, gain=1.0) for number in range(3)]
    assert found([probe("faulty", 3, gain=1.8)], others) == {("faulty", "gain")}
    # Without two other repeats nobody knows which of the two is wrong.
    assert ("alone", "redundancy") in found([probe("alone", 3, gain=1.8)])
    assert ("one of two", "redundancy") in found([probe("one of two", 3, gain=1.8)], others[:1])
