"""Warnings beside a rating: raised where they are due, silent on ordinary pairs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import AlignedPair, RatingSettings, rate, rate_many
from tests.benchmarks import flags as study
from tests.oracles import iso18571_literal

TIME = np.arange(600) * 1e-4


def pulse(late_s: float = 0.0, size: float = 1.0) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a half-sine of 40 ms in 60 ms."""
    return np.asarray(size * np.sin(np.pi * np.clip((TIME - 0.008 - late_s) / 0.04, 0, 1)))


def pair(reference: object, candidate: object, step_s: float = 1e-4) -> AlignedPair:
    """Return two curves on one grid."""
    time = np.arange(np.size(np.asarray(reference))) * step_s
    return AlignedPair(time=time, reference=np.asarray(reference), candidate=np.asarray(candidate))


def names(of: AlignedPair) -> list[str]:
    """Return the names of the warnings."""
    return [flag.name for flag in rate(of).flags]


def test_an_ordinary_pair_has_no_warning() -> None:
    """A pulse that is 2 ms late and a tenth too small is what the method was made for."""
    assert names(pair(pulse(), pulse(late_s=0.002, size=0.9))) == []
    assert names(pair(pulse(), pulse())) == []


def test_two_ramps_leave_the_phase_open() -> None:
    """Ramps that differ by 1.8 % correlate without a shift as well as with any."""
    ramp = np.linspace(0.1, 1.1, 600)
    rating = rate(pair(ramp, 1.018 * ramp + 1e-4 * ramp**2))
    assert rating.phase < 0.2
    (flag,) = rating.flags
    assert flag.name == "phase not identifiable"
    assert flag.figures["correlation"] - flag.figures["correlation_unshifted"] < 1e-6


@pytest.mark.parametrize("level", [0.0, 0.7])
def test_a_candidate_that_does_not_move_has_no_phase(level: float) -> None:
    """By default its phase is 0, as in the literal second implementation; a setting scores the search."""
    dead = pair(pulse(), np.full(600, level))
    rating = rate(dead)
    assert (rating.phase, [flag.name for flag in rating.flags]) == (0.0, ["candidate dead"])
    by_oracle = iso18571_literal.rating(dead.reference[::10].tolist(), dead.candidate[::10].tolist(), 1e-3)
    assert rate(pair(dead.reference[::10], dead.candidate[::10], 1e-3)).overall == pytest.approx(
        by_oracle["overall"], abs=1e-12
    )
    assert rate(dead, RatingSettings(dead_candidate="search")).phase == 1.0


def test_padding_is_named_with_the_interval_that_the_test_suggests() -> None:
    """A pulse of 40 ms in 200 ms: quiet for most of it; 5 % of the peak is passed 0.64 ms after its start."""
    padded = np.concatenate([pulse(), np.zeros(1400)])
    other = np.concatenate([pulse(late_s=0.004, size=0.7), np.zeros(1400)])
    rating = rate(pair(padded, other))
    (flag,) = rating.flags
    assert flag.name == "interval mostly quiet"
    assert rating.overall > rate(pair(pulse(), pulse(late_s=0.004, size=0.7))).overall + 0.05
    active = 0.04 * (1 - 2 * np.arcsin(0.05) / np.pi)
    start = 0.008 + 0.04 * np.arcsin(0.05) / np.pi
    assert flag.figures["suggested_start_s"] == pytest.approx(start - 0.1 * active, abs=2e-4)
    assert flag.figures["suggested_end_s"] == pytest.approx(start + 1.1 * active, abs=2e-4)
    assert flag.figures["quiet_share"] == pytest.approx(1 - active / 0.2, abs=2e-3)


def test_another_step_is_named() -> None:
    """Nine samples of 0.05 ms are half a millisecond."""
    (flag,) = rate(pair(pulse(), pulse(late_s=0.001), step_s=5e-5)).flags
    assert flag.name == "step not 0.1 ms"
    assert flag.figures["step_s"] == pytest.approx(5e-5)


def test_noise_is_no_single_event() -> None:
    """Independent noise of either class rates about a third and is named."""
    random = np.random.default_rng(7)
    for cfc in (180, 1000):
        noisy = study.pair_of(study.noise(random, cfc), study.noise(random, cfc))
        assert "no single event" in names(noisy)


def test_the_shares_of_the_documentation_hold_on_other_seeds(monkeypatch: pytest.MonkeyPatch) -> None:
    """No late event is called unidentifiable, and nearly every pair of ramps is."""
    monkeypatch.setattr(study, "PAIRS", 40)
    random = np.random.default_rng(99)
    assert "phase not identifiable" not in study.shares(study.late_pairs(random, study.events))
    losing = [one for one in study.alike_pairs(random) if rate(one).phase < 0.95]
    assert study.shares(losing)["phase not identifiable"] > 0.9


@given(
    st.floats(min_value=1e-3, max_value=1e3),
    st.floats(min_value=0.0, max_value=0.01),
    st.sampled_from([0.0, 0.3, 1.0]),
)
def test_a_change_of_unit_changes_no_warning(factor: float, late_s: float, size: float) -> None:
    """Both curves times one factor have the same warnings, and many pairs at once have those of each."""
    plain = pair(pulse(), pulse(late_s, size))
    scaled = pair(factor * pulse(), factor * pulse(late_s, size))
    assert names(plain) == names(scaled)
    together = rate_many([plain, scaled])
    assert [one.flags for one in together] == [rate(plain).flags, rate(scaled).flags]
