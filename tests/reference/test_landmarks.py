"""Landmarks of curves, what repeats share of them, and the maps between them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import SettingsError
from correlate.reference.landmarks import (
    Landmark,
    common_landmarks,
    landmark_places,
    monotone_maps,
    usable_landmarks,
)

TIME = np.linspace(0.0, 1.0, 1001)


def bumps(first: float, second: float, width: float = 0.05) -> np.ndarray:
    """Return two bells at given places."""
    return np.exp(-(((TIME - first) / width) ** 2)) + np.exp(-(((TIME - second) / width) ** 2))


def test_a_sine_has_its_landmarks_where_they_are() -> None:
    """Peak, zero crossing and valley of one period; the onset where the size reaches a tenth."""
    found = landmark_places(np.sin(2 * np.pi * TIME))
    assert [kind for kind, _ in found] == ["onset", "peak", "zero crossing", "valley"]
    expected = [1000 * np.arcsin(0.1) / (2 * np.pi), 250, 500, 750]
    assert [place for _, place in found] == pytest.approx(expected, abs=0.02)


def test_a_mirrored_curve_has_mirrored_landmarks() -> None:
    """With the other sign, peaks become valleys at the same places; the rest stays."""
    curve = np.sin(2 * np.pi * TIME) * np.exp(-TIME)
    turned = {"peak": "valley", "valley": "peak"}
    assert [(turned.get(kind, kind), place) for kind, place in landmark_places(-curve)] == landmark_places(
        curve
    )


@given(scale=st.floats(1e-6, 1e6))
def test_the_unit_does_not_matter(scale: float) -> None:
    """Landmarks are where they were when the curve is multiplied by a factor."""
    curve = bumps(0.3, 0.6) - 0.2
    before, after = landmark_places(curve), landmark_places(scale * curve)
    assert [kind for kind, _ in before] == [kind for kind, _ in after]
    assert [place for _, place in before] == pytest.approx([place for _, place in after], abs=1e-6)


def test_noise_adds_no_landmarks_and_moves_them_little() -> None:
    """With noise of 1 %, the same landmarks are found within 1 % of the axis."""
    clean = landmark_places(bumps(0.3, 0.6))
    noisy = landmark_places(bumps(0.3, 0.6) + 0.01 * np.random.default_rng(4).standard_normal(TIME.size))
    assert [kind for kind, _ in clean] == [kind for kind, _ in noisy]
    assert [place for _, place in noisy] == pytest.approx([place for _, place in clean], abs=10)


def test_a_landmark_that_one_repeat_lacks_is_left_out() -> None:
    """One repeat has a single bell: the second peak and the valley between them do not count."""
    curves = np.stack([bumps(0.3, 0.6), np.exp(-(((TIME - 0.3) / 0.05) ** 2))])
    found = common_landmarks(curves, curves[0], start=0.0, step=1e-3, largest_move=0.05)
    assert [one.kind for one in found] == ["onset", "peak"]


def test_moves_are_bounded() -> None:
    """A peak that differs by more than the bound is left out; within it, it is kept with its moves."""
    curves = np.stack([bumps(0.3, 0.60), bumps(0.3, 0.66)])
    template = curves.mean(axis=0)
    near = common_landmarks(curves, template, start=0.0, step=1e-3, largest_move=0.05)
    assert any(one.moves == pytest.approx((0.03, -0.03), abs=2e-3) for one in near if one.kind == "peak")
    tight = common_landmarks(curves, template, start=0.0, step=1e-3, largest_move=0.01)
    assert all(max(map(abs, one.moves)) <= 0.01 for one in tight)
    assert len(tight) < len(near)
    with pytest.raises(SettingsError, match="largest move of a feature"):
        common_landmarks(curves, template, start=0.0, step=1e-3, largest_move=0.0)


def test_landmarks_keep_their_order() -> None:
    """One that would come before its predecessor in a repeat, or too near to an end, is left out."""

    def mark(common: float, *own: float) -> Landmark:
        return Landmark(kind="peak", of="", common=common, own=own)

    marks = [mark(0.004, 0.004, 0.004), mark(0.3, 0.3, 0.3), mark(0.4, 0.5, 0.29), mark(0.6, 0.6, 0.6)]
    kept = usable_landmarks(marks, start=0.0, end=1.0, least=0.01)
    assert [one.common for one in kept] == [0.3, 0.6]


@given(own=st.lists(st.floats(0.05, 0.95), min_size=1, max_size=5, unique=True))
def test_maps_rise_and_meet_their_landmarks(own: list[float]) -> None:
    """Whatever the places, the map is monotone, keeps the ends and goes through every landmark."""
    own = sorted(own)
    common = np.linspace(0.1, 0.9, len(own))
    marks = [
        Landmark(kind="peak", of="", common=float(at), own=(one,))
        for at, one in zip(common, own, strict=True)
    ]
    axis = np.unique(np.concatenate((TIME, common)))
    (found,) = monotone_maps(marks, axis, 1)
    assert (np.diff(found) >= -1e-12).all()
    assert (found[0], found[-1]) == (0.0, 1.0)
    assert np.interp(common, axis, found) == pytest.approx(own, abs=1e-9)
