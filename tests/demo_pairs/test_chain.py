"""Rows of masses: momentum, energy, closed forms of free fall, half-sine and the single-degree spine."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from demo_pairs.laboratory.chain import GROUND, Branch, Chain, ChainMotion, Joint, Law
from demo_pairs.laboratory.rigs import knee, seat, thorax
from demo_pairs.laboratory.scatter import NOMINAL

GRAVITY = 9.80665


def spring(stiffness: float, damping: float = 0.0) -> Law:
    """Give a linear spring with a dashpot beside it."""
    return lambda deformation, rate: stiffness * deformation + damping * rate


def kinetic(chain: Chain, run: ChainMotion) -> NDArray[np.float64]:
    """Kinetic energy over time [J], shape (n,)."""
    masses = np.array(chain.masses)[:, None]
    return np.asarray(np.sum(0.5 * masses * run.velocity**2, axis=0), dtype=np.float64)


def work_on_joints(chain: Chain, run: ChainMotion) -> NDArray[np.float64]:
    """Energy put into the joints since the start [J], integrated from recorded forces and speeds."""
    total = np.zeros(run.time.size)
    for joint, push in zip(chain.joints, run.push, strict=True):
        far = 0.0 if joint.far == GROUND else run.velocity[joint.far]
        power = push * (run.velocity[joint.near] - far)
        total[1:] += np.cumsum(0.5 * (power[1:] + power[:-1]) * np.diff(run.time))
    return total


def test_free_fall() -> None:
    """Without joints a body falls by g t²/2 on top of its first speed."""
    chain = Chain(masses=(3.0,), joints=(), body_force=(3.0 * GRAVITY,))
    time = np.linspace(0.0, 0.3, 301)
    run = chain.run(chain.start((0.1,), (2.0,)), time)
    assert run.position[0] == pytest.approx(0.1 + 2.0 * time + 0.5 * GRAVITY * time**2, abs=1e-10)


def test_contact_gives_a_half_sine() -> None:
    """A mass on a linear contact spring: half-sine of peak v sqrt(k m), length pi sqrt(m/k); rebound."""
    mass, stiffness, speed = 4.5, 8e5, 2.7
    joint = Joint(near=0, far=GROUND, force=spring(stiffness), contact=True)
    chain = Chain(masses=(mass,), joints=(joint,), body_force=(0.0,))
    time = np.linspace(-0.002, 0.02, 2201)
    run = chain.run(chain.start((-0.002 * speed,), (speed,)), time)
    omega = math.sqrt(stiffness / mass)
    inside = (time >= 0.0) & (time <= math.pi / omega)
    closed_form = np.where(inside, speed * math.sqrt(stiffness * mass) * np.sin(omega * time), 0.0)
    assert run.push[0] == pytest.approx(closed_form, abs=1e-3)
    assert run.motion.contact_changes == pytest.approx((0.0, math.pi / omega), abs=1e-9)
    assert run.velocity[0, -1] == pytest.approx(-speed, rel=1e-6)


def test_maxwell_branch_relaxes_by_its_closed_form() -> None:
    """Pulled at constant speed by a huge mass, a branch follows k tau v (1 - exp(-t/tau))."""
    branch = Branch(stiffness=2e4, relaxation_time=0.01)
    joint = Joint(near=0, far=GROUND, force=spring(0.0), branches=(branch,))
    chain = Chain(masses=(1e9,), joints=(joint,), body_force=(0.0,))
    time = np.linspace(0.0, 0.06, 61)
    run = chain.run(chain.start((0.0,), (1.5,)), time)
    assert run.push[0] == pytest.approx(2e4 * 0.01 * 1.5 * (1.0 - np.exp(-time / 0.01)), rel=1e-5, abs=1e-6)


def frictionless_thorax() -> Chain:
    """Give the thorax with nothing in it that takes energy."""
    parts = replace(
        thorax.THORAX,
        jacket_damping=0.0,
        jacket_branches=(),
        rib_loading=0.0,
        rib_unloading=0.0,
        rib_friction=0.0,
        rib_branches=(),
        spine_damping=0.0,
    )
    return thorax.chain(parts, NOMINAL)


def stored(chain: Chain, run: ChainMotion) -> NDArray[np.float64]:
    """Potential energy of the springs over time [J]: quadrature of each law at rate zero, by deformation."""
    total = np.zeros(run.time.size)
    for joint in chain.joints:
        far = 0.0 if joint.far == GROUND else run.position[joint.far]
        deformation = run.position[joint.near] - far - joint.gap
        ends = min(0.0, deformation.min()), max(0.0, deformation.max())
        grid = np.linspace(*ends, 20_001)
        force = np.array([joint.push(x, 0.0, [], closed=not joint.contact or x > 0.0) for x in grid.tolist()])
        energy = np.concatenate([[0.0], np.cumsum(0.5 * (force[1:] + force[:-1]) * np.diff(grid))])
        total += np.interp(deformation, grid, energy) - np.interp(0.0, grid, energy)
    return total


def test_energy_is_kept_without_dissipation() -> None:
    """Kinetic and potential energy of probe, jacket, ribs and spine add up within 1 % at all times."""
    chain = frictionless_thorax()
    run = chain.run(chain.start((0.0,) * 4, (6.71, 0.0, 0.0, 0.0)), np.linspace(0.0, 0.06, 1201))
    first = 0.5 * 23.4 * 6.71**2
    potential = stored(chain, run)
    assert kinetic(chain, run) + potential == pytest.approx(first, rel=0.01)
    assert potential.max() > 0.3 * first


def test_energy_is_only_lost_with_dissipation() -> None:
    """The thorax as built loses what its joints absorb, and they never give more than they got."""
    chain = thorax.chain(thorax.THORAX, NOMINAL)
    time = np.linspace(0.0, 0.12, 12001)
    run = chain.run(chain.start((0.0,) * 4, (6.71, 0.0, 0.0, 0.0)), time)
    energy = kinetic(chain, run)
    absorbed = work_on_joints(chain, run)
    assert energy + absorbed == pytest.approx(energy[0], rel=0.01)
    assert absorbed.min() > -1e-6 * energy[0]
    assert absorbed[-1] > 0.3 * energy[0]


def test_momentum_is_kept_by_free_bodies() -> None:
    """Probe and thorax keep their common momentum through contact, damping, friction and separation."""
    chain = thorax.chain(thorax.THORAX, NOMINAL)
    run = chain.run(chain.start((0.0,) * 4, (6.71, 0.0, 0.0, 0.0)), np.linspace(0.0, 0.15, 301))
    momentum = np.array(chain.masses) @ run.velocity
    assert momentum == pytest.approx(23.4 * 6.71, rel=1e-6)


def test_probe_lets_go_once_and_is_slower_than_before() -> None:
    """The contact between probe and chest ends and does not pull the probe back."""
    chain = thorax.chain(thorax.THORAX, NOMINAL)
    run = chain.run(chain.start((0.0,) * 4, (6.71, 0.0, 0.0, 0.0)), np.linspace(0.0, 0.15, 1501))
    assert run.motion.contact_changes
    assert run.push[0].min() == 0.0
    assert run.push[0, -1] == 0.0
    assert 0.0 < run.velocity[0, -1] < 6.71


@pytest.mark.parametrize("load_case", ["thorax", "knee", "seat"])
def test_tighter_tolerance_converges(load_case: str) -> None:
    """A hundred times tighter tolerance changes no force by more than a millionth of its peak."""
    chain, start = {
        "thorax": (thorax.chain(thorax.THORAX, NOMINAL), ((0.0,) * 4, (6.71, 0.0, 0.0, 0.0))),
        "knee": (knee.chain(knee.KNEE_PARTS, NOMINAL), ((0.0,) * 3, (2.1, 0.0, 0.0))),
        "seat": (seat.chain(seat.SEAT, NOMINAL), ((0.0,) * 5, (3.6,) * 5)),
    }[load_case]
    time = np.linspace(0.0, 0.1, 1001)
    usual, tight = (
        chain.run(chain.start(*start), time, tolerance=tolerance).push for tolerance in (1e-8, 1e-10)
    )
    peak = np.abs(tight).max(axis=1, keepdims=True)
    assert np.abs((usual - tight) / peak).max() < 1e-6


def test_spine_of_the_seat_is_the_published_one() -> None:
    """Before it stiffens, the lumbar spine carries chest and head at 8.42 Hz with a damping ratio of 0.224.

    Stech and Payne (1969), from memory: on a base that moves as half a sine of 100 ms, the deflection
    follows the closed form of the damped oscillator.
    """
    parts = replace(seat.SEAT, lumbar_extra=0.0, lumbar_branches=())
    lumbar = seat.chain(parts, NOMINAL).joints[seat.LUMBAR].force
    mass, base_mass, pulse = parts.chest_mass + parts.head_mass, 1e9, math.pi / 0.1
    chain = Chain(
        masses=(base_mass, mass),
        joints=(
            Joint(near=0, far=GROUND, force=spring(base_mass * pulse**2)),
            Joint(near=1, far=0, force=lumbar),
        ),
        body_force=(0.0, 0.0),
    )
    time = np.linspace(0.0, 0.1, 201)
    run = chain.run(chain.start((0.0, 0.0), (3.7, 3.7)), time, tolerance=1e-9)
    deflection = run.position[1] - run.position[0]
    expected = half_sine_response(time, 3.7 * pulse, pulse, 2.0 * math.pi * 8.42, 0.224)
    assert deflection == pytest.approx(expected, abs=2e-4 * np.abs(expected).max())


def half_sine_response(
    time: NDArray[np.float64], peak: float, pulse: float, natural: float, damping: float
) -> NDArray[np.float64]:
    """Evaluate the closed form of ``x'' + 2 z w x' + w² x = peak sin(pulse t)`` from rest (textbook)."""
    stiff, loss = natural**2 - pulse**2, 2.0 * damping * natural * pulse
    scale = peak / (stiff**2 + loss**2)
    ringing = natural * math.sqrt(1.0 - damping**2)
    decay = np.exp(-damping * natural * time)
    steady = scale * (stiff * np.sin(pulse * time) - loss * np.cos(pulse * time))
    cosine = scale * loss
    sine = (damping * natural * cosine - scale * stiff * pulse) / ringing
    free = decay * (cosine * np.cos(ringing * time) + sine * np.sin(ringing * time))
    return np.asarray(steady + free, dtype=np.float64)
