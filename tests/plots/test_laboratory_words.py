"""What the laboratory reads, in words; and strips of windows."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import Ceiling, Finding, OneRepeat, QuantityVerdict, RepeatNumbers, UnlikeRepeats
from correlate.plots import finding_title, repeatability_facts, verdict_words, window_strip

INSIDE = QuantityVerdict(
    name="peak",
    words="peak",
    unit="g",
    low=10.0,
    high=20.0,
    value=15.0,
    verdict="inside",
    outside_by=0.0,
    reason="",
    start_s=None,
    end_s=None,
)
ONE = OneRepeat(shift_s=0.0, peak=-100.0, peak_s=0.02, rating=0.95)
NUMBERS = RepeatNumbers(
    repeats=(ONE, ONE, ONE),
    peak_mean=-100.0,
    peak_spread=2.5,
    peak_variation=0.025,
    variation_class="excellent",
    largest_spread=3.0,
    largest_spread_s=0.0183,
    mean_spread=1.0,
    relative_spread=0.03,
)
UNLIKE = UnlikeRepeats(distances=(1.0, 1.0, 9.0), p_values=(1.0, 1.0, 0.0123))
CEILING = Ceiling(median=0.95, lowest=0.9, highest=0.97, ratings=(), repeats=3)


def test_repeatability_is_said_with_units() -> None:
    """Peak, variation and scatter carry unit, per cent and time."""
    facts = dict(repeatability_facts(NUMBERS, CEILING, "m/s^2", UNLIKE))
    assert facts["Peak"] == "−100 ± 2.5 m/s² (mean ± 1 SD)"
    assert facts["Coefficient of variation of the peak"] == "2.5 % (excellent)"
    assert facts["Largest SD over time"] == "3 m/s² at 18.3 ms"
    assert facts["Largest SD over the peak of the mean curve"] == "3 %"
    assert facts["Repeats unlike the others"] == "3 (p 0.012)"
    assert facts["Rating of the repeats against each other"].startswith("0.950 (0.900 to 0.970")


def test_a_single_repeat_is_said_to_be_too_few() -> None:
    """No scatter is invented."""
    alone = replace(
        NUMBERS,
        peak_spread=None,
        peak_variation=None,
        largest_spread=None,
        largest_spread_s=None,
        relative_spread=None,
    )
    ceiling = Ceiling(median=None, lowest=None, highest=None, ratings=(), repeats=1)
    facts = repeatability_facts(alone, ceiling, "kN", None)
    assert facts == [
        ("Rating of the repeats against each other", "too few repeats (1; 3 are needed)"),
        ("Peak", "−100 kN"),
    ]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "inside"),
        ({"verdict": "outside", "value": 9.5, "outside_by": -0.5}, "outside by −0.5"),
        ({"verdict": "outside", "value": 20.25, "outside_by": 0.25}, "outside by +0.25"),
        ({"verdict": "not measurable", "value": None, "outside_by": None}, "not measurable"),
    ],
)
def test_verdicts_say_by_how_much(changes: dict[str, object], words: str) -> None:
    """Outside comes with its distance and sign; the others speak for themselves."""
    assert verdict_words(replace(INSIDE, **changes)) == words  # type: ignore[arg-type]


def test_a_finding_is_named_with_test_and_time() -> None:
    """Weight, kind, test and time span; no time where the finding has none."""
    finding = Finding(
        kind="spike",
        severity="error",
        file="t/T1",
        channel="c",
        what="w",
        remedy="r",
        start_s=0.035,
        end_s=0.036,
    )
    assert finding_title(finding, "T1") == "Error: spike, T1, 35 to 36 ms"
    assert finding_title(replace(finding, start_s=-0.01), "T1") == "Error: spike, T1, −10 to 36 ms"
    assert finding_title(replace(finding, start_s=None, end_s=None), "T1") == "Error: spike, T1"


def test_places_on_a_strip_by_hand() -> None:
    """Window 10 to 20 with values 15 and 20: room of 8 % of 10 on both sides, so 15 is in the middle."""
    strip = window_strip([INSIDE, replace(INSIDE, value=20.0), replace(INSIDE, value=None)])
    assert strip.low == pytest.approx(0.8 / 11.6)
    assert strip.high == pytest.approx(10.8 / 11.6)
    assert strip.marks[0] == pytest.approx(0.5)
    assert strip.marks[1] == pytest.approx(strip.high)
    assert strip.marks[2] is None


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=6), st.floats(-1e6, 1e6), st.floats(0, 1e6))
def test_everything_lies_on_the_strip_in_order(values: list[float], low: float, width: float) -> None:
    """Window and values are inside the strip, and their order is kept."""
    verdicts = [replace(INSIDE, value=value, low=low, high=low + width) for value in values]
    strip = window_strip(verdicts)
    marks = [mark for mark in strip.marks if mark is not None]
    assert all(0 <= place <= 1 for place in (strip.low, strip.high, *marks))
    assert strip.low <= strip.high
    ordered = sorted(zip(values, marks, strict=True))
    assert all(one <= other + 1e-12 for (_, one), (_, other) in pairwise(ordered))
