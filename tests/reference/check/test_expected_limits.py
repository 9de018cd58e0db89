"""Each limit of expectations, of factors between units, and of two ways to the same quantity."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pytest

from correlate.reference.check.relations import examine_expected, examine_redundancy, relations_by_code
from correlate.reference.expectations import (
    ExpectedChannel,
    ExpectedLoadCase,
    ForceOfMass,
    IntegralOf,
    ResultantOf,
    SpeedChange,
    SumOf,
)
from correlate.unit_factors import confused_units, factor_into
from tests.reference.check.by_hand import Floats, facts, kinds

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.finding import Finding

FACTORS = {
    "g and m/s²": 9.80665,
    "a unit and its thousandth": 1000.0,
    "degree and radian": 57.29577951308232,
    "lbf and N": 4.4482216152605,
    "inch and mm": 25.4,
}
PULSE = np.concatenate((np.zeros(20), np.sin(np.pi * np.arange(61) / 60), np.zeros(20)))
"""Half a sine of 60 steps, of size 1."""
OTHER = np.concatenate((np.zeros(20), np.sin(2 * np.pi * np.arange(61) / 60), np.zeros(20)))
"""A whole sine: orthogonal to the pulse, and of the same mean square."""
WHATEVER = SumOf(kind="sum", total="total", parts=("part", "nothing"))


@pytest.mark.parametrize(("words", "factor"), list(FACTORS.items()))
def test_a_ratio_within_seven_per_cent_of_a_factor(words: str, factor: float) -> None:
    """Of the factor or of its reciprocal."""
    for known in (factor, 1 / factor):
        for share in (0.931, 1.0, 1.069):
            found = confused_units(share * known)
            assert found is not None
            assert found[0] == words
            assert found[1] == pytest.approx(known, rel=1e-12)
        assert confused_units(0.929 * known) is None
        assert confused_units(1.071 * known) is None


def test_the_factor_that_brings_a_value_into_a_range() -> None:
    """Both ends of the range count; of two factors the one that leads nearest to its middle."""
    assert factor_into(25.4 * 2, 2.0, 2.1) == ("inch and mm", 25.4)
    assert factor_into(25.4 * 2, 1.9, 2.0) == ("inch and mm", 25.4)
    assert factor_into(25.4 * 2, 2.01, 2.1) is None
    assert factor_into(25.4 * 2, 1.9, 1.99) is None
    # 100 over 25.4 is 3.94, over 57.3 is 1.75; the middle of 1 to 10 is their root, 3.16.
    assert factor_into(100.0, 1.0, 10.0) == ("inch and mm", 25.4)
    # Of 1 to 2 it is 1.41.
    assert factor_into(100.0, 1.0, 2.0) == ("degree and radian", 180 / math.pi)


def held_against(peak: float, /, **keys: object) -> list[Finding]:
    """Hold a force with a peak in N against what is expected."""
    expected = ExpectedChannel.model_validate({"channel": "force", **keys})
    case = ExpectedLoadCase(name="drop", channel=(expected,))
    force = facts(np.zeros(50), peak=peak, channel="force", unit="N")
    return list(examine_expected([force], case, file="t1"))


@pytest.mark.parametrize(
    ("peak", "found"),
    [
        (3990.0, [("expected peak", "warning")]),
        (4000.0, []),
        (-4000.0, []),
        (6000.0, []),
        (6010.0, [("expected peak", "warning")]),
        (5.0, [("unit", "error")]),
        (0.0, []),
    ],
)
def test_the_size_of_the_expected_peak(peak: float, found: list[tuple[str, str]]) -> None:
    """Of 4 to 6 kN both ends are met; off by a factor between units it is an error."""
    assert kinds(held_against(peak, peak=(4.0, 6.0), unit="kN")) == found


def test_the_findings_of_an_expected_peak() -> None:
    """Size in the expected unit, both ends, and the factor to divide by where one is known."""
    (plain,) = held_against(-3000.0, peak=(4.0, 6.0), unit="kN")
    assert dict(plain.evidence) == {"peak": 3.0, "low": 4.0, "high": 6.0}
    assert plain.repair is None
    assert "the peak is 3 kN, expected range 4 to 6" in plain.what
    (thousandth,) = held_against(5.0, peak=(4.0, 6.0), unit="kN")
    assert thousandth.repair is not None
    assert dict(thousandth.repair.settings) == {"factor": pytest.approx(0.001)}
    assert "the factor between a unit and its thousandth" in thousandth.what
    (quantity,) = held_against(5000.0, peak=(4.0, 6.0), unit="mm")
    assert (quantity.kind, quantity.severity) == ("unit", "error")
    assert dict(quantity.evidence) == {"unit": "N", "expected": "mm"}


@pytest.mark.parametrize(
    ("peak", "main_peak", "found"),
    [
        (5.0, "positive", []),
        (5.0, "negative", [("polarity", "error")]),
        (-5.0, "negative", []),
        (-5.0, "positive", [("polarity", "error")]),
        (0.0, "positive", []),
        (0.0, "negative", []),
    ],
)
def test_the_sign_of_the_expected_peak(peak: float, main_peak: str, found: list[tuple[str, str]]) -> None:
    """A dead channel has no sign."""
    findings = held_against(peak, main_peak=main_peak)
    assert kinds(findings) == found
    assert [dict(one.evidence) for one in findings] == [{"peak": peak, "expected": main_peak} for _ in found]


def test_an_expected_channel_that_is_not_there() -> None:
    """A warning that names it; the others are judged all the same."""
    case = ExpectedLoadCase(
        name="drop",
        channel=(
            ExpectedChannel(channel="moment"),
            ExpectedChannel(channel="force", main_peak="negative"),
        ),
    )
    found = list(examine_expected([facts(np.zeros(50), channel="force", unit="N")], case, file="t9"))
    assert [(one.kind, one.file, one.channel) for one in found] == [
        ("missing channel", "t9", "moment"),
        ("polarity", "t1", "force"),
    ]


def channel(name: str, values: Floats, *, unit: str = "N", **keys: Any) -> ChannelStatistics:
    """Return a channel with given samples."""
    return facts(values, channel=name, unit=unit, **keys)


def compared(total: Floats, part: Floats) -> list[Finding]:
    """Compare a force with the sum of two parts, of which the second adds nothing but is not dead."""
    channels = [channel("total", total), channel("part", part), channel("nothing", np.zeros(total.size))]
    return list(examine_redundancy(channels, [WHATEVER], {}))


@pytest.mark.parametrize(("share", "found"), [(0.099, []), (0.101, [("redundancy", "error")])])
def test_two_ways_differ_by_a_tenth(share: float, found: list[tuple[str, str]]) -> None:
    """Of the larger of the two, whether one is smaller or has another shape."""
    assert kinds(compared((1 - share) * PULSE, PULSE)) == found
    assert kinds(compared(PULSE, (1 - share) * PULSE)) == found
    # Both of size 1, apart by the root of s² and (1 - √(1 - s²))².
    assert kinds(compared(PULSE, (1 - share**2) ** 0.5 * PULSE + share * OTHER)) == found


@pytest.mark.parametrize(
    ("correlation", "factor", "found"),
    [
        (0.91, 9.80665, "unit"),
        (0.89, 9.80665, "redundancy"),
        (-0.91, 9.80665, "unit"),
        (-0.91, 1.0, "polarity"),
        (-0.89, 1.0, "redundancy"),
        (0.91, 2.0, "redundancy"),
    ],
)
def test_two_ways_that_are_alike_differ_by_factor_or_sign(
    correlation: float, factor: float, found: str
) -> None:
    """From a correlation of 0.9 on."""
    mixed = correlation * PULSE + (1 - correlation**2) ** 0.5 * OTHER
    (finding,) = compared(factor * mixed, PULSE)
    assert (finding.kind, finding.severity) == (found, "error")
    apart = (1 + factor**2 - 2 * factor * correlation) ** 0.5 / max(1.0, factor)
    assert dict(finding.evidence) == {
        "difference": pytest.approx(apart, abs=6e-5),
        "ratio": pytest.approx(factor, abs=6e-6),
        "correlation": pytest.approx(correlation, abs=6e-5),
    }
    assert (finding.start_s, finding.end_s) == pytest.approx((0.01, 0.01))


@pytest.mark.parametrize(("sign", "found"), [(None, []), (1, [("polarity", "error")]), (-1, [])])
def test_a_positive_force_with_a_negative_acceleration(
    sign: Literal[1, -1] | None, found: list[tuple[str, str]]
) -> None:
    """A common convention; only who states the sign is told that it differs."""
    relation = ForceOfMass(kind="force of mass", force="total", acceleration="part", mass_kg=20, sign=sign)
    channels = [channel("total", -20 * PULSE), channel("part", PULSE, unit="m/s^2")]
    assert kinds(examine_redundancy(channels, [relation], {})) == found
    # A size that does not fit is an error either way.
    channels = [channel("total", -26 * PULSE), channel("part", PULSE, unit="m/s^2")]
    assert len(list(examine_redundancy(channels, [relation], {}))) == 1


@pytest.mark.parametrize(
    ("changed", "count"),
    [
        ({}, 1),
        ({"start_s": 0.49e-4}, 1),
        ({"start_s": -0.49e-4}, 1),
        ({"start_s": 0.51e-4}, 0),
        ({"start_s": -0.51e-4}, 0),
        ({"step_s": 1e-4 * (1 + 5e-7)}, 1),
        ({"step_s": 1e-4 * (1 + 2e-6)}, 0),
        ({"peak": 0.0}, 0),
    ],
)
def test_channels_on_one_grid_are_compared(changed: dict[str, Any], count: int) -> None:
    """Starts within half a step, steps within a millionth, equal lengths, none dead."""
    channels = [channel("total", 2 * PULSE), channel("part", PULSE, **changed), channel("nothing", 0 * PULSE)]
    assert len(list(examine_redundancy(channels, [WHATEVER], {}))) == count


def test_channels_of_other_lengths_or_not_there_are_left_out() -> None:
    """Nothing is said about them."""
    channels = [channel("total", 2 * PULSE), channel("part", PULSE[:-1]), channel("nothing", 0 * PULSE)]
    assert list(examine_redundancy(channels, [WHATEVER], {})) == []
    assert list(examine_redundancy(channels[:2], [WHATEVER], {})) == []


def test_a_curve_of_zeros_is_not_compared() -> None:
    """Neither on the one side nor on the other."""
    assert compared(np.zeros(101), PULSE) == []
    assert compared(PULSE, np.zeros(101)) == []


def relation_of(name: str) -> object:
    """Return a relation with a sign of -1 where it has one."""
    return {
        "force": ForceOfMass(kind="force of mass", force="total", acceleration="part", mass_kg=20, sign=-1),
        "force by the test": ForceOfMass(kind="force of mass", force="total", acceleration="part"),
        "integral": IntegralOf(kind="integral", rate="part", level="total", sign=-1),
        "double integral": IntegralOf(kind="integral", rate="part", level="total", times=2),
        "resultant": ResultantOf(kind="resultant", resultant="total", axes=("part", "part", "part")),
        "sum": SumOf(kind="sum", total="total", parts=("part", "part")),
    }[name]


RAMP = np.arange(100.0)


@pytest.mark.parametrize(
    ("name", "total", "unit", "part", "part_unit"),
    [
        ("force", -20 * PULSE, "N", PULSE, "m/s^2"),
        ("force", -20e-3 * PULSE, "kN", PULSE, "m/s^2"),
        ("force by the test", 23.4 * PULSE, "N", PULSE, "m/s^2"),
        # The trapezoidal rule is exact for a line: minus its square over two.
        ("integral", -(RAMP**2) / 2 * 1e-4, "m/s", RAMP, "m/s^2"),
        # Twice: the sum of the squared trapezoids, k(k - 1)(2k - 1)/12 + k²/4.
        (
            "double integral",
            1e-8 * ((RAMP - 1) * RAMP * (2 * RAMP - 1) / 12 + RAMP**2 / 4),
            "m",
            RAMP,
            "m/s^2",
        ),
        ("resultant", 3**0.5 * PULSE, "g", PULSE, "g"),
        ("sum", 2 * PULSE, "N", PULSE, "N"),
    ],
)
def test_each_relation_holds_for_its_closed_form(
    name: str, total: Floats, unit: str, part: Floats, part_unit: str
) -> None:
    """Nothing is found where it holds; three times as much is an error."""
    details = {"Mass test object 1": "23.4"}
    for factor, count in ((1.0, 0), (1.09, 0), (3.0, 1)):
        channels = [
            channel("total", 5 + factor * total, unit=unit, baseline=5.0),
            channel("part", part, unit=part_unit),
        ]
        assert len(list(examine_redundancy(channels, [relation_of(name)], details))) == count
    # Without the mass of the test, a force that has none of its own cannot be compared.
    without = list(examine_redundancy(channels, [relation_of(name)], {}))
    assert len(without) == (0 if name == "force by the test" else 1)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (0.89, [("redundancy", "error")]),
        (0.91, []),
        (1.59, []),
        (1.61, [("redundancy", "error")]),
        (12.0, [("unit", "error")]),
    ],
)
def test_the_change_of_speed_over_the_impact_speed(change: float, found: list[tuple[str, str]]) -> None:
    """Of 0.9 to 1.6 times 5 m/s: a constant deceleration from which the speed follows by hand."""
    samples = np.full(101, -change * 5.0 / 0.01)
    relation = SpeedChange(kind="speed change", acceleration="probe", of_impact_speed=(0.9, 1.6))
    probe = channel("probe", samples, unit="m/s^2")
    findings = list(examine_redundancy([probe], [relation], {"Velocity test object 1": "5"}))
    assert kinds(findings) == found
    assert [dict(one.evidence) for one in findings] == [
        {"speed_change_m_per_s": pytest.approx(5 * change), "impact_speed_m_per_s": 5.0} for _ in found
    ]
    assert list(examine_redundancy([probe], [relation], {})) == []
    assert list(examine_redundancy([], [relation], {"Velocity test object 1": "5"})) == []
    dead = channel("probe", samples, unit="m/s^2", peak=0.0)
    assert list(examine_redundancy([dead], [relation], {"Velocity test object 1": "5"})) == []


def test_an_acceleration_of_zero_changes_no_speed() -> None:
    """No factor is looked for."""
    relation = SpeedChange(kind="speed change", acceleration="probe", of_impact_speed=(0.9, 1.6))
    probe = channel("probe", np.zeros(101), unit="m/s^2")
    assert kinds(examine_redundancy([probe], [relation], {"Velocity test object 1": "5"})) == [
        ("redundancy", "error")
    ]


def test_relations_that_codes_tell() -> None:
    """A velocity and an acceleration of one direction; a force where a mass is stated; a whole resultant."""
    place = "D0HEAD0000KM"
    names = [f"{place}{end}" for end in ("ACXP", "VEXP", "FOXP", "VEYP", "ACYP", "ACRP", "ACZP")]
    mass = {"Mass test object 1": "4.5"}
    assert relations_by_code([*names, "force"], mass) == [
        IntegralOf(kind="integral", rate=f"{place}ACXP", level=f"{place}VEXP"),
        ForceOfMass(kind="force of mass", force=f"{place}FOXP", acceleration=f"{place}ACXP"),
        IntegralOf(kind="integral", rate=f"{place}ACYP", level=f"{place}VEYP"),
        ResultantOf(
            kind="resultant",
            resultant=f"{place}ACRP",
            axes=(f"{place}ACXP", f"{place}ACYP", f"{place}ACZP"),
        ),
    ]
    assert not any(isinstance(one, ForceOfMass) for one in relations_by_code(names, {}))
    assert not any(isinstance(one, ResultantOf) for one in relations_by_code(names[:-1], mass))
    assert relations_by_code([f"{place}VEXP", f"{place}FOXP"], mass) == []
    for other in ("D0CHST0000KMVEXP", "D0HEAD0000KAVEXP"):
        assert relations_by_code([f"{place}ACXP", other], mass) == []


def test_the_values_are_taken_without_single_outliers() -> None:
    """What is compared is the calm curve, in SI and without the baseline."""
    total = channel("total", 2 * PULSE, calm=PULSE)
    channels = [total, channel("part", PULSE), channel("nothing", 0 * PULSE)]
    assert list(examine_redundancy(channels, [WHATEVER], {})) == []
