"""The warping kernel against two general libraries, its path, and its memory."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from dtaidistance import dtw
from hypothesis import given, settings
from hypothesis import strategies as st
from tslearn.metrics import dtw_path

from correlate.metrics.warping import warp
from tests.metrics.curves import noisy_pairs, pulse
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from correlate import AlignedPair

PAIRS = noisy_pairs(least=20, most=150)


@given(pair=PAIRS, share=st.floats(0.02, 1.0))
def test_distance_equals_two_general_libraries(pair: AlignedPair, share: float) -> None:
    """The same band gives the same distance as two independent time-warping libraries."""
    band = min(len(pair) - 1, max(1, math.ceil(share * len(pair))))
    ours = warp(pair.candidate, pair.reference, band=band).distance
    first = dtw.distance_fast(np.array(pair.candidate), np.array(pair.reference), window=band + 1) ** 2
    _, second = dtw_path(
        np.array(pair.candidate),
        np.array(pair.reference),
        global_constraint="sakoe_chiba",
        sakoe_chiba_radius=band,
    )
    assert ours == pytest.approx(first, rel=1e-9, abs=1e-15)
    assert ours == pytest.approx(second**2, rel=1e-9, abs=1e-15)


@given(pair=PAIRS)
def test_path_is_monotone_inside_the_band_and_costs_the_distance(pair: AlignedPair) -> None:
    """The path starts and ends at the corners, steps by one, stays in the band and adds up."""
    band = max(1, len(pair) // 10)
    warping = warp(pair.candidate, pair.reference, band=band)
    path = warping.path
    assert path[0].tolist() == [0, 0]
    assert path[-1].tolist() == [len(pair) - 1, len(pair) - 1]
    steps = {tuple(step) for step in np.diff(path, axis=0).tolist()}
    assert steps <= {(1, 1), (1, 0), (0, 1)}
    assert np.abs(path[:, 0] - path[:, 1]).max() <= band
    cost = np.sum((pair.candidate[path[:, 0]] - pair.reference[path[:, 1]]) ** 2)
    assert warping.distance == pytest.approx(cost, rel=1e-9, abs=1e-15)


@settings(max_examples=40)
@given(pair=noisy_pairs())
def test_path_equals_the_literal_one(pair: AlignedPair) -> None:
    """Ties are resolved as written down: the path is the one of the literal implementation."""
    band = math.ceil(len(pair) / 10)
    path = warp(pair.candidate, pair.reference, band=band).path
    assert [tuple(point) for point in path.tolist()] == literal.warped(
        pair.reference.tolist(), pair.candidate.tolist()
    )


def test_path_prefers_the_diagonal_where_nothing_else_decides() -> None:
    """Two equal flat curves are walked along the diagonal."""
    flat = np.ones(50)
    path = warp(flat, flat, band=5).path
    assert path.tolist() == [[k, k] for k in range(50)]


@given(pair=PAIRS, stride=st.integers(1, 400), share=st.floats(0.0, 1.0))
def test_the_stride_changes_no_result(pair: AlignedPair, stride: int, share: float) -> None:
    """One triangle over everything and many small ones give the same distance and path to the last bit."""
    band = math.floor(share * len(pair))
    whole = warp(pair.candidate, pair.reference, band=band, stride=2 * len(pair))
    cut = warp(pair.candidate, pair.reference, band=band, stride=stride)
    assert cut.distance == whole.distance
    assert np.array_equal(cut.path, whole.path)


@given(
    steps=st.lists(st.integers(-3, 3), min_size=2, max_size=60),
    stride=st.integers(1, 60),
    share=st.floats(0.0, 1.0),
)
def test_costs_and_ties_are_those_of_the_matrix_of_costs(steps: list[int], stride: int, share: float) -> None:
    """For curves full of ties, distance and path are those of the whole matrix, for odd and even bands."""
    first, second = np.array(steps, dtype=float), np.array(steps[::-1], dtype=float)
    band = math.floor(share * (first.size - 1))
    found = warp(first, second, band=band, stride=stride)
    costs = np.full((first.size + 1, first.size + 1), np.inf)
    costs[0, 0] = 0.0
    for i, j in zip(
        *np.nonzero(np.abs(np.subtract.outer(*2 * [np.arange(first.size)])) <= band), strict=True
    ):
        least = min(costs[i, j], costs[i, j + 1], costs[i + 1, j])
        costs[i + 1, j + 1] = least + (first[i] - second[j]) ** 2
    assert found.distance == costs[-1, -1]
    i = j = first.size
    path = [[i - 1, j - 1]]
    while (i, j) != (1, 1):
        before = [(i - 1, j - 1), (i - 1, j), (i, j - 1)]
        i, j = min(before, key=lambda place: costs[place])
        path.append([i - 1, j - 1])
    assert found.path.tolist() == path[::-1]


def test_a_late_copy_inside_the_band_costs_nothing() -> None:
    """A pulse moved by less than the band is warped back completely."""
    early, late = pulse(300, start=50, length=80), pulse(300, start=70, length=80)
    assert warp(early, late, band=30).distance == 0.0
    assert warp(early, late, band=10).distance > 0.0
