"""Whole dummy on a cushioned seat that is dropped on a pulse shaper: five bodies along the vertical.

Positive is down, as +z of the dummy.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.chain import GROUND, Branch, Chain, Joint, Law
from demo_pairs.laboratory.force_laws import (
    densifying_foam,
    rate_dependent_contact,
    regularised_friction,
    stiffening_spring,
)
from demo_pairs.laboratory.rigs.physical import Physical
from demo_pairs.laboratory.scatter import Variation

GRAVITY = 9.80665
CARRIAGE, PAN, PELVIS, CHEST, HEAD = 0, 1, 2, 3, 4
SHAPER, FRAME, CUSHION, LUMBAR, NECK, BACKREST = 0, 1, 2, 3, 4, 5
SPINE_FREQUENCY, SPINE_DAMPING_RATIO = 8.42, 0.224
"""Single-degree spine of Stech and Payne (1969) [Hz], [-]; from memory."""


@dataclass(frozen=True, kw_only=True)
class Seat:
    """Hardware constants, SI units; invented, but for the spine, which follows Stech and Payne (1969).

    The lumbar spring carries chest and head at 8.42 Hz and a damping ratio of 0.224, before it
    stiffens and before its Maxwell branches.
    """

    carriage_mass: float = 330.0
    pan_mass: float = 18.0
    pelvis_mass: float = 26.0
    chest_mass: float = 22.0
    head_mass: float = 5.6
    shaper_stiffness: float = 4.55e5
    shaper_exponent: float = 1.05
    shaper_damping: float = 0.035
    frame_stiffness: float = 3.2e6
    frame_damping: float = 1800.0
    cushion_stiffness: float = 95e3
    cushion_thickness: float = 0.075
    cushion_densification: float = 0.60
    cushion_power: float = 5.0
    cushion_damping: float = 0.55
    cushion_branches: tuple[Branch, ...] = (
        Branch(stiffness=28e3, relaxation_time=0.008),
        Branch(stiffness=12e3, relaxation_time=0.060),
    )
    lumbar_extra: float = 60e3
    lumbar_knee: float = 0.030
    lumbar_corner: float = 0.004
    lumbar_branches: tuple[Branch, ...] = (
        Branch(stiffness=22e3, relaxation_time=0.012),
        Branch(stiffness=10e3, relaxation_time=0.080),
    )
    neck_stiffness: float = 210e3
    neck_extra: float = 150e3
    neck_knee: float = 0.004
    neck_damping: float = 330.0
    backrest_friction: float = 120.0
    backrest_transition: float = 0.10

    @property
    def lumbar_stiffness(self) -> float:
        """Stiffness [N/m] that gives the spine its frequency."""
        return (self.chest_mass + self.head_mass) * (2.0 * math.pi * SPINE_FREQUENCY) ** 2

    @property
    def lumbar_damping(self) -> float:
        """Damping [N s/m] that gives the spine its damping ratio."""
        mass = self.chest_mass + self.head_mass
        return 2.0 * SPINE_DAMPING_RATIO * math.sqrt(self.lumbar_stiffness * mass)


SEAT = Seat()


def chain(seat: Seat, variation: Variation) -> Chain:
    """Stack carriage, seat pan, pelvis, chest and head."""
    foam, rubber, metal = variation.foam, variation.rubber, variation.metal
    masses = (seat.carriage_mass, seat.pan_mass, seat.pelvis_mass, seat.chest_mass, seat.head_mass)
    return Chain(
        masses=masses,
        joints=(
            Joint(near=CARRIAGE, far=GROUND, force=_shaper(seat, metal), contact=True),
            Joint(near=PAN, far=CARRIAGE, force=_linear(seat.frame_stiffness * metal, seat.frame_damping)),
            Joint(
                near=PELVIS, far=PAN, force=_cushion(seat, foam), contact=True,
                branches=_scaled(seat.cushion_branches, foam),
            ),
            Joint(
                near=CHEST, far=PELVIS, force=_lumbar(seat, rubber),
                branches=_scaled(seat.lumbar_branches, rubber),
            ),
            Joint(near=HEAD, far=CHEST, force=_neck(seat, rubber)),
            Joint(near=CHEST, far=PAN, force=_backrest(seat)),
        ),
        body_force=tuple(GRAVITY * mass for mass in masses),
    )  # fmt: skip


def _scaled(branches: tuple[Branch, ...], factor: float) -> tuple[Branch, ...]:
    return tuple(
        Branch(stiffness=branch.stiffness * factor, relaxation_time=branch.relaxation_time)
        for branch in branches
    )


def _linear(stiffness: float, damping: float) -> Law:
    def force(deformation: float, rate: float) -> float:
        return stiffness * deformation + damping * rate

    return force


def _shaper(seat: Seat, factor: float) -> Law:
    def force(depth: float, rate: float) -> float:
        return rate_dependent_contact(
            depth,
            rate,
            stiffness=seat.shaper_stiffness * factor,
            exponent=seat.shaper_exponent,
            damping=seat.shaper_damping,
        )

    return force


def _cushion(seat: Seat, factor: float) -> Law:
    def force(depth: float, rate: float) -> float:
        elastic = densifying_foam(
            depth,
            stiffness=seat.cushion_stiffness * factor,
            thickness=seat.cushion_thickness,
            densification=seat.cushion_densification,
            power=seat.cushion_power,
        )
        return elastic * (1.0 + seat.cushion_damping * rate)

    return force


def _lumbar(seat: Seat, factor: float) -> Law:
    stiffness, damping = seat.lumbar_stiffness * factor, seat.lumbar_damping * factor

    def force(compression: float, rate: float) -> float:
        spring = stiffening_spring(
            compression,
            first=stiffness,
            extra=seat.lumbar_extra * factor,
            knee=seat.lumbar_knee,
            smoothing=seat.lumbar_corner,
        )
        return spring + damping * rate

    return force


def _neck(seat: Seat, factor: float) -> Law:
    def force(compression: float, rate: float) -> float:
        spring = stiffening_spring(
            compression,
            first=seat.neck_stiffness * factor,
            extra=seat.neck_extra * factor,
            knee=seat.neck_knee,
            smoothing=0.2 * seat.neck_knee,
        )
        return spring + seat.neck_damping * rate

    return force


def _backrest(seat: Seat) -> Law:
    def force(_travel: float, rate: float) -> float:
        return regularised_friction(rate, limit=seat.backrest_friction, transition=seat.backrest_transition)

    return force


def simulate(times: NDArray[np.float64], variation: Variation, *, speed: float) -> Physical:
    """Run one drop.

    Before contact everything falls freely, so cushion and spine are unloaded at the start.
    """
    impact = speed * variation.speed
    bodies = chain(SEAT, variation)
    before = float(times[0])
    velocity = impact + GRAVITY * before
    height = impact * before + 0.5 * GRAVITY * before**2
    run = bodies.run(bodies.start((height,) * 5, (velocity,) * 5), times)
    felt = run.acceleration - GRAVITY
    return Physical(
        histories={
            "seat": felt[PAN],
            "pelvis": felt[PELVIS],
            "lumbar": -run.push[LUMBAR],
            "chest": felt[CHEST],
            "head": felt[HEAD],
            "neck": -run.push[NECK],
        },
        impact_speed=impact,
        moving_mass=SEAT.carriage_mass,
    )
