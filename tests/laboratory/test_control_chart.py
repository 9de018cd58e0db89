"""Control charts: the published example, the constants, parts, and each alarm."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from correlate.laboratory.control_chart import INDIVIDUAL_FACTOR, RANGE_FACTOR, control_chart

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[1] / "published" / "control_charts" / "flowrate.toml").read_text(encoding="utf-8")
)


def test_the_published_example_is_reproduced() -> None:
    """Mean, mean range and limits are those of the handbook, and no value raises an alarm."""
    chart = control_chart(PUBLISHED["values"])
    assert chart is not None
    tolerance = PUBLISHED["tolerance"]
    assert chart.mean_range == pytest.approx(PUBLISHED["mean_range"], abs=5e-5)
    assert chart.centre == pytest.approx([PUBLISHED["mean"]] * 10)
    assert chart.lower[0] == pytest.approx(PUBLISHED["lower"], abs=tolerance)
    assert chart.upper[0] == pytest.approx(PUBLISHED["upper"], abs=tolerance)
    assert not any(chart.alarms)


def test_the_constants_are_the_published_ones() -> None:
    """To the digits that the tables print, and as the mean and spread of simulated ranges."""
    assert round(INDIVIDUAL_FACTOR, 2) == PUBLISHED["constants"]["individuals"]
    assert round(RANGE_FACTOR, 3) == pytest.approx(PUBLISHED["constants"]["ranges"], abs=0.001)
    ranges = np.abs(np.diff(np.random.default_rng(3).standard_normal((400_000, 2)))).ravel()
    assert pytest.approx(3 / ranges.mean(), rel=0.005) == INDIVIDUAL_FACTOR
    assert pytest.approx(1 + 3 * ranges.std() / ranges.mean(), rel=0.005) == RANGE_FACTOR


def test_no_range_is_taken_across_an_exchange() -> None:
    """With a begin of a part at the jump, each part has its mean, and the jump widens no limit."""
    values = [10.0, 11.0, 10.0, 11.0, 30.0, 31.0, 30.0, 31.0]
    chart = control_chart(values, starts=[4])
    assert chart is not None
    assert chart.mean_range == 1.0
    assert chart.centre == (10.5,) * 4 + (30.5,) * 4
    assert chart.ranges[0] is None
    assert chart.ranges[4] is None
    assert not any(chart.alarms)


def test_a_value_far_off_is_outside_its_limits_with_a_range_above_its_limit() -> None:
    """The value and its step are named, the others are not."""
    values = [10.0, 10.2, 10.0, 10.2, 10.0, 10.2, 10.0, 10.2, 10.0, 10.2, 10.0, 10.2, 14.0]
    chart = control_chart(values)
    assert chart is not None
    assert chart.alarms[-1] == ("outside the limits", "range above its limit")
    assert not any("run" not in alarm for one in chart.alarms[:-1] for alarm in one)


def test_eight_in_a_row_on_one_side_are_a_run() -> None:
    """The eighth and later ones raise the alarm; a value on the centre ends the run."""
    low, high = [0.0, 0.4] * 4, [1.0, 0.6] * 4
    chart = control_chart(low + high)
    assert chart is not None
    assert [at for at, one in enumerate(chart.alarms) if "run on one side" in one] == [7, 15]
    ended = control_chart([*low, *high[:7], 0.4, 1.0])
    assert ended is not None
    assert [at for at, one in enumerate(ended.alarms) if "run on one side" in one] == [7]


def test_few_values_give_no_limits() -> None:
    """Four moving ranges are needed, within parts."""
    assert control_chart([1.0, 2.0, 1.0, 2.0]) is None
    assert control_chart([1.0, 2.0, 1.0, 2.0, 1.0]) is not None
    assert control_chart([1.0, 2.0, 1.0, 2.0, 1.0], starts=[2]) is None
