"""Probe against the thorax: flesh, ribs that stiffen, two Maxwell branches, friction, free spine."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.chain import Branch, Chain, Joint, Law
from demo_pairs.laboratory.force_laws import (
    densifying_foam,
    regularised_friction,
    stiffening_spring,
    two_way_damping,
)
from demo_pairs.laboratory.rigs.physical import Physical
from demo_pairs.laboratory.scatter import Variation

PROBE, STERNUM, SPINE, UPPER = 0, 1, 2, 3


@dataclass(frozen=True, kw_only=True)
class Thorax:
    """Hardware constants, SI units.

    The structure follows Lobdell et al. (1973), from memory; the values are fitted so that every
    repeat meets the windows of 49 CFR 572.34, the jacket foam and the friction are invented.
    """

    probe_mass: float = 23.4
    sternum_mass: float = 0.45
    spine_mass: float = 25.2
    upper_spine_mass: float = 2.0
    jacket_stiffness: float = 250e3
    jacket_thickness: float = 0.025
    jacket_densification: float = 0.55
    jacket_power: float = 4.0
    jacket_damping: float = 0.06
    jacket_branches: tuple[Branch, ...] = (Branch(stiffness=120e3, relaxation_time=0.0015),)
    rib_stiffness: float = 44e3
    rib_extra: float = 75e3
    rib_knee: float = 0.038
    rib_corner: float = 0.003
    rib_loading: float = 300.0
    rib_unloading: float = 760.0
    rib_transition: float = 0.3
    rib_friction: float = 90.0
    friction_transition: float = 0.08
    rib_branches: tuple[Branch, ...] = (
        Branch(stiffness=12.8e3, relaxation_time=0.0112),
        Branch(stiffness=9e3, relaxation_time=0.0025),
    )
    spine_stiffness: float = 1.6e6
    spine_damping: float = 300.0


THORAX = Thorax()


def chain(thorax: Thorax, variation: Variation) -> Chain:
    """Put probe, sternum, spine and upper spine in a row."""
    rib_branches = tuple(
        Branch(stiffness=branch.stiffness * variation.rubber, relaxation_time=branch.relaxation_time)
        for branch in thorax.rib_branches
    )
    return Chain(
        masses=(thorax.probe_mass, thorax.sternum_mass, thorax.spine_mass, thorax.upper_spine_mass),
        joints=(
            Joint(
                near=PROBE,
                far=STERNUM,
                force=_jacket(thorax, variation.foam),
                branches=thorax.jacket_branches,
                contact=True,
            ),
            Joint(
                near=STERNUM,
                far=SPINE,
                force=_ribs(thorax, variation.metal, variation.rubber),
                branches=rib_branches,
            ),
            Joint(near=SPINE, far=UPPER, force=_spine(thorax)),
        ),
        body_force=(0.0, 0.0, 0.0, 0.0),
    )


def _jacket(thorax: Thorax, factor: float) -> Law:
    def force(depth: float, rate: float) -> float:
        elastic = densifying_foam(
            depth,
            stiffness=thorax.jacket_stiffness * factor,
            thickness=thorax.jacket_thickness,
            densification=thorax.jacket_densification,
            power=thorax.jacket_power,
        )
        return elastic * (1.0 + thorax.jacket_damping * rate)

    return force


def _ribs(thorax: Thorax, stiffer: float, damper: float) -> Law:
    def force(compression: float, rate: float) -> float:
        spring = stiffening_spring(
            compression,
            first=thorax.rib_stiffness * stiffer,
            extra=thorax.rib_extra * stiffer,
            knee=thorax.rib_knee,
            smoothing=thorax.rib_corner,
        )
        dashpot = two_way_damping(
            rate,
            loading=thorax.rib_loading * damper,
            unloading=thorax.rib_unloading * damper,
            transition=thorax.rib_transition,
        )
        friction = regularised_friction(
            rate, limit=thorax.rib_friction, transition=thorax.friction_transition
        )
        return spring + dashpot + friction

    return force


def _spine(thorax: Thorax) -> Law:
    def force(bending: float, rate: float) -> float:
        return thorax.spine_stiffness * bending + thorax.spine_damping * rate

    return force


def simulate(times: NDArray[np.float64], variation: Variation, *, speed: float) -> Physical:
    """Run one impact."""
    impact = speed * variation.speed
    bodies = chain(THORAX, variation)
    start = bodies.start((impact * float(times[0]), 0.0, 0.0, 0.0), (impact, 0.0, 0.0, 0.0))
    run = bodies.run(start, times)
    return Physical(
        histories={
            "probe": run.acceleration[PROBE],
            "deflection": -1e3 * (run.position[STERNUM] - run.position[SPINE]),
            "spine": -run.acceleration[UPPER],
        },
        impact_speed=impact,
        moving_mass=THORAX.probe_mass,
    )
