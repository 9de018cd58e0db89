"""The virtual model against closed forms, balances and its own tolerance."""

import math
from functools import cache

import numpy as np
import pytest

from demo_pairs.solver import stepping
from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.models import head, seat, thorax
from demo_pairs.solver.run import LOAD_CASES

SOFT = Materials(
    head_skin_modulus=0.045,
    head_skin_rate_coefficient=0.055,
    neck_rubber_modulus=0.008,
    neck_rubber_loss_factor=0.9,
    rib_stiffness=0.042,
    rib_damping=0.49,
    thorax_foam_modulus=3.7e-4,
    thorax_foam_densification_strain=0.78,
    lumbar_rubber_modulus=0.0065,
    cushion_stiffness=0.14,
    cushion_damping=3.3,
    knee_flesh_modulus=0.0126,
)


def materials(**changes: float) -> Materials:
    """Give the cards with some of them changed."""
    return Materials(**{**SOFT.__dict__, **changes})


@cache
def usual(name: str) -> History:
    """Run one load case with the usual cards, once for all tests."""
    return LOAD_CASES[name](SOFT)


def test_undamped_head_drop_has_the_closed_form_peak() -> None:
    """Without rate effect all energy goes into k depth³/3; the force there is the peak (weight under 1 %)."""
    found = head.run(materials(head_skin_rate_coefficient=1e-12))
    felt = np.sqrt(sum(values**2 for values in found.columns.values()))
    stiffness = math.pi * 0.045 * head.RADIUS / head.SKIN_THICKNESS
    depth = (3.0 * 0.5 * head.MASS * head.IMPACT_SPEED**2 / stiffness) ** (1.0 / 3.0)
    assert felt.max() == pytest.approx(stiffness * depth**2 / head.MASS, rel=0.01)
    assert np.trapezoid(felt, found.time) == pytest.approx(2.0 * head.IMPACT_SPEED, rel=0.01)


def test_thorax_keeps_momentum() -> None:
    """What the probe loses the sternum and spine gain: impulse of the probe force equals their momentum."""
    found = usual("thorax-impact")
    force, spine = found.columns["probe force [kN]"], found.columns["upper spine acceleration [mm/ms^2]"]
    rate = np.gradient(found.columns["sternum compression [mm]"], found.time)
    spine_speed = np.concatenate([[0.0], np.cumsum(0.5 * (spine[1:] + spine[:-1]) * np.diff(found.time))])
    impulse = np.trapezoid(force, found.time)
    gained = thorax.STERNUM_MASS * (spine_speed[-1] + rate[-1]) + thorax.SPINE_MASS * spine_speed[-1]
    assert impulse == pytest.approx(gained, rel=2e-3)
    assert force == pytest.approx(
        thorax.PROBE_MASS * found.columns["probe deceleration [mm/ms^2]"], rel=1e-12
    )


def test_stiff_dummy_follows_the_seat() -> None:
    """With an almost rigid spine and cushion the whole dummy feels the half-sine of the seat itself."""
    found = seat.run(
        materials(lumbar_rubber_modulus=4.0, cushion_stiffness=60.0, cushion_damping=60.0), peak=12.0
    )
    inside = (found.time > 20.0) & (found.time < 80.0)
    pulse = 12.0 * 9.80665e-3 * np.sin(math.pi * found.time / 100.0)
    assert found.columns["seat acceleration [mm/ms^2]"][inside] == pytest.approx(pulse[inside], rel=1e-9)
    chest = found.columns["chest acceleration [mm/ms^2]"]
    assert chest[inside] == pytest.approx(pulse[inside], abs=0.03 * pulse.max())


def test_seat_pulse_is_consistent() -> None:
    """Speed and rise of the seat are the integrals of its acceleration, also after the pulse."""
    time = np.linspace(0.0, 150.0, 15_001)
    rows = np.array([seat.pulse(t, 12.0) for t in time.tolist()])
    for value, integral in ((0, 1), (1, 2)):
        summed = np.concatenate(
            [[0.0], np.cumsum(0.5 * (rows[1:, value] + rows[:-1, value]) * np.diff(time))]
        )
        assert rows[:, integral] == pytest.approx(summed, abs=1e-5 * np.abs(summed).max())


@pytest.mark.parametrize("name", ["neck-flexion", "neck-extension"])
def test_neck_load_is_the_moment_that_turns_the_head(name: str) -> None:
    """Moment about the joint and the forces there turn the head about its centre (Euler's equation).

    The angular acceleration comes from second differences of the reported rotation.
    """
    from demo_pairs.solver.models import neck  # noqa: PLC0415

    found = usual(name)
    facing = 1.0 if name == "neck-flexion" else -1.0
    rotation = found.columns["head rotation [rad]"]
    step = float(found.time[1])
    turning = (rotation[2:] - 2 * rotation[1:-1] + rotation[:-2]) / step**2
    forward, down = -found.columns["neck shear force [kN]"], -found.columns["neck axial force [kN]"]
    moment = -found.columns["neck moment [kN*mm]"] - neck.CELL_ABOVE_JOINT * forward
    # +y turns the head backwards; the joint lies below (+z) and behind (-x) of the centre of gravity
    about_centre = moment + neck.HEAD_UP * forward + neck.HEAD_FORWARD * down
    expected = -facing * about_centre[1:-1] / neck.HEAD_INERTIA
    assert turning[5:-5] == pytest.approx(expected[5:-5], abs=0.01 * np.abs(expected).max())


@pytest.mark.parametrize("name", LOAD_CASES)
def test_contact_forces_never_pull(name: str) -> None:
    """No probe force is ever negative and every value is finite."""
    found = usual(name)
    for column, values in found.columns.items():
        assert np.all(np.isfinite(values)), column
        if column == "probe force [kN]":
            assert values.min() == 0.0


@pytest.mark.parametrize("name", ["head-drop", "neck-extension", "thorax-impact", "knee-impact", "seat-drop"])
def test_tighter_tolerance_converges(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps half as long with a tight tolerance change no channel by more than 1e-4 of its peak."""
    monkeypatch.setattr(stepping, "TOLERANCE", 1e-9)
    monkeypatch.setattr(stepping, "STEP", 0.025)
    tight = LOAD_CASES[name](SOFT)
    for column, values in usual(name).columns.items():
        other = tight.columns[column]
        assert np.abs(values - other).max() <= 1e-4 * np.abs(other).max(), column


@pytest.mark.parametrize(
    ("name", "card", "column", "stiffer_is_larger"),
    [
        ("head-drop", "head_skin_modulus", "head x acceleration [mm/ms^2]", True),
        ("head-drop", "head_skin_rate_coefficient", "head x acceleration [mm/ms^2]", None),
        ("neck-flexion", "neck_rubber_modulus", "head rotation [rad]", False),
        ("neck-extension", "neck_rubber_loss_factor", "head rotation [rad]", False),
        ("thorax-impact", "rib_stiffness", "sternum compression [mm]", False),
        ("thorax-impact", "rib_damping", "sternum compression [mm]", False),
        ("thorax-impact", "thorax_foam_modulus", "probe force [kN]", None),
        ("thorax-impact", "thorax_foam_densification_strain", "probe force [kN]", None),
        ("seat-drop", "lumbar_rubber_modulus", "lumbar force [kN]", None),
        ("seat-drop", "cushion_stiffness", "pelvis acceleration [mm/ms^2]", None),
        ("seat-drop", "cushion_damping", "lumbar force [kN]", None),
        ("knee-impact", "knee_flesh_modulus", "probe force [kN]", True),
    ],
)
def test_every_card_matters(name: str, card: str, column: str, *, stiffer_is_larger: bool | None) -> None:
    """Raising a card by a fifth moves the curve by over 0.4 % of its peak, the peak as mechanics demands."""
    before = usual(name).columns[column]
    after = LOAD_CASES[name](materials(**{card: 1.2 * getattr(SOFT, card)})).columns[column]
    peak = np.abs(before).max()
    assert np.abs(after - before).max() > 4e-3 * peak
    if stiffer_is_larger is not None:
        assert (np.abs(after).max() > peak) == stiffer_is_larger


@pytest.mark.parametrize("name", LOAD_CASES)
def test_last_bit_of_a_card_does_not_reach_the_file(name: str) -> None:
    """Cards that differ in their last bit give the same file: rounding noise has no say in the steps."""
    nudged = Materials(**{card: np.nextafter(value, 1e9).item() for card, value in SOFT.__dict__.items()})
    assert LOAD_CASES[name](nudged).text() == usual(name).text()


def test_run_without_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that would take too many steps stops with the time it reached."""
    monkeypatch.setattr(stepping, "MOST_EVALUATIONS", 50)
    with pytest.raises(ArithmeticError, match=r"steps became too small at [\d.]+ ms; soften the materials"):
        thorax.run(SOFT, speed=6.71)
