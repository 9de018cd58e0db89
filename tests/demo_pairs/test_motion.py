"""The integrator of the laboratory: restarts at contacts and refuses to go on without sense."""

import numpy as np
import pytest
from numpy.typing import NDArray

from demo_pairs.laboratory import motion
from demo_pairs.laboratory.motion import integrate


def test_bouncing_ball_is_restarted_at_every_contact() -> None:
    """A ball on a stiff contact spring bounces at the times that its first speed and gravity give."""
    mass, stiffness, gravity = 1.0, 1e6, 9.80665

    def slope(_time: float, state: NDArray[np.float64], closed: tuple[bool, ...]) -> list[float]:
        depth, rate = state.tolist()
        return [rate, gravity - (stiffness * depth / mass if closed[0] else 0.0)]

    found = integrate(
        slope, np.array([-0.5, 0.0]), np.linspace(0.0, 1.2, 25), events=[lambda _t, state: float(state[0])]
    )
    fall = np.sqrt(2 * 0.5 / gravity)
    assert len(found.contact_changes) == 4
    assert found.contact_changes[0] == pytest.approx(fall, rel=1e-8)
    touch = found.contact_changes[1] - found.contact_changes[0]
    assert touch == pytest.approx(np.pi * np.sqrt(mass / stiffness), rel=0.02)
    assert found.contact_changes[2] == pytest.approx(3 * fall + touch, rel=1e-6)


def test_every_output_time_is_filled_in_order() -> None:
    """Each asked time gets exactly one state, also those that fall on a contact change."""
    found = integrate(
        lambda _t, _state, _closed: [1.0],
        np.array([0.0]),
        np.linspace(0.0, 1.0, 11),
        events=[lambda t, _s: t - 0.5],
    )
    assert found.states[0] == pytest.approx(np.linspace(0.0, 1.0, 11))
    assert found.contact_changes == pytest.approx((0.5,))
    assert found.closed[0].tolist() == [False] * 6 + [True] * 5


def test_chattering_contact_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A contact that opens and closes without end stops the run with the time of it."""
    monkeypatch.setattr(motion, "MOST_CONTACT_CHANGES", 5)
    with pytest.raises(ArithmeticError, match=r"stopped at 0\.\d+ s"):
        integrate(
            lambda _t, _state, _closed: [1.0],
            np.array([0.0]),
            np.linspace(0.0, 1.0, 5),
            events=[lambda t, _s: float(np.sin(60.0 * t))],
        )
