"""Impacts of an invented upper body with more sensors than the demo: ten channels a load case.

The test side uses the parts of the laboratory (chain, rubber, sensors), the model side the laws and the
integrator of the solver with other masses and stiffnesses, so that the two differ as hardware and model do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from demo_pairs.laboratory.chain import Branch, Chain, Joint
from demo_pairs.laboratory.measuring_chain import FIRST_TIME, SAMPLING_STEP, Sensor, grid, measure
from demo_pairs.laboratory.rigs import neck as neck_rig
from demo_pairs.laboratory.rigs import thorax as thorax_rig
from demo_pairs.laboratory.scatter import draw, generator
from demo_pairs.solver.deck import UNITS, Materials
from demo_pairs.solver.laws import block_foam, hardening_joint, hardening_rib, loss_damping
from demo_pairs.solver.models import neck as neck_model
from demo_pairs.solver.stepping import advance

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Curves = dict[str, Array]

ARM: Final = 0.09
"""Distance over which the turning of the head is felt, m."""
END_MS: Final = 150.0
"""Length of a model run."""


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What one sensor measures.

    Attributes
    ----------
    code, words, unit
        As the laboratory writes them.
    place, kind, axis
        What names are made of.
    full_scale
        Largest value.
    """

    code: str
    words: str
    unit: str
    place: str
    kind: str
    axis: str
    full_scale: float


def _quantity(code: str, words: str, unit: str, full_scale: float) -> Quantity:
    *place, kind, axis = words.split()
    return Quantity(
        code=code,
        words=words.replace("_", " "),
        unit=unit,
        place=" ".join(place),
        kind=kind.replace("_", " "),
        axis=axis,
        full_scale=full_scale,
    )


THORAX: Final = {
    "probe": _quantity("00PEND000000ACXP", "probe acceleration x", "m/s^2", 2000.0),
    "deflection": _quantity("D0CHST0003KMDSXP", "sternum displacement x", "mm", 200.0),
    "sternum": _quantity("D0CHST0000KMACXP", "sternum acceleration x", "m/s^2", 20000.0),
    "upper": _quantity("D0THSPUP00KMACXP", "upper spine acceleration x", "m/s^2", 2000.0),
    "lower": _quantity("D0THSPLO00KMACXP", "lower spine acceleration x", "m/s^2", 2000.0),
    "head": _quantity("D0HEAD0000KMACXP", "head acceleration x", "m/s^2", 2000.0),
    "head_z": _quantity("D0HEAD0000KMACZP", "head acceleration z", "m/s^2", 2000.0),
    "turning": _quantity("D0HEAD0000KMAVYP", "head angular_velocity y", "rad/s", 200.0),
    "neck_force": _quantity("D0NECKUP00KMFOXP", "upper neck force x", "N", 9000.0),
    "neck_moment": _quantity("D0NECKUP00KMMOYP", "upper neck moment y", "Nm", 300.0),
    "low_force": _quantity("D0NECKLO00KMFOXP", "lower neck force x", "N", 9000.0),
}
NECK: Final = {
    "probe": _quantity("00PEND000000ACXP", "probe acceleration x", "m/s^2", 2000.0),
    "rotation": _quantity("D0HEAD0000KMANYP", "head rotation y", "deg", 180.0),
    "turning": _quantity("D0HEAD0000KMAVYP", "head angular_velocity y", "rad/s", 200.0),
    "head": _quantity("D0HEAD0000KMACXP", "head acceleration x", "m/s^2", 2000.0),
    "head_z": _quantity("D0HEAD0000KMACZP", "head acceleration z", "m/s^2", 3000.0),
    "neck_force": _quantity("D0NECKUP00KMFOXP", "upper neck force x", "N", 9000.0),
    "axial": _quantity("D0NECKUP00KMFOZP", "upper neck force z", "N", 14000.0),
    "neck_moment": _quantity("D0NECKUP00KMMOYP", "upper neck moment y", "Nm", 300.0),
    "low_force": _quantity("D0NECKLO00KMFOXP", "lower neck force x", "N", 9000.0),
    "low_moment": _quantity("D0NECKLO00KMMOYP", "lower neck moment y", "Nm", 600.0),
}
CASES: Final = {"thorax-4.3": THORAX, "thorax-6.7": THORAX, "neck-flexion": NECK, "neck-extension": NECK}
SPARE: Final = {
    "contact": _quantity("", "probe force x", "N", 1e4),
    "speed": _quantity("", "probe velocity x", "m/s", 1e2),
    "side": _quantity("", "head acceleration y", "m/s^2", 2e3),
    "whole": _quantity("", "head acceleration resultant", "m/s^2", 2e3),
    "pelvis": _quantity("", "pelvis acceleration x", "m/s^2", 2e3),
}
"""What a model reports beside the partners, some of it very like one of them."""
_SPEEDS: Final = {"thorax-4.3": 4.3, "thorax-6.7": 6.7, "neck-flexion": 7.0, "neck-extension": 6.1}


@lru_cache(maxsize=64)
def test_curves(case: str, repeat: int, seed: int) -> Curves:
    """Return what the recorder of the laboratory stored: name to samples from -50 ms on at 20 kHz."""
    physical = (
        _thorax_test(case, repeat, seed) if case.startswith("thorax") else _neck_test(case, repeat, seed)
    )
    random = generator(seed, repeat, 2)
    jitter = 2e-4 * float(random.standard_normal())
    return {
        name: measure(physical[name], _sensor(name, entry), jitter=jitter, random=random)
        for name, entry in CASES[case].items()
    }


test_curves.__test__ = False  # type: ignore[attr-defined]  # "test" is the word of the trade


def test_times() -> Array:
    """Return the times of the recorder, s."""
    return np.round(FIRST_TIME + SAMPLING_STEP * np.arange(5201), 9)


test_times.__test__ = False  # type: ignore[attr-defined]


def _sensor(name: str, entry: Quantity) -> Sensor:
    return Sensor(
        quantity=name, code=entry.code, description=entry.words, unit=entry.unit, full_scale=entry.full_scale
    )


def _thorax_test(case: str, repeat: int, seed: int) -> Curves:
    variation, rig = draw(seed, repeat), thorax_rig.THORAX
    body = thorax_rig.chain(rig, variation)
    head, turned = 4, 5
    chain = Chain(
        masses=(*body.masses, 4.5, 2.6),
        joints=(
            *body.joints,
            Joint(
                near=3,
                far=head,
                force=lambda depth, rate: 42e3 * depth + 160.0 * rate + 4e6 * depth**3,
                branches=(Branch(stiffness=9e3 * variation.rubber, relaxation_time=0.01),),
            ),
            Joint(near=head, far=turned, force=lambda depth, rate: 14e3 * depth + 70.0 * rate),
        ),
        body_force=(0.0,) * 6,
    )
    impact = _SPEEDS[case] * variation.speed
    times = grid()
    start = chain.start((impact * float(times[0]), *([0.0] * 5)), (impact, *([0.0] * 5)))
    run = chain.run(start, times, tolerance=1e-6)
    turning = (run.velocity[head] - run.velocity[turned]) / ARM
    neck = run.push[3]
    return {
        "probe": run.acceleration[0],
        "deflection": -1e3 * (run.position[1] - run.position[2]),
        "sternum": -run.acceleration[1],
        "upper": -run.acceleration[3],
        "lower": -run.acceleration[2],
        "head": -run.acceleration[head],
        "head_z": ARM * turning**2 + 0.6 * np.gradient(turning, times) * ARM,
        "turning": turning,
        "neck_force": -neck,
        "neck_moment": ARM * (run.push[4] + 0.2 * neck),
        "low_force": -neck - 1.6 * run.acceleration[3],
    }


def _neck_test(case: str, repeat: int, seed: int) -> Curves:
    variation = draw(seed, repeat)
    facing = neck_rig.FLEXION if case.endswith("flexion") else neck_rig.EXTENSION
    rig = neck_rig.rig_of(facing, variation)
    times = grid()
    motion = neck_rig.swing(rig, times, _SPEEDS[case] * variation.speed, tolerance=1e-6)
    rows = list(motion.rows())
    felt = np.array([neck_rig.felt(rig, state, touching=closed[0]) for state, closed in rows]).T
    lower = np.array([rig.moments(state)[0] for state, _ in rows])
    states = motion.states
    pendulum, rotation, shear, axial, moment = felt
    link = states[4] - states[3]
    return {
        "probe": pendulum,
        "rotation": rotation,
        "turning": states[5],
        "head": shear / rig.bodies.head_mass,
        "head_z": axial / rig.bodies.head_mass,
        "neck_force": shear,
        "axial": axial,
        "neck_moment": moment,
        "low_force": shear + 0.6 * rig.bodies.neck_mass * (pendulum + 0.06 * np.gradient(link, times)),
        "low_moment": facing * lower + 0.02 * shear,
    }


@dataclass(frozen=True, kw_only=True)
class Card:
    """Factors of one release on the stiffness and damping of its model."""

    stiff: float = 1.0
    damped: float = 1.0
    soft: float = 1.0


@lru_cache(maxsize=64)
def model_curves(case: str, card: Card) -> Curves:
    """Return the results of a run: name to samples from 0 to 150 ms every 0.1 ms, in mm, ms, kg, kN, rad."""
    curves = _thorax_model(case, card) if case.startswith("thorax") else _neck_model(case, card)
    times = model_times()
    curves["whole"] = np.hypot(curves["head"], curves["head_z"])
    curves["side"] = 0.03 * curves["head"] * np.sin(times / 9.0)
    curves["contact"] = -23.4 * curves["probe"]
    curves["speed"] = _SPEEDS[case] + np.cumsum(curves["probe"]) * 0.1
    carried = curves.get("lower", curves["probe"])
    decay = np.exp(-np.arange(400) * 0.1 / 12.0)
    curves["pelvis"] = 0.5 * np.convolve(carried, decay / decay.sum())[: times.size]
    return curves


def model_times() -> Array:
    """Return the output times of the model, ms."""
    return np.round(np.arange(0.0, END_MS + 1e-9, 0.1), 6)


def _thorax_model(case: str, card: Card) -> Curves:
    masses = np.array([23.4, 0.6, 24.5, 2.2, 4.4, 2.4])
    arm = 1e3 * ARM

    def forces(state: Array, *, closed: bool) -> tuple[float, float, float, float, float]:
        x, v = state[:6], state[6:]
        foam = (
            block_foam(
                float(x[0] - x[1]),
                modulus=5e-4 * card.soft,
                area=15_000.0,
                thickness=25.0,
                densification=0.5,
            )
            if closed
            else 0.0
        )
        ribs = hardening_rib(float(x[1] - x[2]), stiffness=0.040 * card.stiff, reference=75.0)
        ribs += 0.33 * card.damped * float(v[1] - v[2])
        spine = 1.2 * float(x[2] - x[3]) + 0.35 * float(v[2] - v[3])
        neck = 0.048 * card.stiff * float(x[3] - x[4]) + 0.19 * card.damped * float(v[3] - v[4])
        turn = 0.013 * card.soft * float(x[4] - x[5]) + 0.06 * card.damped * float(v[4] - v[5])
        return foam, ribs, spine, neck, turn

    def accelerations(state: Array, *, closed: bool) -> Array:
        foam, ribs, spine, neck, turn = forces(state, closed=closed)
        loads = np.array([-foam, foam - ribs, ribs - spine, spine - neck, neck - turn, turn])
        return np.asarray(loads / masses)

    def rates(state: Array, closed: bool, _time: float) -> list[float]:  # noqa: FBT001 - the solver's
        return [*state[6:].tolist(), *accelerations(state, closed=closed).tolist()]

    start = np.zeros(12)
    start[6] = _SPEEDS[case]
    times = model_times()
    states, flags = advance(rates, start, times, depth=lambda state, _: float(state[0] - state[1]))
    felt = np.array([accelerations(s, closed=f) for s, f in zip(states, flags, strict=True)]).T
    pushes = np.array([forces(s, closed=f) for s, f in zip(states, flags, strict=True)]).T
    turning = (states[:, 10] - states[:, 11]) / arm
    return {
        "probe": felt[0],
        "deflection": -(states[:, 1] - states[:, 2]),
        "sternum": -felt[1],
        "upper": -felt[3],
        "lower": -felt[2],
        "head": -felt[4],
        "head_z": arm * turning**2 + 0.6 * np.gradient(turning, times) * arm,
        "turning": turning,
        "neck_force": -pushes[3],
        "neck_moment": arm * (pushes[4] + 0.2 * pushes[3]),
        "low_force": -pushes[3] - 1.6 * felt[3],
    }


def _neck_model(case: str, card: Card) -> Curves:
    direction = neck_model.FLEXION if case.endswith("flexion") else neck_model.EXTENSION
    cards = dict.fromkeys(UNITS, 0.0)
    cards |= {"neck_rubber_modulus": 4.2e-3 * card.stiff, "neck_rubber_loss_factor": 0.35 * card.damped}
    materials = Materials(**cards)

    def rates(state: Array, _closed: bool, time: float) -> list[float]:  # noqa: FBT001 - the solver's
        values = state.tolist()
        return [*values[2:], *neck_model._move(values, time, direction, materials).accelerations]

    times = model_times()
    states, _ = advance(rates, np.zeros(4), times)
    moves = [
        neck_model._move(s.tolist(), t, direction, materials) for s, t in zip(states, times, strict=True)
    ]
    loads = np.array(
        [neck_model._load(s.tolist(), m, direction) for s, m in zip(states, moves, strict=True)]
    ).T
    stiffness = materials.neck_rubber_modulus * direction.lower
    lower = np.array(
        [hardening_joint(s, stiffness=stiffness, hardening=direction.hardening) for s in states[:, 0]]
    )
    lower += loss_damping(stiffness, materials.neck_rubber_loss_factor, 5e-3) * states[:, 2]
    base = np.array([move.base for move in moves])
    shear, axial, moment = -loads
    return {
        "probe": base,
        "rotation": states[:, 1],
        "turning": states[:, 3],
        "head": shear / 4.54,
        "head_z": axial / 4.54,
        "neck_force": shear,
        "axial": axial,
        "neck_moment": moment,
        "low_force": shear + 0.6 * 1.3 * (base + 60.0 * np.gradient(states[:, 2], times)),
        "low_moment": direction.facing * lower + 20.0 * shear,
    }


MODEL_UNITS: Final = {
    "acceleration": "mm/ms^2",
    "displacement": "mm",
    "velocity": "mm/ms",
    "angular velocity": "rad/ms",
    "rotation": "rad",
    "force": "kN",
    "moment": "kN*mm",
}
"""Unit of each kind in the results."""
