"""Parameters of a material card, and the box they span."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

Scale = Literal["linear", "log"]

BOUND_SHARE: Final = 1e-3
"""A point nearer to a bound than this share of the range is called at the bound. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One number of a material card that may be changed.

    Attributes
    ----------
    name
        As the deck names it.
    unit
        Text for display; nothing is converted.
    lower, upper
        The range, ends included.
    scale
        ``log``: equal ratios count as equal steps.
    start
        The value before tuning, inside the range.

    Examples
    --------
    >>> Parameter(name="rib_stiffness", unit="N/mm", lower=20, upper=80, scale="log", start=40).middle
    40.0
    """

    name: str
    unit: str
    lower: float
    upper: float
    scale: Scale = "linear"
    start: float

    def __post_init__(self) -> None:
        """Refuse a range that no value could be drawn from."""
        where = f"parameter '{self.name}'"
        if not all(math.isfinite(value) for value in (self.lower, self.upper, self.start)):
            raise SettingsError("a bound or the start value is not a finite number", where=where)
        if not self.lower < self.upper:
            raise SettingsError(
                f"the lower bound {self.lower:g} is not below the upper bound {self.upper:g}",
                where=where,
                remedy="exchange or widen the bounds",
            )
        if self.scale == "log" and self.lower <= 0:
            raise SettingsError(
                f"the lower bound {self.lower:g} has no logarithm",
                where=where,
                remedy="give a positive lower bound, or the linear scale",
            )
        if not self.lower <= self.start <= self.upper:
            raise SettingsError(
                f"the start value {self.start:g} is outside {self.lower:g} to {self.upper:g}",
                where=where,
                remedy="widen the bounds, or start inside them",
            )

    @property
    def middle(self) -> float:
        """The value half way up the scale."""
        if self.scale == "log":
            return math.sqrt(self.lower * self.upper)
        return (self.lower + self.upper) / 2


@short_repr
@dataclass(frozen=True, slots=True)
class ParameterSpace:
    """The box that the parameters span.

    Attributes
    ----------
    parameters
        In the order of the columns of every table of points.
    """

    parameters: tuple[Parameter, ...]

    def __post_init__(self) -> None:
        """Refuse a box without sides, or with two of one name."""
        if not self.parameters:
            raise SettingsError("there is no parameter", remedy="name at least one")
        twice = sorted({name for name in self.names if self.names.count(name) > 1})
        if twice:
            raise SettingsError(f"parameter '{twice[0]}' occurs twice", remedy="rename or remove one")

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        return tuple(parameter.name for parameter in self.parameters)

    @property
    def lower(self) -> NDArray[np.float64]:
        """Lower bounds, shape ``(d,)``."""
        return np.array([parameter.lower for parameter in self.parameters], dtype=np.float64)

    @property
    def upper(self) -> NDArray[np.float64]:
        """Upper bounds, shape ``(d,)``."""
        return np.array([parameter.upper for parameter in self.parameters], dtype=np.float64)

    @property
    def start_point(self) -> NDArray[np.float64]:
        """Start values, shape ``(d,)``."""
        return np.array([parameter.start for parameter in self.parameters], dtype=np.float64)

    def to_unit(self, points: ArrayLike) -> NDArray[np.float64]:
        """Map points into the unit cube, equal ratios to equal steps where the scale is logarithmic.

        Examples
        --------
        >>> gain = Parameter(name="gain", unit="1", lower=1, upper=100, scale="log", start=10)
        >>> float(ParameterSpace((gain,)).to_unit([10.0])[0])
        0.5
        """
        values = self._checked(points)
        logs = self._is_log
        if np.any(values[..., logs] <= 0):
            raise SettingsError("a value on a logarithmic scale is not positive", remedy="correct the point")
        low, high = self._ends()
        scaled = np.where(logs, np.log(np.where(logs, values, 1.0)), values)
        return np.asarray((scaled - low) / (high - low), dtype=np.float64)

    def from_unit(self, cube: ArrayLike) -> NDArray[np.float64]:
        """Map points of the unit cube back, never past a bound by rounding."""
        shares = self._checked(cube)
        if np.any(shares < 0) or np.any(shares > 1):
            raise SettingsError("a point is outside the unit cube", remedy="clip it to 0 to 1")
        low, high = self._ends()
        scaled = low + shares * (high - low)
        logs = self._is_log
        values = np.where(logs, np.exp(np.where(logs, scaled, 0.0)), scaled)
        return np.clip(values, self.lower, self.upper)

    def contains(self, point: ArrayLike) -> bool:
        """Say whether a point is inside the box, bounds included."""
        values = self._checked(point)
        return bool(np.all(values >= self.lower) and np.all(values <= self.upper))

    def at_bound(self, point: ArrayLike) -> tuple[str, ...]:
        """Name the parameters of a point that lie at one of their bounds."""
        share = self.to_unit(point)
        near = (share <= BOUND_SHARE) | (share >= 1 - BOUND_SHARE)
        return tuple(name for name, found in zip(self.names, near, strict=True) if found)

    def as_values(self, point: ArrayLike) -> dict[str, float]:
        """Return a point as values by parameter name."""
        return dict(zip(self.names, self._checked(point).tolist(), strict=True))

    def as_point(self, values: Mapping[str, float]) -> NDArray[np.float64]:
        """Return values by parameter name as a point of shape ``(d,)``.

        Raises
        ------
        SettingsError
            A parameter has no value.
        """
        missing = [name for name in self.names if name not in values]
        if missing:
            raise SettingsError(f"parameter '{missing[0]}' has no value", remedy="give one")
        return np.array([values[name] for name in self.names], dtype=np.float64)

    @property
    def _is_log(self) -> NDArray[np.bool_]:
        return np.array([parameter.scale == "log" for parameter in self.parameters])

    def _ends(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the bounds on the scale of each parameter."""
        logs = self._is_log
        low, high = self.lower, self.upper
        return (
            np.where(logs, np.log(np.where(logs, low, 1.0)), low),
            np.where(logs, np.log(np.where(logs, high, 1.0)), high),
        )

    def _checked(self, points: ArrayLike) -> NDArray[np.float64]:
        values = np.asarray(points, dtype=np.float64)
        if values.ndim not in {1, 2} or values.shape[-1] != len(self.parameters):
            raise SettingsError(
                f"points of shape {values.shape} do not fit {len(self.parameters)} parameters",
                remedy="give one column per parameter",
            )
        return values
