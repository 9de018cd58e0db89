"""The five families: ranges of their parameters, channels, and which parameter carries which behaviour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from tests.diagnosis.worlds import mechanics

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Quantity = Literal["acceleration", "force", "moment", "displacement", "angle"]
CFC: Final[dict[Quantity, int]] = {
    "acceleration": 180, "force": 600, "moment": 600, "displacement": 180, "angle": 180,
}  # fmt: skip
LEAD_S: Final = 0.010
"""Recorded before time zero."""
LATEST_S: Final = 0.030
"""Simulated beyond the end of the record, so that a model may be early."""
SUBSTEPS: Final = 10
COMMON: Final = {"smoothing": (1e-4, 1e-4), "fade": (0.10, 0.10), "creep": (0.05, 0.05)}
"""Form of contacts (m), of unloading (share of the largest compression) and of friction (m/s)."""


@dataclass(frozen=True, kw_only=True)
class Family:
    """One kind of test.

    Attributes
    ----------
    kernel
        Integrates one system.
    masses
        Number of positions that the kernel reports after the channels.
    end_s
        End of the record.
    channels
        Name, quantity and unit.
    ranges
        Parameter to its lowest and highest value, uniform in the logarithm; ``speed`` is the lower one.
    parts
        Behaviour to the parts that carry it; a part is one parameter, or several joined by ``+``.
    gap_change
        Least and largest change of a gap, in the unit of the gap.
    """

    kernel: Callable[[Any, int, Floats], None]
    masses: int
    end_s: float
    channels: tuple[tuple[str, Quantity, str], ...]
    ranges: Mapping[str, tuple[float, float]]
    parts: Mapping[str, tuple[str, ...]]
    gap_change: tuple[float, float]

    @property
    def dtype(self) -> np.dtype[np.void]:
        """Record of the parameters."""
        return np.dtype([(name, np.float64) for name in self.ranges])


CHEST: Final = Family(
    kernel=mechanics.chest,
    masses=3,
    end_s=0.080,
    channels=(
        ("impactor_acceleration", "acceleration", "m/s2"),
        ("sternum_deflection", "displacement", "m"),
        ("spine_acceleration", "acceleration", "m/s2"),
    ),
    ranges={
        "speed": (3.8, 5.2), "impactor_mass": (14.0, 26.0), "sternum_mass": (1.0, 2.2),
        "spine_mass": (18.0, 36.0), "rib_stiffness": (45e3, 110e3), "rib_exponent": (1.0, 1.5),
        "rib_damping": (120.0, 450.0), "rib_hysteresis": (0.2, 0.65), "foam_stiffness": (70e3, 200e3),
        "foam_exponent": (1.0, 1.3), "foam_thickness": (0.024, 0.045), "foam_onset": (0.35, 0.6),
        "foam_steepness": (4.0, 8.0), "foam_rate": (0.03, 0.15), "foam_hysteresis": (0.1, 0.5),
        "foam_gap": (0.004, 0.014), "jacket_stiffness": (6e3, 20e3), "seat_friction": (80.0, 450.0),
        **COMMON,
    },
    parts={
        "stiffness": ("rib_stiffness", "foam_stiffness"),
        "damping": ("rib_damping", "foam_rate"),
        "mass": ("spine_mass", "sternum_mass+spine_mass"),
        "hysteresis": ("rib_hysteresis", "foam_hysteresis"),
        "densification": ("foam_onset",),
        "gap": ("foam_gap",),
        "friction": ("seat_friction",),
    },
    gap_change=(0.002, 0.015),
)  # fmt: skip
NECK: Final = Family(
    kernel=mechanics.neck,
    masses=2,
    end_s=0.180,
    channels=(
        ("pendulum_acceleration", "acceleration", "m/s2"),
        ("head_rotation", "angle", "rad"),
        ("neck_moment", "moment", "N m"),
        ("neck_shear", "force", "N"),
    ),
    ranges={
        "speed": (3.1, 4.4), "pendulum_mass": (22.0, 40.0), "stop_stiffness": (80e3, 180e3),
        "stop_exponent": (0.5, 0.9), "head_mass": (3.4, 5.6), "head_inertia": (0.018, 0.035),
        "neck_length": (0.12, 0.18), "neck_stiffness": (22.0, 60.0), "neck_exponent": (1.0, 1.3),
        "neck_onset": (0.5, 1.0), "neck_steepness": (3.0, 6.0), "neck_damping": (0.2, 0.9),
        "neck_hysteresis": (0.2, 0.65), "neck_play": (0.06, 0.2), "joint_stiffness": (3.0, 9.0),
        "joint_friction": (1.5, 7.0), "limit_angle": (0.9, 1.3), "limit_stiffness": (80.0, 250.0),
        **COMMON,
    },
    parts={
        "stiffness": ("neck_stiffness", "stop_stiffness"),
        "damping": ("neck_damping",),
        "mass": ("head_mass", "head_mass+head_inertia"),
        "hysteresis": ("neck_hysteresis",),
        "densification": ("neck_onset",),
        "gap": ("neck_play", "limit_angle"),
        "friction": ("joint_friction",),
    },
    gap_change=(0.05, 0.3),
)  # fmt: skip
SLED: Final = Family(
    kernel=mechanics.sled,
    masses=3,
    end_s=0.140,
    channels=(
        ("sled_acceleration", "acceleration", "m/s2"),
        ("pelvis_acceleration", "acceleration", "m/s2"),
        ("chest_acceleration", "acceleration", "m/s2"),
        ("belt_force", "force", "N"),
        ("pelvis_displacement", "displacement", "m"),
    ),
    ranges={
        "speed": (6.5, 10.0), "pulse_duration": (0.075, 0.115), "pelvis_mass": (20.0, 38.0),
        "thorax_mass": (16.0, 32.0), "belt_mass": (0.7, 1.3), "lap_stiffness": (60e3, 160e3),
        "shoulder_stiffness": (80e3, 200e3), "belt_exponent": (1.0, 1.3), "webbing_rate": (0.08, 0.35),
        "lap_hysteresis": (0.2, 0.6), "shoulder_hysteresis": (0.2, 0.6), "lap_slack": (0.006, 0.025),
        "shoulder_slack": (0.006, 0.03), "foam_stiffness": (14e3, 42e3), "foam_exponent": (1.0, 1.3),
        "foam_thickness": (0.06, 0.11), "foam_onset": (0.28, 0.5), "foam_steepness": (4.0, 8.0),
        "foam_rate": (0.2, 0.7), "foam_hysteresis": (0.1, 0.5), "lumbar_stiffness": (5e3, 15e3),
        "lumbar_damping": (500.0, 1500.0), "seat_friction": (150.0, 800.0),
        "back_stiffness": (20e3, 60e3), "back_rate": (0.5, 1.2), **COMMON,
    },
    parts={
        "stiffness": ("lap_stiffness", "shoulder_stiffness", "lap_stiffness+shoulder_stiffness"),
        "damping": ("lumbar_damping", "webbing_rate", "foam_rate"),
        "mass": ("pelvis_mass", "thorax_mass", "pelvis_mass+thorax_mass"),
        "hysteresis": ("lap_hysteresis", "lap_hysteresis+shoulder_hysteresis"),
        "densification": ("foam_onset",),
        "gap": ("lap_slack", "shoulder_slack", "lap_slack+shoulder_slack"),
        "friction": ("seat_friction",),
    },
    gap_change=(0.004, 0.02),
)  # fmt: skip
KNEE: Final = Family(
    kernel=mechanics.knee,
    masses=3,
    end_s=0.060,
    channels=(
        ("impactor_acceleration", "acceleration", "m/s2"),
        ("femur_force", "force", "N"),
        ("knee_displacement", "displacement", "m"),
    ),
    ranges={
        "speed": (2.0, 2.9), "impactor_mass": (4.5, 9.0), "knee_mass": (0.8, 1.6), "thigh_mass": (6.0, 12.0),
        "pad_stiffness": (120e3, 330e3), "pad_exponent": (1.0, 1.3), "pad_thickness": (0.014, 0.026),
        "pad_onset": (0.35, 0.6), "pad_steepness": (4.0, 8.0), "pad_rate": (0.08, 0.35),
        "pad_hysteresis": (0.2, 0.6), "pad_gap": (0.002, 0.006), "cover_stiffness": (15e3, 40e3),
        "femur_stiffness": (2.0e6, 5.0e6), "femur_damping": (350.0, 900.0), "hip_stiffness": (30e3, 90e3),
        "hip_exponent": (1.0, 1.5), "hip_damping": (150.0, 500.0), "hip_hysteresis": (0.2, 0.6),
        "hip_play": (0.008, 0.02), "bottom_stiffness": (150e3, 400e3), "thigh_friction": (60.0, 300.0),
        **COMMON,
    },
    parts={
        "stiffness": ("pad_stiffness", "hip_stiffness"),
        "damping": ("pad_rate", "hip_damping"),
        "mass": ("thigh_mass", "knee_mass+thigh_mass"),
        "hysteresis": ("pad_hysteresis", "hip_hysteresis"),
        "densification": ("pad_onset",),
        "gap": ("pad_gap", "hip_play"),
        "friction": ("thigh_friction",),
    },
    gap_change=(0.002, 0.008),
)  # fmt: skip
DROP: Final = Family(
    kernel=mechanics.drop,
    masses=2,
    end_s=0.070,
    channels=(
        ("body_acceleration", "acceleration", "m/s2"),
        ("plate_force", "force", "N"),
        ("skin_compression", "displacement", "m"),
    ),
    ranges={
        "speed": (2.0, 3.2), "body_mass": (3.0, 7.0), "organ_mass": (0.8, 2.2),
        "skin_stiffness": (35e3, 110e3), "skin_exponent": (1.0, 1.7), "skin_thickness": (0.026, 0.048),
        "skin_onset": (0.35, 0.65), "skin_steepness": (4.0, 8.0), "skin_rate": (0.1, 0.35),
        "skin_hysteresis": (0.15, 0.6), "cover_gap": (0.002, 0.006), "cover_stiffness": (3e3, 10e3),
        "organ_stiffness": (15e3, 60e3), "organ_damping": (40.0, 150.0), "organ_gap": (0.003, 0.009),
        "wall_stiffness": (100e3, 300e3), "guide_friction": (30.0, 200.0), **COMMON,
    },
    parts={
        "stiffness": ("skin_stiffness",),
        "damping": ("skin_rate", "organ_damping"),
        "mass": ("body_mass", "body_mass+organ_mass"),
        "hysteresis": ("skin_hysteresis",),
        "densification": ("skin_onset",),
        "gap": ("cover_gap", "organ_gap"),
        "friction": ("guide_friction",),
    },
    gap_change=(0.002, 0.008),
)  # fmt: skip
FAMILIES: Final[dict[str, Family]] = {
    "chest": CHEST, "neck": NECK, "sled": SLED, "knee": KNEE, "drop": DROP,
}  # fmt: skip
JUDGING_ONLY: Final = "knee"
"""No constant may be chosen on this family."""


def simulate(family: Family, parameters: NDArray[np.void], substeps: int = SUBSTEPS) -> Floats:
    """Return channels, positions and velocities, ``(m, channels + 2 · masses, n)``, from time zero on."""
    samples = round((family.end_s + LATEST_S) / mechanics.SAMPLE_S) + 1
    curves = np.zeros((parameters.size, len(family.channels) + 2 * family.masses, samples))
    for row, record in enumerate(parameters):
        family.kernel(record, substeps, curves[row])
    return curves
