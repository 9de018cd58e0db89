"""Device sizes: the constants of their criteria and the published limits, read from a data file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from correlate.criteria.channels import named_entry
from correlate.criteria.exceedance import DurationLimit
from correlate.criteria.neck import NeckIntercepts
from correlate.criteria.result import provenance
from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A published limit of one criterion for one device.

    Attributes
    ----------
    criterion
        Name in the table of criteria.
    at_most
        In the unit of the criterion.
    source
        Regulation and section, or paper, and how far it was checked.
    edition
        Which edition of it.
    """

    criterion: str
    at_most: float
    source: str
    edition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ViscousConstants:
    """Scale and depth (m) of the viscous criterion."""

    scale: float
    depth_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TibiaConstants:
    """Critical moment (N·m) and compression (N) of the tibia index."""

    critical_moment_Nm: float  # noqa: N815 - the unit is written as it is
    critical_force_N: float  # noqa: N815


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One device size.

    Attributes
    ----------
    name
        As in the regulation.
    source
        Of each group of constants, and how far it was checked.
    neck, viscous, tibia
        Constants; None where no source gives them for this size.
    occipital_lever_m
        From the upper neck load cell to the occipital condyle, m; None where no source gives it.
    classes
        Filter class by criterion, where the regulation of the device differs from the table of criteria.
    duration_limits
        Limits that depend on duration, by criterion, in the unit of its curve.
    limits
        All limits of this size.
    """

    name: str
    source: str
    neck: NeckIntercepts | None
    viscous: ViscousConstants | None
    tibia: TibiaConstants | None
    occipital_lever_m: float | None
    classes: Mapping[str, int]
    duration_limits: Mapping[str, DurationLimit]
    limits: tuple[Limit, ...]

    def limits_of(self, criterion: str) -> tuple[Limit, ...]:
        """Return the limits of one criterion.

        Parameters
        ----------
        criterion
            Name in the table of criteria.

        Returns
        -------
        tuple of Limit
            Empty when no source gives one for this size.
        """
        return tuple(limit for limit in self.limits if limit.criterion == criterion)

    def limits_exceeded(self, criterion: str, value: float | None) -> tuple[Limit, ...]:
        """Return the limits of one criterion that a value is above.

        Parameters
        ----------
        criterion
            Name in the table of criteria.
        value
            In the unit of the criterion; None where it could not be computed.

        Returns
        -------
        tuple of Limit
            A value at its limit does not exceed it.
        """
        return tuple(one for one in self.limits_of(criterion) if value is not None and value > one.at_most)


@cache
def devices() -> tuple[Device, ...]:
    """Return every device size.

    Returns
    -------
    tuple of Device

    Examples
    --------
    >>> [limit.at_most for limit in devices()[0].limits_of("HIC15")]
    [700.0]
    """
    text = files("correlate.criteria").joinpath("devices.toml").read_text(encoding="utf-8")
    return tuple(_device(entry) for entry in tomllib.loads(text)["device"])


def find_device(name: str) -> Device:
    """Return a device size by its name or a part of it that fits one alone.

    Parameters
    ----------
    name
        Capitals do not matter.

    Returns
    -------
    Device

    Raises
    ------
    SettingsError
        No size, or several, fit; the message lists them.

    Examples
    --------
    >>> find_device("adult male").name
    'adult male, 50th percentile'
    """
    return named_entry(name, {device.name: device for device in devices()}, word="device")


_GROUPS: Final = {
    "neck": "Nij",
    "occipital": "occipital lever",
    "viscous": "viscous criterion",
    "tibia": "tibia index",
    "classes": "filter class",
}
"""Groups of constants, and what they serve."""


def _device(entry: dict[str, Any]) -> Device:
    constants = {name: entry[name]["constants"] for name in _GROUPS if name in entry}
    sources = [f"{_GROUPS[name]}: {_provenance(entry[name])}" for name in constants]
    durations = entry.get("duration_limit", [])
    return Device(
        name=entry["name"],
        source="; ".join(sources) or "none",
        neck=NeckIntercepts(**constants["neck"]) if "neck" in constants else None,
        viscous=ViscousConstants(**constants["viscous"]) if "viscous" in constants else None,
        tibia=TibiaConstants(**constants["tibia"]) if "tibia" in constants else None,
        occipital_lever_m=constants.get("occipital", {}).get("lever_m"),
        classes=MappingProxyType(constants.get("classes", {})),
        duration_limits=MappingProxyType({one["criterion"]: _duration_limit(one) for one in durations}),
        limits=(
            *(_limit(one) for one in entry.get("limit", [])),
            # Their criterion is the ratio to the limit.
            *(_limit({**one, "at_most": 1.0}) for one in durations),
        ),
    )


def _limit(entry: dict[str, Any]) -> Limit:
    return Limit(
        criterion=entry["criterion"],
        at_most=float(entry["at_most"]),
        source=_provenance(entry),
        edition=entry["edition"],
    )


def _duration_limit(entry: dict[str, Any]) -> DurationLimit:
    return DurationLimit(
        durations_s=tuple(time_ms / 1e3 for time_ms, _ in entry["points"]),
        levels=tuple(float(level) for _, level in entry["points"]),
    )


def _provenance(entry: dict[str, Any]) -> str:
    return provenance(entry["source"], checked=bool(entry.get("checked", False)))
