"""Axes of one sensor: how large the sensor's vector becomes, and which axes are small relative to it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.reference.check.statistics import ChannelStatistics


MINOR_SHARE: Final = 0.1
"""An axis is minor if it stays below this share of its sensor in most repeats …"""
SUDDENLY_LARGE: Final = 0.3
"""… unless it exceeds this share in the repeat that is examined."""
AXES: Final = frozenset("XYZ")


def sensor_of(name: str) -> str:
    """Return what the names of all axes of a sensor have in common; empty for a name without an axis.

    Examples
    --------
    >>> sensor_of("D0HEAD0000KMACXA"), sensor_of("D0HEAD0000KMACRA"), sensor_of("head ax"), sensor_of("belt")
    ('D0HEAD0000KMAC', '', 'head a', '')
    """
    if is_channel_code(name):
        code = ChannelCode(name)
        return code.sensor if code.direction in AXES else ""
    return name[:-1] if len(name) > 2 and name[-1].upper() in AXES and name[-2].isalpha() else ""


def with_sensors(facts: Sequence[ChannelStatistics]) -> list[ChannelStatistics]:
    """Add to every channel of a test how large the vector of its sensor becomes."""
    groups: dict[tuple[str, str], list[ChannelStatistics]] = {}
    for item in facts:
        sensor = sensor_of(item.signal.channel)
        if sensor:
            groups.setdefault((sensor, item.signal.unit), []).append(item)
    sizes = {
        item.signal.channel: _largest_vector(axes)
        for axes in groups.values()
        if len(axes) > 1
        for item in axes
    }
    return [replace(item, sensor_peak=sizes.get(item.signal.channel, 0.0)) for item in facts]


def _largest_vector(axes: Sequence[ChannelStatistics]) -> float:
    """Return the largest length of the vector of two or three axes; on different grids, the largest value."""
    first = axes[0].signal
    if any((len(axis.signal), axis.signal.start_s) != (len(first), first.start_s) for axis in axes):
        return max(abs(axis.peak) for axis in axes)
    squares = np.sum([(axis.calm - axis.baseline) ** 2 for axis in axes], axis=0)
    return float(np.sqrt(squares.max()))


def with_minor_axes(
    tests: Sequence[Sequence[ChannelStatistics]],
) -> list[list[ChannelStatistics]]:
    """Say for every channel of repeats whether it is a minor axis, as most repeats show.

    The size of the sensor is that of the test or of the median repeat, whichever is larger, so that an axis
    that was lost or is in a wrong unit does not make its neighbours large.
    """
    shares: dict[str, list[float]] = {}
    sizes: dict[tuple[str, str], list[float]] = {}
    for facts in tests:
        for item in facts:
            if item.sensor_peak > 0:
                shares.setdefault(item.signal.channel, []).append(_share(item))
                sizes.setdefault((item.signal.channel, item.signal.unit), []).append(item.sensor_peak)
    return [
        [
            replace(
                item,
                is_minor=float(np.median(shares[item.signal.channel])) < MINOR_SHARE
                and _share(item) < SUDDENLY_LARGE,
                sensor_peak=max(
                    item.sensor_peak, float(np.median(sizes[item.signal.channel, item.signal.unit]))
                ),
            )
            if item.sensor_peak > 0
            else item
            for item in facts
        ]
        for facts in tests
    ]


def _share(item: ChannelStatistics) -> float:
    return abs(item.peak) / item.sensor_peak


def beside_its_sensor(facts: ChannelStatistics) -> ChannelStatistics:
    """Return a minor axis with the size of its sensor as its peak, so that limits relate to the sensor."""
    return replace(facts, peak=facts.sensor_peak) if facts.is_minor and facts.peak else facts
