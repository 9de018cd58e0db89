"""Frequency and damping of a tail: known oscillations, and the matrix pencil as a second opinion."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.features import features
from correlate.diagnosis.features.areas import ringing_tail
from correlate.diagnosis.features.pulse import pulse_of
from tests.oracles.matrix_pencil import decaying_modes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEP = 1e-4
TIME: Floats = np.arange(3001, dtype=np.float64) * STEP
BEGIN = 0.05


def ringing(frequency: float, damping: float, rest: float = 0.0) -> Floats:
    """Return a rise to a peak at 50 ms, then a decaying cosine about a level at rest."""
    rate = 2 * math.pi * frequency
    decay = damping / math.sqrt(1 - damping**2) * rate
    late = np.maximum(TIME - BEGIN, 0.0)
    tail = rest + np.exp(-decay * late) * np.cos(rate * late)
    rise = np.sin(0.5 * np.pi * np.clip(TIME / BEGIN, 0.0, 1.0)) ** 2
    return np.where(TIME < BEGIN, (1.0 + rest) * rise, tail)


@given(frequency=st.floats(15.0, 60.0), damping=st.floats(0.02, 0.2), rest=st.floats(-0.15, 0.15))
@settings(max_examples=25)
def test_known_oscillation_is_told(frequency: float, damping: float, rest: float) -> None:
    """Frequency within 1 %, damping ratio within 3 %, whatever level the tail rings about."""
    found = features(TIME, ringing(frequency, damping, rest))
    assert found.tail_frequency == pytest.approx(frequency, rel=0.01)
    assert found.tail_damping == pytest.approx(damping, rel=0.03, abs=0.001)
    pulse = pulse_of(TIME, ringing(frequency, damping, rest))
    tail = ringing_tail(pulse)
    assert tail.rest * pulse.sign == pytest.approx(rest, abs=0.005)


@given(frequency=st.floats(15.0, 60.0), damping=st.floats(0.02, 0.2), noise=st.floats(0.0, 0.002))
@settings(max_examples=10)
def test_matrix_pencil_agrees(frequency: float, damping: float, noise: float) -> None:
    """A fit of complex exponentials to all samples of the tail finds the same mode (Hua and Sarkar 1990)."""
    random = np.random.default_rng(int(frequency * 1e3))
    values = ringing(frequency, damping) + noise * random.standard_normal(TIME.size)
    found = features(TIME, values)
    every = 10
    modes = decaying_modes(values[TIME >= BEGIN][::every].tolist(), every * STEP, order=2)
    assert found.tail_frequency == pytest.approx(modes[0][0], rel=0.02)
    assert found.tail_damping == pytest.approx(modes[0][1], rel=0.08, abs=0.003)


def struck_and_left(damping: float) -> Floats:
    """Return the response of one mass on a spring and dashpot to a half-sine push, by small exact steps."""
    rate = 2 * math.pi * 25.0
    matrix = np.array([[0.0, 1.0], [-(rate**2), -2 * damping * rate]])
    values, vectors = np.linalg.eig(matrix)
    step = (vectors @ np.diag(np.exp(values * STEP)) @ np.linalg.inv(vectors)).real
    state, path = np.zeros(2), []
    for time in TIME:
        push = math.sin(math.pi * time / 0.02) if time < 0.02 else 0.0
        path.append(state[0])
        state = step @ (state + np.array([0.0, push * STEP]))
    return np.array(path)


@pytest.mark.parametrize("damping", [0.03, 0.1, 0.25])
def test_free_response_of_one_mass(damping: float) -> None:
    """The tail of a struck mass has the damped frequency and the damping ratio of its equation of motion."""
    found = features(TIME, struck_and_left(damping))
    assert found.tail_frequency == pytest.approx(25.0 * math.sqrt(1 - damping**2), rel=0.01)
    assert found.tail_damping == pytest.approx(damping, rel=0.03)


def test_growing_swings_have_negative_damping() -> None:
    """An unstable tail is told as such and not turned into a damped one."""
    late = np.maximum(TIME - BEGIN, 0.0)
    grown = np.where(TIME < 0.02, 20.0 * np.sin(np.pi * TIME / 0.02), 0.0)
    found = features(TIME, grown + np.exp(8.0 * late) * np.sin(2 * np.pi * 20.0 * late))
    assert found.tail_damping is not None
    assert found.tail_damping < 0.0


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        (np.sin(np.pi * np.clip(TIME / 0.1, 0.0, 1.0)), "fewer than three clear extremes"),
        (
            np.sin(np.pi * np.clip(TIME / 0.05, 0.0, 1.0))
            + np.where(TIME > 0.06, 0.3 * np.sin(2 * np.pi * 12 * TIME) * np.sin(2 * np.pi * 31 * TIME), 0.0),
            "one frequency and one decay",
        ),
    ],
)
def test_what_is_no_tail_has_a_reason(values: Floats, reason: str) -> None:
    """A pulse without ringing, and a mix of two frequencies, give no number but a reason."""
    found = features(TIME, values)
    assert (found.tail_frequency, found.tail_damping) == (None, None)
    assert reason in found.reasons["tail_damping"]
