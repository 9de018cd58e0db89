"""The table of criteria: which channels each takes, with which filter class, and what is computed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from correlate.criteria.chest import chest_deflection, chest_deflection_rate, viscous_criterion
from correlate.criteria.clips import contiguous_clip, cumulative_clip
from correlate.criteria.curve_measures import peak
from correlate.criteria.head import bric, hic, severity_index
from correlate.criteria.leg import femur_force, tibia_index
from correlate.criteria.neck import nij
from correlate.display import FixedResults, short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray

    from correlate.criteria.devices import Device
    from correlate.criteria.result import CriterionResult

    Curves = Mapping[str, NDArray[np.float64]]

    Computed = Callable[[Curves, float, Device], CriterionResult]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One criterion as it is taken from a recording.

    Attributes
    ----------
    name
        Of the criterion, as in the table of limits.
    unit
        Of its value.
    place
        First 12 characters of the channel codes, ``?`` for any.
    channels
        Endings of the codes (dimension and direction) and the unit of each.
    combined
        ``resultant`` of three axes, the neck ``moment`` about the occipital condyle, or nothing.
    cfc
        Channel frequency class.
    compute
        From the curves by ending, the step in s, and the device.
    """

    name: str
    unit: str
    place: str
    channels: Mapping[str, str]
    cfc: int
    compute: Computed
    combined: str = ""


def _constants(found: Any, device: Device, word: str) -> Any:
    if found is None:
        raise SettingsError(f"there are no constants of the {word} for '{device.name}'")
    return found


def _deflection(curves: Curves) -> NDArray[np.float64]:
    # +x points forward: a sternum pushed in is negative there and positive as a deflection.
    return -curves["DSX"]


def _viscous(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.viscous, device, "viscous criterion")
    return viscous_criterion(
        _deflection(curves), step_s=step_s, scale=constants.scale, depth_m=constants.depth_m
    )


def _nij(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.neck, device, "neck criterion")
    return nij(curves["FOZ"], curves["MOY"], step_s=step_s, intercepts=constants)


def _tibia(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.tibia, device, "tibia index")
    return tibia_index(
        curves["MOX"],
        curves["MOY"],
        curves["FOZ"],
        step_s=step_s,
        critical_moment_Nm=constants.critical_moment_Nm,
        critical_force_N=constants.critical_force_N,
    )


_ACCELERATION: Final = {"ACX": "g", "ACY": "g", "ACZ": "g"}


def _of_resultant(
    name: str, unit: str, place: str, cfc: int, compute: Callable[..., CriterionResult]
) -> Criterion:
    return Criterion(
        name=name,
        unit=unit,
        place=place,
        channels=_ACCELERATION,
        combined="resultant",
        cfc=cfc,
        compute=lambda curves, step_s, _: compute(curves["ACR"], step_s=step_s),
    )


_HEAD: Final = "??HEAD??????"
_CHEST: Final = "??CHST??????"

CRITERIA: Final[tuple[Criterion, ...]] = FixedResults(
    (
        _of_resultant("HIC15", "1", _HEAD, 1000, lambda a, *, step_s: hic(a, step_s=step_s, window_s=0.015)),
        _of_resultant("HIC36", "1", _HEAD, 1000, lambda a, *, step_s: hic(a, step_s=step_s, window_s=0.036)),
        _of_resultant("severity index", "1", _HEAD, 1000, severity_index),
        _of_resultant("head 3 ms clip, cumulative", "g", _HEAD, 1000, cumulative_clip),
        _of_resultant("head 3 ms clip, contiguous", "g", _HEAD, 1000, contiguous_clip),
        _of_resultant("head peak acceleration", "g", _HEAD, 1000, peak),
        Criterion(
            name="BrIC",
            unit="1",
            place=_HEAD,
            channels={"AVX": "rad/s", "AVY": "rad/s", "AVZ": "rad/s"},
            cfc=60,
            compute=lambda c, step_s, _: bric(c["AVX"], c["AVY"], c["AVZ"], step_s=step_s),
        ),
        Criterion(
            name="Nij",
            unit="1",
            place="??NECKUP????",
            channels={"FOX": "N", "FOZ": "N", "MOY": "Nm"},
            combined="moment",
            cfc=600,
            compute=_nij,
        ),
        _of_resultant("chest 3 ms clip, cumulative", "g", _CHEST, 180, cumulative_clip),
        _of_resultant("chest 3 ms clip, contiguous", "g", _CHEST, 180, contiguous_clip),
        Criterion(
            name="chest deflection",
            unit="mm",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=600,
            compute=lambda c, step_s, _: chest_deflection(_deflection(c), step_s=step_s),
        ),
        Criterion(
            name="chest deflection rate",
            unit="m/s",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=180,
            compute=lambda c, step_s, _: chest_deflection_rate(_deflection(c), step_s=step_s),
        ),
        Criterion(
            name="viscous criterion",
            unit="m/s",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=180,
            compute=_viscous,
        ),
        Criterion(
            name="femur force",
            unit="N",
            place="??FEMR??????",
            channels={"FOZ": "N"},
            cfc=600,
            compute=lambda c, step_s, _: femur_force(c["FOZ"], step_s=step_s),
        ),
        Criterion(
            name="tibia index",
            unit="1",
            place="??TIBI??????",
            channels={"MOX": "Nm", "MOY": "Nm", "FOZ": "N"},
            cfc=600,
            compute=_tibia,
        ),
    )
)
"""Every criterion. Filter classes: SAE J211-1 and 49 CFR 571.208, from memory."""
