"""Each limit of cross-talk: how much of another channel, and what else explains it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.crosstalk import examine_crosstalk
from correlate.reference.check.trials import Trial, Trials
from tests.reference.check.by_hand import Floats, facts

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

STEP_S = 1e-4
TIME = np.arange(1200) * STEP_S
X, Z = "D0HEAD0000KMACXP", "D0HEAD0000KMACZP"
WOBBLE = np.sin(2 * np.pi * 90 * TIME) * np.exp(-TIME / 0.05)
"""What differs among honest repeats."""


def bell(at_s: float, width_s: float) -> Floats:
    """Return a bell of size 100."""
    return np.asarray(100 * np.exp(-(((TIME - at_s) / width_s) ** 2)))


def burst(at_s: float) -> Floats:
    """Return four periods in a smooth window, 100 high, without mean, slope and bell."""
    since = np.clip(TIME - at_s, -0.02, 0.02)
    return np.asarray(100 * np.cos(2 * np.pi * 100 * since) * np.cos(np.pi * since / 0.04) ** 2)


OWN, FOREIGN = bell(0.03, 0.006), bell(0.08, 0.012)


def found(
    x: Floats,
    y: Floats = FOREIGN,
    *,
    repeats: int = 4,
    names: tuple[str, str] = ("a", "b"),
    minor: str = "",
    wobble: Floats = WOBBLE,
    other: Floats = FOREIGN,
) -> list[Finding]:
    """Look at the first channel of the first of some repeats, the others of which are honest."""
    tests = []
    for number in range(repeats):
        honest = OWN + (1.0 if number % 2 else -1.0) * wobble
        values = (x if number == 0 else honest, y if number == 0 else other)
        tests.append(
            Trial(
                [
                    replace(facts(one, channel=name, peak=100.0, noise=0.01), is_minor=name == minor)
                    for name, one in zip(names, values, strict=True)
                ]
            )
        )
    return list(examine_crosstalk(Trials(tests), 0, [names[0]]))


def test_the_finding_names_the_other_channel_and_its_share() -> None:
    """An error with the share of the peak."""
    (finding,) = found(OWN + WOBBLE + 0.15 * FOREIGN)
    assert (finding.kind, finding.severity, finding.channel) == ("cross-talk", "error", "a")
    assert finding.evidence["other"] == "b"
    assert finding.evidence["share_of_peak"] == pytest.approx(0.15, abs=0.02)
    assert finding.repair is None


def test_an_honest_channel_has_none() -> None:
    """Neither has one of another size, nor a late one."""
    assert found(OWN + WOBBLE) == []
    assert found(1.1 * OWN + WOBBLE) == []
    assert found(bell(0.0301, 0.006) + WOBBLE) == []


@pytest.mark.parametrize(("share", "count"), [(0.02, 0), (0.06, 1)])
def test_it_must_stand_out_of_what_differs_among_repeats(share: float, count: int) -> None:
    """What differs has a size of 1 %: its energy and that of the part are compared."""
    assert len(found(OWN + WOBBLE + share * FOREIGN)) == count


@pytest.mark.parametrize(("times", "count"), [(4.4, 0), (4.6, 1)])
def test_it_differs_four_and_a_half_times_as_much_as_the_others(times: float, count: int) -> None:
    """In energy: the others differ by twice a burst, this one by a burst of the same energy elsewhere."""
    wobble, foreign = 1.5 * burst(0.07) / 100, burst(0.1)
    part = 2 * 0.015 * times**0.5
    assert len(found(OWN + wobble + part * foreign, foreign, wobble=wobble, other=foreign)) == count


@pytest.mark.parametrize(("share", "severity"), [(0.095, "warning"), (0.105, "error")])
def test_it_is_an_error_where_it_explains_nine_tenths(share: float, severity: str) -> None:
    """Less is a warning; the channel differs four times as much as the others."""
    (finding,) = found(OWN + 4 * WOBBLE + share * FOREIGN)
    assert finding.severity == severity
    assert (float(finding.evidence["coherence"]) >= 0.9) == (severity == "error")


def test_a_channel_alone_has_none() -> None:
    """With one other repeat nobody knows which of the two holds the part."""
    assert found(OWN + 0.15 * FOREIGN, repeats=2) == []


def test_a_channel_that_looks_the_same_is_no_source() -> None:
    """A force beside the acceleration of its mass explains everything of it."""
    assert found(1.5 * OWN + WOBBLE, 7 * OWN) == []


@pytest.mark.parametrize(("correlation", "count"), [(0.895, 1), (0.905, 0), (-0.895, 1), (-0.905, 0)])
def test_a_correlation_of_nine_tenths_is_no_source(correlation: float, count: int) -> None:
    """Bell and burst, at right angles and of one energy, make a channel at any angle to the first."""
    across = burst(0.09) * np.linalg.norm(OWN) / np.linalg.norm(burst(0.09))
    angle = np.arctan(0.2) + np.arccos(abs(correlation))
    other = np.sign(correlation) * (np.cos(angle) * OWN + np.sin(angle) * across)
    assert len(found(OWN + 0.2 * across, other, wobble=burst(0.07) / 1000, other=other)) == count


def test_minor_axes_neither_receive_nor_give() -> None:
    """They differ as they like."""
    assert found(OWN + WOBBLE + 0.15 * FOREIGN, minor="a") == []
    assert found(OWN + WOBBLE + 0.15 * FOREIGN, minor="b") == []


@pytest.mark.parametrize(("share", "count"), [(0.05, 0), (0.2, 1)])
def test_a_turned_sensor_shows_a_part_of_its_other_axis(share: float, count: int) -> None:
    """Up to a tenth of it."""
    assert len(found(OWN + WOBBLE + share * FOREIGN, names=(X, Z))) == count


@pytest.mark.parametrize(("share", "count"), [(0.098, 0), (0.102, 1), (-0.098, 0), (-0.102, 1)])
def test_a_tenth_of_the_other_axis_is_the_most_that_a_turn_explains(share: float, count: int) -> None:
    """Of a burst beside a bell the fit leaves the whole factor."""
    x = OWN + share * burst(0.1)
    wobble = burst(0.07) / 1000
    assert len(found(x, burst(0.1), names=(X, Z), wobble=wobble, other=burst(0.1))) == count


def test_one_event_in_two_channels_is_no_cross_talk() -> None:
    """When another channel differs as much and in the same way, something happened in the test."""
    happened = 0.15 * FOREIGN
    tests = []
    for number in range(4):
        sign = 1.0 if number % 2 else -1.0
        extra = happened if number == 0 else 0.0
        values = {
            "a": OWN + sign * WOBBLE + extra,
            "b": FOREIGN,
            "c": bell(0.04, 0.009) + sign * WOBBLE + extra,
        }
        tests.append(
            Trial([facts(one, channel=name, peak=100.0, noise=0.01) for name, one in values.items()])
        )
    assert list(examine_crosstalk(Trials(tests), 0, ["a"])) == []
