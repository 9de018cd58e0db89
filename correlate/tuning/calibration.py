"""Whether intervals hold what they promise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.tuning.leave_one_out import LeaveOneOut

LEVELS: Final = (0.5, 0.8, 0.95)
"""Shares of the runs that the intervals promise to hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How often one interval held.

    Attributes
    ----------
    nominal
        Share that was promised.
    observed
        Share of the runs inside.
    runs
        How many were looked at.
    """

    nominal: float
    observed: float
    runs: int

    @property
    def chance(self) -> float:
        """Standard deviation that the observed share has by chance alone when the promise is kept."""
        return float(np.sqrt(self.nominal * (1 - self.nominal) / self.runs))


def half_width(level: float) -> float:
    """Return the half width of a normal interval, in standard deviations.

    Parameters
    ----------
    level
        Share inside, above 0 and below 1.

    Returns
    -------
    float

    Raises
    ------
    SettingsError
        No such share.

    Examples
    --------
    >>> round(half_width(0.95), 6)
    1.959964
    """
    if not 0 < level < 1:
        raise SettingsError(
            f"an interval cannot hold a share of {level:g}", remedy="give one between 0 and 1"
        )
    from scipy.special import ndtri  # noqa: PLC0415 - slow to import

    return float(ndtri(0.5 + level / 2))


def calibration(said: LeaveOneOut, levels: Sequence[float] = LEVELS) -> tuple[Coverage, ...]:
    """Count the runs inside the intervals that the other runs gave.

    Parameters
    ----------
    said
        Predictions of runs that were left out.
    levels
        Nominal shares.

    Returns
    -------
    tuple of Coverage
        One a level. An observed share far below the nominal says that the intervals are too narrow.
    """
    distance = np.abs(said.rated - said.predicted)
    return tuple(
        Coverage(
            nominal=level,
            observed=float(np.mean(distance <= half_width(level) * said.deviation)),
            runs=said.rated.size,
        )
        for level in levels
    )
