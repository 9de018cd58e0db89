"""Faults that show between channels of a test, and against what was expected."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import UnitError
from correlate.reference.check.grouping import MASS, SPEED
from correlate.reference.check.statistics import header_number
from correlate.reference.expectations import ForceOfMass, IntegralOf, ResultantOf, SpeedChange, SumOf
from correlate.reference.finding import Finding, Kind, RepairProposal, counted
from correlate.unit_factors import confused_units, factor_into
from correlate.units import conversion, parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.expectations import ExpectedChannel, ExpectedLoadCase

    Floats = NDArray[np.float64]


def examine_expected(
    facts: Sequence[ChannelStatistics], expected: ExpectedLoadCase, *, file: str
) -> Iterator[Finding]:
    """Compare sign and size of the main peak with what is expected."""
    by_name = {item.signal.channel: item for item in facts}
    for channel in expected.channel:
        if channel.channel not in by_name:
            yield Finding(
                kind="missing channel",
                severity="warning",
                file=file,
                channel=channel.channel,
                what=f"the channel is expected in load case '{expected.name}', but it is missing",
                remedy="export it, or take it out of the expectations",
            )
            continue
        yield from _polarity(by_name[channel.channel], channel)
        yield from _size(by_name[channel.channel], channel)


def _polarity(facts: ChannelStatistics, expected: ExpectedChannel) -> Iterator[Finding]:
    found = "positive" if facts.peak > 0 else "negative"
    if expected.main_peak is None or facts.peak == 0 or found == expected.main_peak:
        return
    yield Finding(
        kind="polarity",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the main peak, {facts.peak:.5g} {facts.signal.unit}, should be {expected.main_peak}",
        remedy="check how the transducer was mounted; accept the inverted sign",
        evidence={"peak": facts.peak, "expected": expected.main_peak},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("turn sign"),
    )


def _size(facts: ChannelStatistics, expected: ExpectedChannel) -> Iterator[Finding]:
    if expected.peak is None or expected.unit is None or facts.peak == 0:
        return
    low, high = expected.peak
    try:
        # A peak is a difference from the baseline, so that the zeros of the units do not matter.
        size = abs(facts.peak) * conversion(facts.signal.unit, expected.unit)[0]
    except UnitError as error:
        yield Finding(
            kind="unit",
            severity="error",
            file=facts.file,
            channel=facts.signal.channel,
            what=error.what,
            remedy="correct the unit in the header",
            evidence={"unit": facts.signal.unit, "expected": expected.unit},
        )
        return
    if low <= size <= high:
        return
    known = factor_into(size, low, high)
    yield Finding(
        kind="unit" if known else "expected peak",
        severity="error" if known else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the peak is {size:.5g} {expected.unit}, expected range {low:.5g} to {high:.5g}"
        + (f"; it is wrong by about the factor between {known[0]}" if known else ""),
        remedy="check the unit in the header and the calibration factor",
        evidence={"peak": size, "low": low, "high": high},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("divide by factor", {"factor": known[1]}) if known else None,
    )


SLACK: Final = 0.1
"""Root mean square difference of two ways to the same quantity, over that of the quantity, that passes."""
ALIKE: Final = 0.9
"""Correlation from which two ways differ by a factor or a sign only."""


def relations_by_code(names: Sequence[str], details: Mapping[str, str]) -> list[Any]:
    """Find the relations that channel codes tell by themselves.

    A resultant and its axes; a velocity and the acceleration of the same place and direction; a force and
    an acceleration of the same place and direction when the test states the mass of the body.
    """
    by_place: dict[tuple[str, str], dict[str, str]] = {}
    for name in names:
        if is_channel_code(name):
            code = ChannelCode(name)
            by_place.setdefault((name[:12], code.direction), {})[code.dimension] = name
    found: list[Any] = []
    for (place, direction), channels in by_place.items():
        if "AC" in channels and "VE" in channels:
            found.append(IntegralOf(kind="integral", rate=channels["AC"], level=channels["VE"]))
        if "AC" in channels and "FO" in channels and header_number(details, MASS):
            found.append(ForceOfMass(kind="force of mass", force=channels["FO"], acceleration=channels["AC"]))
        if direction == "R":
            found += _resultants(place, channels, by_place)
    return found


def _resultants(
    place: str, channels: Mapping[str, str], by_place: Mapping[tuple[str, str], Mapping[str, str]]
) -> list[ResultantOf]:
    found = []
    for dimension, name in channels.items():
        axes = [by_place.get((place, axis), {}).get(dimension, "") for axis in "XYZ"]
        if all(axes):
            found.append(ResultantOf(kind="resultant", resultant=name, axes=(axes[0], axes[1], axes[2])))
    return found


def examine_redundancy(
    facts: Sequence[ChannelStatistics], relations: Sequence[Any], details: Mapping[str, str]
) -> Iterator[Finding]:
    """Compute a quantity in two ways and compare.

    References
    ----------
    .. [1] Newton's second law, trapezoidal rule, Euclidean length. Limit: chosen here.
    """
    by_name = {item.signal.channel: item for item in facts}
    for relation in relations:
        if isinstance(relation, SpeedChange):
            yield from _speed_change(by_name, relation, details)
            continue
        both = _both_ways(by_name, relation, details)
        if both is not None:
            yield from _compared(*both, either_sign=getattr(relation, "sign", 1) is None)


def _both_ways(
    by_name: Mapping[str, ChannelStatistics], relation: Any, details: Mapping[str, str]
) -> tuple[ChannelStatistics, Floats, Floats, str] | None:
    """Return the measured channel, its values, the computed ones (SI, without offset) and words for them."""
    measured, *sources = relation.channels
    if not _together(by_name, relation.channels):
        return None
    way = _WAYS[type(relation)](relation, [by_name[name] for name in sources], details)
    return None if way is None else (by_name[measured], _values(by_name[measured]), *way)


def _force(
    relation: ForceOfMass, sources: Sequence[ChannelStatistics], details: Mapping[str, str]
) -> tuple[Floats, str] | None:
    mass = relation.mass_kg or header_number(details, MASS)
    if not mass:
        return None
    return (relation.sign or 1) * mass * _values(sources[0]), f"{mass:g} kg times '{relation.acceleration}'"


def _level(
    relation: IntegralOf, sources: Sequence[ChannelStatistics], _details: Mapping[str, str]
) -> tuple[Floats, str]:
    computed = _values(sources[0])
    for _ in range(relation.times):
        computed = _integral(computed, sources[0].signal.step_s)
    return relation.sign * computed, f"the integral of '{relation.rate}'"


def _length(
    _relation: ResultantOf, sources: Sequence[ChannelStatistics], _details: Mapping[str, str]
) -> tuple[Floats, str]:
    return np.linalg.norm([_values(axis) for axis in sources], axis=0), "the resultant of its axes"


def _total(
    _relation: SumOf, sources: Sequence[ChannelStatistics], _details: Mapping[str, str]
) -> tuple[Floats, str]:
    return np.sum(
        [_values(part) for part in sources], axis=0
    ), f"the sum of {counted(len(sources), 'channel')}"


_WAYS: Final[dict[type, Any]] = {
    ForceOfMass: _force,
    IntegralOf: _level,
    ResultantOf: _length,
    SumOf: _total,
}


def _together(by_name: Mapping[str, ChannelStatistics], names: Sequence[str]) -> bool:
    """Say whether all channels are there, on one grid, with something to compare."""
    if not all(name in by_name and by_name[name].peak for name in names):
        return False
    first = by_name[names[0]].signal
    return all(
        len(signal) == len(first)
        and abs(signal.start_s - first.start_s) < 0.5 * first.step_s
        and math.isclose(signal.step_s, first.step_s, rel_tol=1e-6)
        for signal in (by_name[name].signal for name in names)
    )


def _values(facts: ChannelStatistics) -> Floats:
    return (facts.calm - facts.baseline) * parse_unit(facts.signal.unit).factor


def _integral(values: Floats, step_s: float) -> Floats:
    return np.concatenate(([0.0], np.cumsum((values[:-1] + values[1:]) * (step_s / 2))))


def _compared(
    measured: ChannelStatistics, values: Floats, computed: Floats, words: str, *, either_sign: bool
) -> Iterator[Finding]:
    if either_sign and float(values @ computed) < 0:
        computed = -computed
    size = math.sqrt(float(values @ values))
    other = math.sqrt(float(computed @ computed))
    if size == 0 or other == 0:
        return
    apart = math.sqrt(float((values - computed) @ (values - computed))) / max(size, other)
    if apart <= SLACK:
        return
    correlation = float(values @ computed) / (size * other)
    known = confused_units(size / other) if abs(correlation) > ALIKE else None
    kind: Kind = "unit" if known else "polarity" if correlation < -ALIKE else "redundancy"
    tails = {
        "unit": f", near {known[1]:.5g}, the factor between {known[0]}" if known else "",
        "polarity": ", and opposite in sign",
        "redundancy": "",
    }
    evidence = {
        "difference": round(apart, 4),
        "ratio": round(size / other, 5),
        "correlation": round(correlation, 4),
    }
    yield Finding(
        kind=kind,
        severity="error",
        file=measured.file,
        channel=measured.signal.channel,
        what=f"the channel and {words} differ by {apart:.0%} of their size "
        f"(ratio {size / other:.4g}){tails[kind]}",
        remedy="find out which of the channels is wrong: unit, polarity, calibration factor or time base",
        evidence=evidence,
        start_s=measured.onset_s,
        end_s=measured.signal.end_s,
    )


def _speed_change(
    by_name: Mapping[str, ChannelStatistics], relation: SpeedChange, details: Mapping[str, str]
) -> Iterator[Finding]:
    speed = header_number(details, SPEED)
    facts = by_name.get(relation.acceleration)
    if not speed or facts is None or facts.peak == 0:
        return
    path = _integral(_values(facts), facts.signal.step_s)
    change = float(np.abs(path).max())
    low, high = relation.of_impact_speed
    if low <= change / speed <= high:
        return
    known = factor_into(change / speed, low, high) if change > 0 else None
    yield Finding(
        kind="unit" if known else "redundancy",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the acceleration changes the speed by {change:.4g} m/s, {change / speed:.3g} times the impact "
        f"speed of {speed:.4g} m/s; expected are {low:g} to {high:g} times"
        + (f"; it is wrong by about the factor between {known[0]}" if known else ""),
        remedy="check unit, calibration factor and sampling interval",
        evidence={"speed_change_m_per_s": change, "impact_speed_m_per_s": speed},
        start_s=facts.onset_s,
        end_s=facts.signal.end_s,
    )
