"""Every physical repeat of a component test meets the published windows; repeats differ, but not too much."""

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest

from demo_pairs.laboratory import LOAD_CASES, TestRecord
from tests.demo_pairs import qualification
from tests.demo_pairs.measuring import filtered, records, windows

Measure = Callable[[TestRecord], dict[str, float]]
COMPONENT_TESTS: dict[str, tuple[str, str, Measure]] = {
    "head-drop": ("572.32", "head drop", qualification.head_drop),
    "neck-flexion": ("572.33", "flexion", partial(qualification.neck, sense=1.0)),
    "neck-extension": ("572.33", "extension", partial(qualification.neck, sense=-1.0)),
    "thorax-impact": ("572.34", "thorax", qualification.thorax),
    "knee-impact": ("572.35", "knee", qualification.knee),
}
CLASSES = {"AC": 180, "AN": 60, "FO": 600, "MO": 600, "DS": 180}
"""Channel frequency class by physical dimension for the scatter; head accelerations have 1000."""


@pytest.mark.parametrize("load_case", COMPONENT_TESTS)
def test_every_repeat_is_inside_the_published_windows(load_case: str) -> None:
    """Peaks, times, decay times and hysteresis of 49 CFR Part 572 (adult male) hold for each repeat."""
    section, word, measure = COMPONENT_TESTS[load_case]
    limits = windows(section, word)
    for test in records(load_case):
        measured = measure(test)
        assert set(measured) == set(limits)
        outside = {
            name: (value, limits[name])
            for name, value in measured.items()
            if not limits[name][0] <= value <= limits[name][1]
        }
        assert not outside, test.name


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_peaks_scatter_between_one_and_six_percent(load_case: str) -> None:
    """The standard deviation of each channel's peak over the repeats is 1 to 6 % of its mean."""
    tests = records(load_case)
    for channel in tests[0].channels:
        head = channel.code[2:6] == "HEAD" and channel.code[12:14] == "AC"
        frequency_class = 1000 if head else CLASSES[channel.code[12:14]]
        peaks = [np.abs(filtered(test, channel.code, frequency_class)).max() for test in tests]
        scatter = float(np.std(peaks, ddof=1) / np.mean(peaks))
        assert 0.01 <= scatter <= 0.06, channel.code
