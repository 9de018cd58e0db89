"""Probe against the knee: flesh pad that densifies, femur load cell, thigh held by a fixture."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.chain import GROUND, Branch, Chain, Joint
from demo_pairs.laboratory.force_laws import densifying_foam, regularised_friction
from demo_pairs.laboratory.rigs.physical import Physical
from demo_pairs.laboratory.scatter import Variation

PROBE, KNEE, THIGH = 0, 1, 2
PAD, CELL, FIXTURE, SLIDE = 0, 1, 2, 3


@dataclass(frozen=True, kw_only=True)
class Knee:
    """Hardware constants, SI units.

    Probe mass after 49 CFR 572.35; the pad is fitted so that every repeat meets its window (from
    memory); the rest is invented.
    """

    probe_mass: float = 5.0
    knee_mass: float = 0.9
    thigh_mass: float = 12.0
    pad_stiffness: float = 1.45e6
    pad_thickness: float = 0.012
    pad_densification: float = 0.38
    pad_power: float = 5.0
    pad_damping: float = 0.10
    pad_branches: tuple[Branch, ...] = (
        Branch(stiffness=0.65e6, relaxation_time=0.0012),
        Branch(stiffness=0.28e6, relaxation_time=0.010),
    )
    cell_stiffness: float = 1.6e7
    cell_damping: float = 700.0
    fixture_stiffness: float = 6.0e6
    fixture_damping: float = 2500.0
    slide_friction: float = 25.0
    slide_transition: float = 0.05


KNEE_PARTS = Knee()


def chain(knee: Knee, variation: Variation) -> Chain:
    """Put probe, knee and thigh in a row against the fixture."""

    def pad(depth: float, rate: float) -> float:
        elastic = densifying_foam(
            depth,
            stiffness=knee.pad_stiffness * variation.vinyl,
            thickness=knee.pad_thickness,
            densification=knee.pad_densification,
            power=knee.pad_power,
        )
        return elastic * (1.0 + knee.pad_damping * rate)

    def cell(squeeze: float, rate: float) -> float:
        return knee.cell_stiffness * variation.metal * squeeze + knee.cell_damping * rate

    def fixture(squeeze: float, rate: float) -> float:
        return knee.fixture_stiffness * variation.metal * squeeze + knee.fixture_damping * rate

    def slide(_travel: float, rate: float) -> float:
        return regularised_friction(rate, limit=knee.slide_friction, transition=knee.slide_transition)

    branches = tuple(
        Branch(stiffness=branch.stiffness * variation.vinyl, relaxation_time=branch.relaxation_time)
        for branch in knee.pad_branches
    )
    return Chain(
        masses=(knee.probe_mass, knee.knee_mass, knee.thigh_mass),
        joints=(
            Joint(near=PROBE, far=KNEE, force=pad, branches=branches, contact=True),
            Joint(near=KNEE, far=THIGH, force=cell),
            Joint(near=THIGH, far=GROUND, force=fixture),
            Joint(near=KNEE, far=GROUND, force=slide),
        ),
        body_force=(0.0, 0.0, 0.0),
    )


def simulate(times: NDArray[np.float64], variation: Variation, *, speed: float) -> Physical:
    """Run one impact."""
    impact = speed * variation.speed
    bodies = chain(KNEE_PARTS, variation)
    start = bodies.start((impact * float(times[0]), 0.0, 0.0), (impact, 0.0, 0.0))
    run = bodies.run(start, times)
    return Physical(
        histories={"probe": run.acceleration[PROBE], "femur": -run.push[CELL]},
        impact_speed=impact,
        moving_mass=KNEE_PARTS.probe_mass,
    )
