"""Each limit of a ringing mount: how strong, how narrow, and when it begins."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.ringing import examine_ringing
from correlate.reference.check.trials import Trial, Trials
from tests.reference.check.by_hand import Floats, facts

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

STEP_S = 1e-4
TIME = np.arange(2000) * STEP_S - 0.05
SMOOTH = 100 * np.exp(-(((TIME - 0.02) / 0.008) ** 2))


def ring(size: float, *, hertz: float = 300.0, decay: float = 0.02, begins_s: float = 0.0) -> Floats:
    """Return a decaying oscillation."""
    since = np.clip(TIME - begins_s, 0, None)
    return np.asarray(
        size
        * np.exp(-2 * np.pi * hertz * decay * since)
        * np.sin(2 * np.pi * hertz * since)
        * (begins_s < TIME)
    )


def found(
    added: Floats, *, repeats: int = 3, usual: float = 0.0, minor: bool = False, quiet: int = 400
) -> list[Finding]:
    """Add something to the first of some repeats; the others ring with a usual size."""
    random = np.random.default_rng(5)
    tests = []
    for number in range(repeats):
        values = SMOOTH + 0.01 * random.standard_normal(TIME.size) + (added if number == 0 else ring(usual))
        channel = facts(values, channel="a", peak=100.0, noise=0.01, quiet=quiet, start_s=-0.05)
        tests.append(Trial([replace(channel, is_minor=minor)]))
    return list(examine_ringing(Trials(tests), 0, ["a"]))


def test_the_finding_names_the_frequency() -> None:
    """An error, at a thirtieth of an octave."""
    (finding,) = found(ring(20.0))
    assert (finding.kind, finding.severity, finding.channel) == ("loose mount", "error", "a")
    assert finding.evidence["frequency_hz"] == pytest.approx(300, rel=0.03)
    assert "300" in finding.what or "29" in finding.what or "30" in finding.what


def test_sound_channels_do_not_ring() -> None:
    """Nor those that ring in all repeats alike, or as little as six times the energy of the others."""
    assert found(np.zeros(TIME.size)) == []
    assert found(ring(20.0), usual=20.0) == []
    assert found(ring(20.0), usual=20.0 / 5**0.5) == []
    assert len(found(ring(20.0), usual=20.0 / 8**0.5)) == 1


@pytest.mark.parametrize(("size", "count"), [(5.0, 0), (25.0, 1)])
def test_a_weak_one_is_left_alone(size: float, count: int) -> None:
    """The band must hold half a per cent of the energy."""
    assert len(found(ring(size))) == count


@pytest.mark.parametrize(("times", "count"), [(3.7, 0), (4.1, 1)])
def test_a_band_stands_out_of_its_surroundings(times: float, count: int) -> None:
    """A second oscillation nine cells higher is heard as well: the first must be four times as strong.

    The other repeats hold a click, whose spectrum is flat. At its own frequency the spectrum of a decaying
    oscillation is in proportion to its size over that frequency, squared.
    """
    click = np.where(np.arange(TIME.size) == TIME.size // 4, 100.0, 0.0)
    higher = 2 ** (9 / 24)
    second = ring(20.0 * higher / times**0.5, hertz=300.0 * higher)
    tests = []
    for added in (ring(20.0) + second, np.zeros(TIME.size), np.zeros(TIME.size)):
        values = SMOOTH + click + added
        tests.append(Trial([facts(values, channel="a", quiet=400, noise=0.01, start_s=-0.05)]))
    assert len(list(examine_ringing(Trials(tests), 0, ["a"]))) == count


@pytest.mark.parametrize(("decay", "count"), [(0.01, 1), (0.6, 0)])
def test_a_damped_pulse_is_no_ringing(decay: float, count: int) -> None:
    """Its band is wide."""
    assert len(found(ring(30.0, decay=decay))) == count


@pytest.mark.parametrize(("begins_s", "count"), [(0.0, 1), (-0.05, 0)])
def test_what_is_there_before_the_event_is_hum(begins_s: float, count: int) -> None:
    """A quarter of the band may be."""
    assert len(found(ring(20.0, decay=0.001, begins_s=begins_s))) == count


def test_who_is_not_judged() -> None:
    """Minor axes, channels without a quiet stretch, and those with fewer than two other repeats."""
    assert found(ring(20.0), minor=True) == []
    assert found(ring(20.0), quiet=19) == []
    assert found(ring(20.0), repeats=2) == []
