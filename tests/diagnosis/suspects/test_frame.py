"""Turned local frames: against a general library, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from correlate import CorrelateError
from correlate.diagnosis.suspects import frame_rotation


def _triple(seed: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.random.default_rng(seed).standard_normal((3, 60))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(-2, 2), st.floats(-2, 2), st.floats(-1, 1))
def test_finds_the_rotation_that_was_applied(seed: int, x: float, y: float, z: float) -> None:
    """A turned triple is turned back exactly, whatever the rotation."""
    candidate = _triple(seed)
    turn = Rotation.from_rotvec([x, y, z])
    found = frame_rotation(tuple(turn.apply(candidate.T).T), tuple(candidate))
    assert found.matrix == pytest.approx(turn.as_matrix(), abs=1e-9)
    assert found.angle_rad == pytest.approx(turn.magnitude(), abs=1e-6)
    assert found.error_after < 1e-20


def test_agrees_with_a_general_library_on_noisy_triples() -> None:
    """With noise the matrix is that of scipy's alignment of vectors (Kabsch)."""
    candidate = _triple(3)
    reference = Rotation.from_rotvec([0.3, -0.5, 0.9]).apply(candidate.T).T + 0.4 * _triple(4)
    theirs, _ = Rotation.align_vectors(reference.T, candidate.T)
    found = frame_rotation(tuple(reference), tuple(candidate))
    assert found.matrix == pytest.approx(theirs.as_matrix(), abs=1e-9)


def test_a_mirror_image_is_no_rotation() -> None:
    """One axis with its sign turned gives a proper rotation that does not fit, never a mirror."""
    candidate = _triple(5)
    found = frame_rotation((-candidate[0], candidate[1], candidate[2]), tuple(candidate))
    assert np.linalg.det(found.matrix) == pytest.approx(1.0)
    assert found.error_after > 0.1


def test_movement_along_one_line_leaves_the_turn_about_it_out() -> None:
    """Along one line the smallest turn from one direction to the other is returned, called undetermined."""
    pulse = np.sin(np.linspace(0, 3, 50))
    found = frame_rotation((pulse, 0 * pulse, 0 * pulse), (0 * pulse, pulse, 0 * pulse))
    assert not found.determined
    assert np.degrees(found.angle_rad) == pytest.approx(90.0)
    opposite = frame_rotation((pulse, 0 * pulse, 0 * pulse), (-pulse, 0 * pulse, 0 * pulse))
    assert np.degrees(opposite.angle_rad) == pytest.approx(180.0)


@pytest.mark.parametrize(
    ("reference", "candidate", "message"),
    [
        (np.ones((2, 5)), np.ones((3, 5)), "the reference has curves of shapes"),
        (np.ones((3, 5)), np.ones((3, 6)), "has 5 samples, the candidate 6"),
        (np.ones((3, 5)), np.zeros((3, 5)), "all three axes of the candidate are zero"),
    ],
)
def test_refusals(
    reference: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    candidate: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    message: str,
) -> None:
    """Wrong triples are refused with a sentence."""
    with pytest.raises(CorrelateError, match=message):
        frame_rotation(tuple(reference), tuple(candidate))
