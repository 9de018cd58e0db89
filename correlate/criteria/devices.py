"""Device sizes: the constants of their criteria and the published limits, read from a data file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from correlate.criteria.channels import named_entry
from correlate.criteria.neck import NeckIntercepts
from correlate.criteria.result import provenance
from correlate.display import short_repr


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
        Of the constants, and how far it was checked.
    neck, viscous, tibia
        Constants; None where no source gives them for this size.
    limits
        All limits of this size.
    """

    name: str
    source: str
    neck: NeckIntercepts | None
    viscous: ViscousConstants | None
    tibia: TibiaConstants | None
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


def _device(entry: dict[str, Any]) -> Device:
    checked = bool(entry["checked"])
    return Device(
        name=entry["name"],
        source=provenance(entry["source"], checked=checked),
        neck=NeckIntercepts(**entry["neck"]) if "neck" in entry else None,
        viscous=ViscousConstants(**entry["viscous"]) if "viscous" in entry else None,
        tibia=TibiaConstants(**entry["tibia"]) if "tibia" in entry else None,
        limits=tuple(
            Limit(
                criterion=limit["criterion"],
                at_most=float(limit["at_most"]),
                source=provenance(limit["source"], checked=checked),
                edition=limit["edition"],
            )
            for limit in entry["limit"]
        ),
    )
