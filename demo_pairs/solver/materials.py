"""The material cards: twelve parameters, one unit each."""

from dataclasses import dataclass

MODULUS = ("MPa", 1e-3)
STIFFNESS = ("N/mm", 1e-3)
DAMPING = ("N*s/m", 1e-3)
NUMBER = ("1", 1.0)

UNITS: dict[str, tuple[str, float]] = {
    "head_skin_modulus": MODULUS,
    "head_skin_rate_coefficient": NUMBER,
    "neck_rubber_modulus": MODULUS,
    "neck_rubber_loss_factor": NUMBER,
    "rib_stiffness": STIFFNESS,
    "rib_damping": DAMPING,
    "thorax_foam_modulus": MODULUS,
    "thorax_foam_densification_strain": NUMBER,
    "lumbar_rubber_modulus": MODULUS,
    "cushion_stiffness": STIFFNESS,
    "cushion_damping": DAMPING,
    "knee_flesh_modulus": MODULUS,
}
"""Name to the unit a deck must write and the factor to solver units (kN, mm, ms)."""


@dataclass(frozen=True, kw_only=True)
class Materials:
    """Values of one deck in solver units: moduli kN/mm^2, stiffness kN/mm, damping kN*ms/mm."""

    head_skin_modulus: float
    head_skin_rate_coefficient: float
    neck_rubber_modulus: float
    neck_rubber_loss_factor: float
    rib_stiffness: float
    rib_damping: float
    thorax_foam_modulus: float
    thorax_foam_densification_strain: float
    lumbar_rubber_modulus: float
    cushion_stiffness: float
    cushion_damping: float
    knee_flesh_modulus: float
