"""Residuals that move together are found, whatever their size, sign and small delay; others are not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from correlate.diagnosis.clusters import Cluster, cluster_residuals
from correlate.errors import SettingsError, SignalError

Floats = NDArray[np.float64]
SIZE = 1000
TIME = np.arange(SIZE) / SIZE


def wave(seed: int, *, width: float = 10.0) -> Floats:
    """Return a smooth random curve with a correlation length of a few samples, quiet at both ends."""
    noise = np.random.default_rng(seed).standard_normal(SIZE)
    return np.asarray(gaussian_filter1d(noise, width) * np.sin(np.pi * TIME) ** 2)


def moved(values: Floats, samples: int) -> Floats:
    """Return a curve later by some samples, zeros before it."""
    out = np.zeros_like(values)
    out[samples:] = values[: SIZE - samples] if samples else values
    return out


def test_two_causes_make_two_clusters() -> None:
    """Five channels driven by two waves, and one of its own."""
    first, second = wave(1), wave(2)
    residuals = {
        "a1": 3 * first,
        "b1": -0.01 * second,
        "alone": wave(3),
        "a2": -first + 0.05 * wave(4),
        "b2": moved(second, 30),
        "a3": moved(first, 12),
    }
    found = cluster_residuals(residuals)
    assert [cluster.names for cluster in found] == [("a1", "a2", "a3"), ("b1", "b2")]
    assert [(one.sign, one.lag_samples) for one in found[0].members] == [(1, 0), (-1, 0), (1, 12)]
    assert [(one.sign, one.lag_samples) for one in found[1].members] == [(1, 0), (-1, 30)]


def test_likeness_is_the_correlation_that_numpy_gives() -> None:
    """At lag zero, against numpy's coefficient."""
    one, other = wave(5), wave(5) + 0.3 * wave(6)
    (found,) = cluster_residuals({"one": one, "other": other}, largest_lag=0.0)
    expected = np.corrcoef(one, other)[0, 1]
    assert found.members[1].likeness == pytest.approx(expected, abs=1e-12)
    assert found.least_likeness == pytest.approx(expected, abs=1e-12)


def test_every_two_members_are_alike_enough() -> None:
    """A chain of neighbours is not one cluster: its ends do not correlate enough."""
    ends = wave(7), wave(8)
    chain = {f"{share:.2f}": (1 - share) * ends[0] + share * ends[1] for share in np.linspace(0, 1, 7)}
    found = cluster_residuals(chain, largest_lag=0.0)
    assert len(found) > 1
    for cluster in found:
        rows = np.corrcoef([chain[name] for name in cluster.names])
        assert np.abs(rows).min() >= 0.8 - 1e-9


def test_a_delay_beyond_the_lag_is_not_looked_for() -> None:
    """30 of 1000 samples are within 5 % and beyond 2 %."""
    residuals = {"now": wave(9), "later": moved(wave(9), 30)}
    assert len(cluster_residuals(residuals)) == 1
    assert cluster_residuals(residuals, largest_lag=0.02) == ()


def test_a_perfect_channel_is_in_no_cluster() -> None:
    """Nothing correlates with a residual of zeros, nor with a constant offset."""
    found = cluster_residuals(
        {"zero": np.zeros(SIZE), "offset": np.full(SIZE, 0.3), "a": wave(1), "b": wave(1)}
    )
    assert [cluster.names for cluster in found] == [("a", "b")]
    assert cluster_residuals({"zero": np.zeros(SIZE), "a": wave(1)}) == ()
    assert cluster_residuals({}) == ()


def test_independent_residuals_are_rarely_taken_together() -> None:
    """150 pairs of unrelated waves with a correlation length of 2 % of the interval: at most 3 joined."""
    joined = 0
    for seed in range(10):
        residuals = {str(number): wave(100 + 6 * seed + number, width=20.0) for number in range(6)}
        for cluster in cluster_residuals(residuals):
            joined += len(cluster.names) * (len(cluster.names) - 1) // 2
    assert joined <= 3


@given(
    seed=st.integers(0, 1000),
    scales=st.lists(st.floats(1e-6, 1e6), min_size=3, max_size=3),
    signs=st.lists(st.sampled_from([-1, 1]), min_size=3, max_size=3),
)
def test_units_and_signs_change_nothing_but_the_signs(
    seed: int, scales: list[float], signs: list[int]
) -> None:
    """Any unit and polarity of a channel gives the same groups and delays."""
    curves = {"a": wave(seed), "b": moved(wave(seed), 5) + 0.1 * wave(seed + 1), "c": wave(seed + 2)}
    other = {
        name: scale * sign * values
        for (name, values), scale, sign in zip(curves.items(), scales, signs, strict=True)
    }

    def told(found: tuple[Cluster, ...]) -> list[list[tuple[str, int]]]:
        return [[(one.name, one.lag_samples) for one in cluster.members] for cluster in found]

    first, second = cluster_residuals(curves), cluster_residuals(other)
    assert told(first) == told(second)
    turned = dict(zip(curves, signs, strict=True))
    for cluster in second:
        leader = turned[cluster.names[0]]
        assert [one.sign for one in cluster.members if one.name == "b"] in ([], [leader * turned["b"]])


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"least_likeness": 1.0}, "the least likeness is 1.0"),
        ({"least_likeness": 0.0}, "the least likeness is 0.0"),
        ({"largest_lag": -0.1}, "the largest lag is -0.1"),
        ({"largest_lag": 1.0}, "the largest lag is 1.0"),
    ],
)
def test_settings_outside_their_range_are_refused(settings: dict[str, float], words: str) -> None:
    """The value is named."""
    with pytest.raises(SettingsError, match=words):
        cluster_residuals({"a": wave(1), "b": wave(2)}, **settings)


def test_residuals_that_do_not_fit_are_refused() -> None:
    """Other lengths, and a sample that is no number, with its channel."""
    with pytest.raises(SignalError, match="differ in length"):
        cluster_residuals({"a": wave(1), "b": wave(2)[:-1]})
    broken = wave(1)
    broken[3] = np.nan
    with pytest.raises(SignalError, match=r"channel 'b'.*not finite"):
        cluster_residuals({"a": wave(1), "b": broken})
