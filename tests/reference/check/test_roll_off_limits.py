"""Each limit of a channel that was filtered lower than the other repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.rolloff import examine_roll_off
from correlate.reference.check.trials import Trial, Trials
from tests.reference.bench import filtered
from tests.reference.check.by_hand import Floats, facts

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

STEP_S = 5e-5
TIME = np.arange(4000) * STEP_S - 0.05


def crash(seed: int, *, width_s: float = 0.0005) -> Floats:
    """Return short bells after time zero, the same in all repeats but for a little noise."""
    random = np.random.default_rng(11)
    values = np.zeros(TIME.size)
    for _ in range(12):
        at_s, size = random.uniform(0.005, 0.06), random.uniform(-100, 100)
        values += size * np.exp(-(((TIME - at_s) / width_s) ** 2))
    return np.asarray(values + 0.02 * np.random.default_rng(seed).standard_normal(TIME.size))


def found(own: Floats, *, declared: str = "1000", repeats: int = 3, other: int = 0) -> list[Finding]:
    """Look at the first of some repeats; the others are filtered with a class, or not."""
    tests = []
    for number in range(repeats):
        values = own if number == 0 else crash(number)
        if number and other:
            values = filtered(values, other, 1 / STEP_S)
        channel = facts(
            values,
            channel="a",
            peak=100.0,
            noise=0.02,
            quiet=900,
            step_s=STEP_S,
            start_s=-0.05,
            header={"Channel frequency class": declared},
        )
        tests.append(Trial([channel]))
    return list(examine_roll_off(Trials(tests), 0, ["a"]))


@pytest.mark.parametrize("cfc", [60, 180, 600])
def test_the_finding_names_the_class(cfc: int) -> None:
    """A warning."""
    (finding,) = found(filtered(crash(0), cfc, 1 / STEP_S))
    assert (finding.kind, finding.severity, finding.channel) == ("filter class", "warning", "a")
    assert finding.evidence["looks_like"] == f"CFC {cfc}"


def test_a_sound_channel_has_none() -> None:
    """Neither has one that all repeats are filtered like."""
    assert found(crash(0)) == []
    assert found(filtered(crash(0), 180, 1 / STEP_S), other=180) == []


@pytest.mark.parametrize(("declared", "count"), [("60", 0), ("180", 0), ("600", 1), ("0", 1)])
def test_only_a_class_below_the_declared_one_counts(declared: str, count: int) -> None:
    """A channel that declares CFC 180 may be filtered with it; one that declares none may not."""
    assert len(found(filtered(crash(0), 180, 1 / STEP_S), declared=declared)) == count


def test_two_other_repeats_are_needed() -> None:
    """One may have too little filter as well."""
    assert found(filtered(crash(0), 180, 1 / STEP_S), repeats=2) == []


@pytest.mark.parametrize(("left", "count"), [(0.4, 1), (0.8, 0)])
def test_the_filter_must_explain_the_fall(left: float, count: int) -> None:
    """A part of the channel that was not filtered leaves the levels above the response of the filter."""
    whole = crash(0)
    low = filtered(whole, 180, 1 / STEP_S)
    assert len(found(low + left**6 * (whole - low))) == count
