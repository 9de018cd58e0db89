"""Each limit of one repeat against the others, from matches that are written down."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.repeats import RepeatLikeness, examine_among_repeats, trigger_shifts
from tests.reference.check.by_hand import facts, kinds

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.finding import Finding


def channel(*, peak: float = 100.0, noise: float = 0.0, step_s: float = 1e-4) -> ChannelStatistics:
    """Return one channel of a repeat."""
    return facts(np.zeros(50), peak=peak, noise=noise, step_s=step_s)


def match(
    *,
    correlation: float = 1.0,
    sign: int = 1,
    gain: float = 1.0,
    shift_s: float = 0.0,
    stretch: float = 1.0,
    stretched: float | None = None,
) -> RepeatLikeness:
    """Return a match; a stretch does not help unless it is said to."""
    return RepeatLikeness(
        correlation, sign, gain, shift_s, stretch, correlation if stretched is None else stretched
    )


def found(*matches: RepeatLikeness, own: ChannelStatistics | None = None) -> list[Finding]:
    """Judge a channel by its matches with others that are as loud."""
    return list(examine_among_repeats(own or channel(), [(channel(), one) for one in matches]))


@pytest.mark.parametrize(
    ("correlation", "expected"),
    [
        (0.69, [("unlike repeats", "warning")]),
        (0.70, []),
        (0.849, []),
        (0.85, [("polarity", "error")]),
    ],
)
def test_how_like_the_others_it_must_be(correlation: float, expected: list[tuple[str, str]]) -> None:
    """Below 0.7 it is called unlike them; from 0.85 on, sign, size and time are compared."""
    assert kinds(found(*2 * [match(correlation=correlation, sign=-1)])) == expected


@pytest.mark.parametrize(
    ("shift_s", "expected"),
    [
        (0.0015, []),
        (0.00151, [("time zero", "warning")]),
        (-0.00151, [("time zero", "warning")]),
        (0.005, [("time zero", "warning")]),
        (0.00501, [("time zero", "error")]),
        (-0.00501, [("time zero", "error")]),
    ],
)
def test_a_shift_of_time_zero(shift_s: float, expected: list[tuple[str, str]]) -> None:
    """Over 1.5 ms a warning, over 5 ms an error."""
    assert kinds(found(*2 * [match(shift_s=shift_s)])) == expected


def event(last_s: float, *, minor: bool = False) -> ChannelStatistics:
    """Return a channel whose event lasts so long, at steps of 1 ms."""
    samples = np.zeros(500)
    samples[10 : 10 + round(last_s * 1e3) + 1] = 100.0
    return replace(facts(samples, step_s=1e-3), is_minor=minor)


@pytest.mark.parametrize(
    ("last_s", "shift_s", "expected"),
    [
        # 3.5 % of the event for a warning, a tenth of it for an error.
        (0.2, 0.00699, []),
        (0.2, 0.00701, [("time zero", "warning")]),
        (0.2, 0.0199, [("time zero", "warning")]),
        (0.2, 0.0201, [("time zero", "error")]),
        (0.04, 0.00149, []),
        (0.04, 0.00151, [("time zero", "warning")]),
    ],
)
def test_a_long_event_may_be_shifted_further(
    last_s: float, shift_s: float, expected: list[tuple[str, str]]
) -> None:
    """What is late by 5 ms is late for an impact, and not for a push of a fifth of a second."""
    assert kinds(found(*2 * [match(shift_s=shift_s)], own=event(last_s))) == expected


@pytest.mark.parametrize(("apart_s", "expected"), [(0.0011, [("time zero", "warning")]), (0.0013, [])])
def test_others_that_shift_among_themselves(apart_s: float, expected: list[tuple[str, str]]) -> None:
    """A shift of 3 ms is news when the others differ by less than 1.2 ms: 2.5 times their range."""
    assert kinds(found(match(shift_s=0.003), match(shift_s=0.003 + apart_s))) == expected


@pytest.mark.parametrize(
    ("last_s", "alone_s", "expected"),
    [
        (0.005, 0.00069, []),
        (0.005, 0.00071, [("time zero", "warning")]),
        (0.1, 0.00399, []),
        (0.1, -0.00401, [("time zero", "warning")]),
    ],
)
def test_a_shift_against_the_other_channels(
    last_s: float, alone_s: float, expected: list[tuple[str, str]]
) -> None:
    """Over 0.7 ms and over 4 % of the event, whatever the trigger was."""
    trigger_s = -math.copysign(0.001, alone_s)
    others = [(replace(channel(), file=name), match(shift_s=trigger_s + alone_s)) for name in ("t2", "t3")]
    findings = list(examine_among_repeats(event(last_s), others, {"t2": trigger_s, "t3": trigger_s}))
    assert kinds(findings) == expected
    assert all("against the other channels of the test" in one.what for one in findings)


def test_when_a_test_was_triggered() -> None:
    """The median of three channels that are alike; minor axes, unlike and stretched channels have no vote."""
    names = ["a", "b", "c", "minor", "unlike", "stretched"]
    items = [replace(channel(), signal=replace(channel().signal, channel=name)) for name in names]
    items[3] = replace(items[3], is_minor=True)
    likenesses = {
        "a": match(shift_s=0.001),
        "b": match(shift_s=0.002),
        "c": match(shift_s=0.009),
        "minor": match(shift_s=1.0),
        "unlike": match(shift_s=1.0, correlation=0.84),
        "stretched": match(shift_s=1.0, correlation=0.86, stretch=2.0, stretched=0.99),
    }
    matches = {(0, name): [(replace(channel(), file="t2"), one)] for name, one in likenesses.items()}
    assert trigger_shifts(items, matches, 0) == {"t2": 0.002}
    assert trigger_shifts(items[:2], matches, 0) == {}


def test_nothing_is_said_of_a_minor_axis() -> None:
    """Its sign, size and time differ from repeat to repeat in honest data."""
    likeness = match(sign=-1, gain=9.80665, shift_s=0.02)
    assert kinds(found(likeness, likeness, own=event(0.01, minor=True))) == []
    assert len(found(likeness, likeness, own=event(0.01))) == 3


def test_a_single_other_repeat_gives_warnings_only() -> None:
    """It may be the wrong one."""
    assert kinds(found(match(shift_s=0.02, sign=-1, gain=9.80665))) == [
        ("time zero", "warning"),
        ("polarity", "warning"),
        ("unit", "warning"),
    ]
    assert kinds(found(match(correlation=0.0, stretch=2.0, stretched=1.0))) == [("sample rate", "warning")]


@pytest.mark.parametrize(
    ("gain", "expected"),
    [
        (1.49, []),
        (1.5, []),
        (1.51, [("gain", "warning")]),
        (0.67, []),
        (0.66, [("gain", "warning")]),
        # 7 % about 9.80665, and about its reciprocal.
        (9.13, [("unit", "error")]),
        (9.11, [("gain", "warning")]),
        (10.48, [("unit", "error")]),
        (10.5, [("gain", "warning")]),
        (0.108, [("unit", "error")]),
        (0.110, [("gain", "warning")]),
    ],
)
def test_a_ratio_of_sizes(gain: float, expected: list[tuple[str, str]]) -> None:
    """Over 1.5 or below its reciprocal; an error where it is near a factor between units."""
    assert kinds(found(*2 * [match(gain=gain)])) == expected


@pytest.mark.parametrize(
    ("apart", "gain", "expected"),
    [
        # The others differ by 15 %: so may the ratio, not by more.
        (1.15, 9.80665 * 0.87, "unit"),
        (1.15, 9.80665 * 0.85, "gain"),
        # Never by more than a fifth.
        (1.5, 9.80665 * 0.81, "unit"),
        (1.5, 9.80665 * 0.79, "gain"),
        (1.0, 9.80665 * 0.92, "gain"),
    ],
)
def test_a_factor_between_units_among_repeats_that_scatter(apart: float, gain: float, expected: str) -> None:
    """With two others the ratio nearer to one decides."""
    assert [one.kind for one in found(match(gain=gain), match(gain=gain * apart))] == [expected]


@pytest.mark.parametrize(
    ("stretch", "expected"),
    [
        (1.11, []),
        (1.13, [("sample rate", "error")]),
        (1 / 1.11, []),
        (1 / 1.13, [("sample rate", "error")]),
    ],
)
def test_the_smallest_stretch_that_counts(stretch: float, expected: list[tuple[str, str]]) -> None:
    """More than 12 % longer or shorter."""
    likeness = match(correlation=0.8, stretch=stretch, stretched=0.99)
    assert kinds(found(*2 * [likeness])) == expected


@pytest.mark.parametrize(
    ("correlation", "stretched", "expected"),
    [
        # A misfit of 0.25 must fall below 0.0875.
        (0.75, 0.912, []),
        (0.75, 0.913, [("sample rate", "error")]),
        # Whatever the gain, the stretched curve must be the same event.
        (0.1, 0.849, [("unlike repeats", "warning")]),
        (0.1, 0.85, [("sample rate", "error")]),
    ],
)
def test_what_a_stretch_must_explain(
    correlation: float, stretched: float, expected: list[tuple[str, str]]
) -> None:
    """It leaves less than 35 % of the misfit, and a correlation of 0.85 or more."""
    likeness = match(correlation=correlation, stretch=2.0, stretched=stretched)
    assert kinds(found(*2 * [likeness])) == expected


def test_nothing_else_is_said_of_a_stretched_channel() -> None:
    """Sign, size and time mean nothing until the time axis is right."""
    likeness = match(correlation=0.5, sign=-1, gain=3.0, shift_s=0.1, stretch=2.0, stretched=0.99)
    assert kinds(found(likeness, likeness)) == [("sample rate", "error")]


@pytest.mark.parametrize(("peak", "expected"), [(30.0, []), (30.1, [("polarity", "error")])])
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_peak_that_is_thirty_times_the_noise(
    peak: float, sign: float, expected: list[tuple[str, str]]
) -> None:
    """A smaller one cannot be compared, whether it is that of the channel or of the others."""
    quiet, turned = channel(peak=sign * peak, noise=1.0), match(sign=-1)
    assert kinds(found(turned, turned, own=quiet)) == expected
    assert kinds(examine_among_repeats(channel(), [(quiet, turned), (quiet, turned)])) == expected


def test_others_that_are_too_quiet_do_not_vote() -> None:
    """Two quiet repeats that say the sign is right leave the two loud ones."""
    quiet = channel(peak=1.0, noise=1.0)
    matches = [(channel(), match(sign=-1))] * 2 + [(quiet, match())] * 2
    assert kinds(examine_among_repeats(channel(), matches)) == [("polarity", "error")]
    assert kinds(examine_among_repeats(channel(), [])) == []


def test_the_majority_decides_and_a_tie_clears() -> None:
    """Of three, two; of two that disagree, the one that finds nothing."""
    wrong = match(sign=-1, gain=9.8, shift_s=0.01)
    assert kinds(found(wrong, wrong, match())) == [
        ("time zero", "error"),
        ("polarity", "error"),
        ("unit", "error"),
    ]
    assert kinds(found(wrong, match())) == []
    assert kinds(found(wrong, match(), match())) == []
    assert kinds(found(match(correlation=0.1), match())) == []
    stretched = match(correlation=0.2, stretch=2.0, stretched=0.99)
    assert kinds(found(stretched, match())) == []


def test_the_finding_of_a_shift() -> None:
    """How late, from the onset on, and the shift that corrects it to four digits."""
    (finding,) = found(*2 * [match(shift_s=0.00412345, correlation=0.98765)])
    assert "4.12 ms late" in finding.what
    assert dict(finding.evidence) == {
        "shift_s": 0.00412345,
        "shift_against_channels_s": 0.0,
        "correlation": 0.9877,
    }
    assert (finding.start_s, finding.end_s) == (0.01, 0.01)
    assert finding.repair is not None
    assert dict(finding.repair.settings) == {"offset_s": -0.004123}
    assert "4.12 ms early" in found(*2 * [match(shift_s=-0.00412345)])[0].what


def test_the_findings_of_sign_and_size() -> None:
    """Where the peak is; the correlation with its sign; ratio, and the factor to divide by."""
    polarity, unit = found(*2 * [match(sign=-1, gain=0.001, correlation=0.98765)])
    assert dict(polarity.evidence) == {"correlation": -0.9877, "peak": 100.0}
    assert polarity.what == "the sign is opposite to that of the other repeats"
    assert found(match(sign=-1))[0].what == "the sign is opposite to that of the other repeat"
    assert dict(unit.evidence) == {"ratio": 0.001, "correlation": 0.9877, "factor": 0.001}
    assert unit.repair is not None
    assert dict(unit.repair.settings) == {"factor": 0.001}
    (gain,) = found(*2 * [match(gain=2.0)])
    assert dict(gain.evidence) == {"ratio": 2.0, "correlation": 1.0}
    assert {one.start_s for one in (polarity, unit, gain)} == {0.03}
    assert {one.end_s for one in (polarity, unit, gain)} == {0.03}


@pytest.mark.parametrize(
    ("step_s", "right_s"),
    [
        # Half the usual step explains the half duration, and so does one within a tenth of it.
        (0.5e-4, 1e-4),
        (0.54e-4, 1e-4),
        (0.46e-4, 1e-4),
        # Otherwise the step is what the stretch makes of it, to three digits.
        (0.56e-4, 1.12e-4),
        (0.44e-4, 8.8e-5),
    ],
)
def test_the_step_that_is_proposed(step_s: float, right_s: float) -> None:
    """The step of the others where it explains the stretch."""
    likeness = match(correlation=0.5, stretch=0.5, stretched=0.99)
    (finding,) = found(likeness, likeness, own=channel(step_s=step_s))
    assert finding.repair is not None
    assert dict(finding.repair.settings) == {"step_s": pytest.approx(right_s)}
    assert ("against 0.1 ms in the others" in finding.what) == (right_s == 1e-4)
    assert dict(finding.evidence) == {
        "stretch": 0.5,
        "correlation": 0.5,
        "correlation_stretched": 0.99,
        "step_s": step_s,
    }


def test_stretches_are_averaged_as_factors() -> None:
    """Of a half and a double neither is favoured: the event lasts as long as in the others."""
    one = match(correlation=0.5, stretch=0.5, stretched=0.99)
    other = match(correlation=0.5, stretch=2.0, stretched=0.99)
    assert kinds(found(one, other)) == [("unlike repeats", "warning")]
    (finding,) = found(one, match(correlation=0.5, stretch=0.8, stretched=0.99))
    assert math.isclose(float(finding.evidence["stretch"]), 0.8)
