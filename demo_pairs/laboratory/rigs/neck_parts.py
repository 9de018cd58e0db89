"""Parts of the neck rig: rubber joints, honeycomb, masses, with the constants of both directions."""

from dataclasses import dataclass

from demo_pairs.laboratory.chain import Branch

GRAVITY = 9.80665


@dataclass(frozen=True, kw_only=True)
class Rubber:
    """One rubber joint in one bending direction; moments [N m] of angles [rad].

    ``branches`` hold stiffness [N m/rad] and relaxation time [s].
    """

    linear: float
    cubic: float
    damping: float
    friction: float
    branches: tuple[Branch, Branch]

    def scaled(self, factor: float) -> "Rubber":
        """Give the joint with every stiffness and damping multiplied; relaxation times stay."""
        return Rubber(
            linear=self.linear * factor,
            cubic=self.cubic * factor,
            damping=self.damping * factor,
            friction=self.friction,
            branches=(self._branch(0, factor), self._branch(1, factor)),
        )

    def _branch(self, index: int, factor: float) -> Branch:
        branch = self.branches[index]
        return Branch(stiffness=branch.stiffness * factor, relaxation_time=branch.relaxation_time)


@dataclass(frozen=True, kw_only=True)
class Neck:
    """Lower and upper joint of the neck in one direction."""

    lower: Rubber
    upper: Rubber


@dataclass(frozen=True, kw_only=True)
class Honeycomb:
    """What stops the pendulum: yield force along the crush, elastic stiffness, flow time of the yielding."""

    plateau: float
    decline: float
    ramp: float
    stiffness: float
    flow_time: float
    damping: float


@dataclass(frozen=True, kw_only=True)
class Bodies:
    """Masses [kg], lengths [m] and inertias [kg m^2].

    Pendulum after the drawing in 49 CFR 572.33 and a mid-size adult head and neck, in round figures
    from memory.
    """

    arm_inertia: float = 33.2
    arm_mass: float = 29.57
    arm_centre: float = 0.957
    arm_sensor: float = 1.657
    arm_length: float = 1.83
    neck_mass: float = 1.2
    neck_length: float = 0.125
    neck_inertia: float = 0.0021
    head_mass: float = 4.54
    head_inertia: float = 0.024
    head_up: float = 0.051
    head_forward: float = 0.018
    cell_above_joint: float = 0.01778
    gravity: float = GRAVITY


FLEXION_NECK = Neck(
    lower=Rubber(
        linear=73.5, cubic=74.2, damping=0.829, friction=2.0,
        branches=(
            Branch(stiffness=67.6, relaxation_time=0.0122), Branch(stiffness=18.4, relaxation_time=0.05)
        ),
    ),
    upper=Rubber(
        linear=464.0, cubic=123.8, damping=0.230, friction=1.0,
        branches=(
            Branch(stiffness=76.9, relaxation_time=0.0122), Branch(stiffness=116.0, relaxation_time=0.05)
        ),
    ),
)  # fmt: skip
"""Fitted by least squares to meet the flexion windows of 49 CFR 572.33."""

FLEXION_STOP = Honeycomb(
    plateau=3454.0, decline=1.18, ramp=0.0299, stiffness=1.5e6, flow_time=1.5e-4, damping=600.0
)
"""Fitted with it to a pulse of about 25, 20 and 15 g at 10, 20 and 30 ms (from memory of the regulation)."""

EXTENSION_NECK = Neck(
    lower=Rubber(
        linear=33.6, cubic=64.2, damping=1.003, friction=2.0,
        branches=(
            Branch(stiffness=6.03, relaxation_time=0.006), Branch(stiffness=8.4, relaxation_time=0.05)
        ),
    ),
    upper=Rubber(
        linear=22.83, cubic=441.1, damping=1.755, friction=1.0,
        branches=(
            Branch(stiffness=9.76, relaxation_time=0.006), Branch(stiffness=5.7, relaxation_time=0.05)
        ),
    ),
)  # fmt: skip
"""Fitted by least squares to meet the extension windows of 49 CFR 572.33; the slit front is softer."""

EXTENSION_STOP = Honeycomb(
    plateau=2681.7, decline=0.364, ramp=0.0493, stiffness=1.5e6, flow_time=1.5e-4, damping=600.0
)
"""Fitted with it to a pulse of about 19, 17 and 13 g at 10, 20 and 30 ms (from memory of the regulation)."""
