"""The table of criteria: which channels each takes, with which filter class, and what is computed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from correlate.criteria.brain import damage
from correlate.criteria.chest import chest_deflection, chest_deflection_rate, viscous_criterion
from correlate.criteria.clips import contiguous_clip, cumulative_clip
from correlate.criteria.curve_measures import largest, largest_sum, peak
from correlate.criteria.exceedance import exceedance
from correlate.criteria.head import bric, hic, severity_index
from correlate.criteria.leg import femur_force, tibia_index
from correlate.criteria.neck import nic, nij
from correlate.display import FixedResults, short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

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
        ``resultant`` of three axes, the neck ``moment`` about the occipital condyle, the angular
        ``acceleration``, from the angular velocity where it is not recorded, or nothing.
    elsewhere
        Channels at other places: names of the curves, and the whole code of each with its unit. ``=`` stands
        for the character of the place.
    cfc
        Channel frequency class; the regulation of a device may have another.
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
    elsewhere: Mapping[str, tuple[str, str]] = field(default_factory=dict)


def _constants(found: Any, device: Device, word: str) -> Any:
    if found is None:
        raise SettingsError(f"there are no constants of the {word} for '{device.name}'")
    return found


def _deflection(curves: Curves) -> NDArray[np.float64]:
    # +x points forward: a sternum pushed in is negative there and positive as a deflection.
    return -curves["DSX"]


def _inwards(curves: Curves) -> NDArray[np.float64]:
    # A rib is pushed in along +y or -y, depending on the side that is struck.
    curve = curves["DSY"]
    return curve if curve.max() >= -curve.min() else -curve


def _viscous(of: Callable[[Curves], NDArray[np.float64]]) -> Computed:
    def compute(curves: Curves, step_s: float, device: Device) -> CriterionResult:
        constants = _constants(device.viscous, device, "viscous criterion")
        return viscous_criterion(of(curves), step_s=step_s, scale=constants.scale, depth_m=constants.depth_m)

    return compute


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


def _of_resultant(
    name: str, unit: str, place: str, cfc: int, compute: Callable[..., CriterionResult]
) -> Criterion:
    return Criterion(
        name=name,
        unit=unit,
        place=place,
        channels={"ACX": "g", "ACY": "g", "ACZ": "g"},
        combined="resultant",
        cfc=cfc,
        compute=lambda curves, step_s, _: compute(curves["ACR"], step_s=step_s),
    )


def _of_one(
    name: str,
    unit: str,
    code: str,
    cfc: int,
    compute: Callable[[NDArray[np.float64], float], CriterionResult],
) -> Criterion:
    """Return a criterion of a single channel; the code has 15 characters."""
    place, ending = code[:12], code[12:]
    return Criterion(
        name=name,
        unit=unit,
        place=place,
        channels={ending: unit},
        cfc=cfc,
        compute=lambda curves, step_s, _: compute(curves[ending], step_s),
    )


def _within_time(name: str, code: str, cfc: int, sign: Literal[1, -1, 0]) -> Criterion:
    """Return the ratio of a force to its time-dependent limit; a sign of 0 takes both directions."""
    place, ending = code[:12], code[12:]

    def compute(curves: Curves, step_s: float, device: Device) -> CriterionResult:
        limit = _constants(device.duration_limits.get(name), device, name)
        force = sign * curves[ending] if sign else np.abs(curves[ending])
        return exceedance(force, step_s=step_s, limit=limit)

    return Criterion(name=name, unit="1", place=place, channels={ending: "N"}, cfc=cfc, compute=compute)


def _of_sum(name: str, place: str, others: tuple[str, ...]) -> Criterion:
    """Return the largest sum of lateral forces, of one place and of others; class of 49 CFR 571.214 S11.5."""
    return Criterion(
        name=name,
        unit="N",
        place=place,
        channels={"FOY": "N"},
        elsewhere={other: (other, "N") for other in others},
        cfc=600,
        compute=lambda curves, step_s, _: largest_sum(*curves.values(), step_s=step_s),
    )


_HEAD: Final = "??HEAD??????"
_CHEST: Final = "??CHST??????"
_NECK: Final = "??NECKUP????"

_HEAD_ROWS: Final = (
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
        name="DAMAGE",
        unit="1",
        place=_HEAD,
        channels={"AAX": "rad/s^2", "AAY": "rad/s^2", "AAZ": "rad/s^2"},
        combined="acceleration",
        cfc=60,
        compute=lambda c, step_s, _: damage(c["AAX"], c["AAY"], c["AAZ"], step_s=step_s),
    ),
)

_NECK_ROWS: Final = (
    Criterion(
        name="Nij",
        unit="1",
        place=_NECK,
        channels={"FOX": "N", "FOZ": "N", "MOY": "Nm"},
        combined="moment",
        cfc=600,
        compute=_nij,
    ),
    _of_one("neck tension", "N", f"{_NECK}FOZ", 1000, lambda f, step_s: largest(f, step_s=step_s)),
    _of_one("neck compression", "N", f"{_NECK}FOZ", 1000, lambda f, step_s: largest(-f, step_s=step_s)),
    _of_one("neck shear", "N", f"{_NECK}FOX", 1000, lambda f, step_s: largest(np.abs(f), step_s=step_s)),
    _within_time("neck tension, time-dependent", f"{_NECK}FOZ", 1000, 1),
    _within_time("neck shear, time-dependent", f"{_NECK}FOX", 1000, 0),
    Criterion(
        name="NIC",
        unit="m^2/s^2",
        place=_HEAD,
        channels={"ACX": "m/s^2"},
        elsewhere={"T1": ("==THSP01??==ACX?", "m/s^2")},
        cfc=60,
        compute=lambda c, step_s, _: nic(c["T1"], c["ACX"], step_s=step_s),
    ),
)

_TRUNK_ROWS: Final = (
    _of_resultant("chest 3 ms clip, cumulative", "g", _CHEST, 180, cumulative_clip),
    _of_resultant("chest 3 ms clip, contiguous", "g", _CHEST, 180, contiguous_clip),
    _of_one(
        "chest deflection", "mm", f"{_CHEST}DSX", 600, lambda d, step_s: chest_deflection(-d, step_s=step_s)
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
        compute=_viscous(_deflection),
    ),
    Criterion(
        name="rib deflection",
        unit="mm",
        place="??RIBS??????",
        channels={"DSY": "mm"},
        cfc=180,
        compute=lambda c, step_s, _: chest_deflection(_inwards(c), step_s=step_s),
    ),
    Criterion(
        name="rib viscous criterion",
        unit="m/s",
        place="??RIBS??????",
        channels={"DSY": "mm"},
        cfc=180,
        compute=_viscous(_inwards),
    ),
    _of_resultant("lower spine peak acceleration", "g", "??THSP12????", 180, peak),
    _of_sum("abdomen force", "??ABDO??FR??", ("==ABDO==MI==FOY?", "==ABDO==RE==FOY?")),
    _of_sum("pubic force", "??PUBC??????", ()),
    _of_sum("pelvis force", "??ACTB??????", ("==ILAC======FOY?",)),
)

_LEG_ROWS: Final = (
    _of_one("femur force", "N", "??FEMR??????FOZ", 600, lambda f, step_s: femur_force(f, step_s=step_s)),
    _within_time("femur force, time-dependent", "??FEMR??????FOZ", 600, -1),
    _of_one("knee slider", "mm", "??KNSL??????DSX", 180, lambda d, step_s: largest(np.abs(d), step_s=step_s)),
    _of_one("tibia compression", "N", "??TIBI??????FOZ", 600, lambda f, step_s: largest(-f, step_s=step_s)),
    Criterion(
        name="tibia index",
        unit="1",
        place="??TIBI??????",
        channels={"MOX": "Nm", "MOY": "Nm", "FOZ": "N"},
        cfc=600,
        compute=_tibia,
    ),
)

CRITERIA: Final[tuple[Criterion, ...]] = FixedResults((*_HEAD_ROWS, *_NECK_ROWS, *_TRUNK_ROWS, *_LEG_ROWS))
"""Every criterion.

Filter classes: 49 CFR 571.214 S11.5 for side impact; ECE R94 annex 3 5.2.2 for neck forces; the rest from SAE
J211-1, 49 CFR 571.208 and, for the neck in rear impacts, UN GTR 7, from memory. Codes of ribs, abdomen, pubic
symphysis, acetabulum, iliac wing and knee slider: ISO/TS 13499, from memory.
"""
