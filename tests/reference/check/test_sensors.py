"""Which axes of a sensor are small beside it, and how large the sensor is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.sensors import beside_its_sensor, sensor_of, with_minor_axes, with_sensors
from tests.reference.check.by_hand import facts

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics

X, Y, Z = (f"D0HEAD0000KMAC{axis}A" for axis in "XYZ")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (X, "D0HEAD0000KMAC"),
        ("D0HEAD0000KMACX0", "D0HEAD0000KMAC"),
        ("D0HEAD0000KMACRA", ""),
        ("D0HEAD0000KMAC0A", ""),
        ("head ax", "head a"),
        ("neck Fz", "neck F"),
        ("belt", ""),
        ("x", ""),
        ("max 2", ""),
    ],
)
def test_the_sensor_of_a_name(name: str, expected: str) -> None:
    """A code with an axis, or a name that ends in one; a resultant is no axis."""
    assert sensor_of(name) == expected


def axis(name: str, largest: float, *, at: int = 1, unit: str = "g") -> ChannelStatistics:
    """Return a channel with one sample that is not zero."""
    samples = np.zeros(5)
    samples[at] = largest
    return facts(samples, channel=name, peak=largest, unit=unit)


def test_the_length_of_the_vector() -> None:
    """Of axes that are large together, by Pythagoras; of axes that are not, the largest."""
    together = with_sensors([axis(X, 3.0), axis(Y, -4.0)])
    assert [item.sensor_peak for item in together] == [5.0, 5.0]
    apart = with_sensors([axis(X, 3.0), axis(Y, -4.0, at=2)])
    assert [item.sensor_peak for item in apart] == [4.0, 4.0]
    longer = replace(axis(Y, -4.0), signal=facts(np.zeros(7), channel=Y).signal)
    assert [item.sensor_peak for item in with_sensors([axis(X, 3.0), longer])] == [4.0, 4.0]


def test_a_sensor_of_one_axis_or_of_two_units() -> None:
    """There is no vector."""
    assert [item.sensor_peak for item in with_sensors([axis(X, 3.0), axis("belt", 4.0)])] == [0.0, 0.0]
    assert [item.sensor_peak for item in with_sensors([axis(X, 3.0), axis(Y, 4.0, unit="m/s^2")])] == [0, 0]


def minor(*shares: float) -> list[bool]:
    """Say of the second axis in repeats whether it is a minor one, by its share of the sensor in each."""
    tests = [[replace(axis(X, 100.0 * share), sensor_peak=100.0)] for share in shares]
    return [item.is_minor for (item,) in with_minor_axes(tests)]


@pytest.mark.parametrize(
    ("shares", "expected"),
    [
        ([0.099], [True]),
        ([0.101], [False]),
        ([0.05, 0.05, 0.29], [True, True, True]),
        ([0.05, 0.05, 0.31], [True, True, False]),
        # Lost in one repeat: most others say that it carries the event.
        ([0.9, 0.9, 0.0], [False, False, False]),
        ([0.05, 0.12, 0.12], [False, False, False]),
    ],
)
def test_a_tenth_of_the_sensor_in_most_repeats(shares: list[float], expected: list[bool]) -> None:
    """Unless it is suddenly large."""
    assert minor(*shares) == expected


def test_the_size_of_the_sensor_is_that_of_most_repeats() -> None:
    """A main axis that is a thousand times too small does not make its neighbours large."""
    tests = [[replace(axis(X, 1.0), sensor_peak=size)] for size in (0.1, 100.0, 102.0, 500.0)]
    assert [item.sensor_peak for (item,) in with_minor_axes(tests)] == [101.0, 101.0, 102.0, 500.0]
    # In another unit the numbers mean something else.
    tests[0] = [replace(axis(X, 1.0, unit="m/s^2"), sensor_peak=0.1)]
    assert with_minor_axes(tests)[0][0].sensor_peak == 0.1


def test_limits_relate_to_the_sensor() -> None:
    """The peak of a minor axis becomes that of its sensor; a dead channel stays dead."""
    item = replace(axis(Y, -4.0), sensor_peak=100.0)
    assert beside_its_sensor(item).peak == -4.0
    assert beside_its_sensor(replace(item, is_minor=True)).peak == 100.0
    assert beside_its_sensor(replace(item, is_minor=True, peak=0.0)).peak == 0.0
