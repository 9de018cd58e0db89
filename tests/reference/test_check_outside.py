"""The data check on honest load cases of other laboratories: no error, and next to no warning."""

from __future__ import annotations

import pytest

from correlate.reference.check import check
from tests.reference.outside_laboratory import load_case
from tests.reference.outside_physics import PHYSICS

SEEDS = (100, 101)
MOST_FALSE_ALARMS = 0.02
"""Of all channels; ``tests/benchmarks/outside_check.py`` measures the rates on more load cases."""


@pytest.mark.parametrize("name", PHYSICS)
def test_honest_repeats_have_no_error(name: str) -> None:
    """So that `pack` accepts them; minor axes, static loads, coarse counts and either polarity are there."""
    for seed in SEEDS:
        case = load_case(name, seed)
        outcome = check(case.tests)
        assert [one.what for one in outcome.findings if one.severity == "error"] == []
        assert outcome.count("warning") <= MOST_FALSE_ALARMS * len(outcome.channels)


@pytest.mark.parametrize("name", PHYSICS)
def test_an_honest_single_test_has_no_error(name: str) -> None:
    """Without other repeats a static load may look like an offset, but nothing is called an error."""
    for seed in SEEDS:
        assert check(load_case(name, seed).tests[:1]).count("error") == 0


def test_the_load_cases_have_small_axes_and_large_ones() -> None:
    """Three to six repeats; the axes that the generator calls small are below a tenth of their sensor."""
    for name in PHYSICS:
        case = load_case(name, SEEDS[0])
        assert 3 <= len(case.tests) <= 6
        assert case.main
        assert set(case.main) | set(case.minor) == set(case.tests[0].channel_names)
        assert len({tuple(test.channel_names) for test in case.tests}) == 1
    assert load_case("frontal sled", SEEDS[0]).minor
