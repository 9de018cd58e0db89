"""What a rig gives: physical time histories on the simulation grid, before any sensor."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class Physical:
    """Physical time histories of one repeat.

    Attributes
    ----------
    histories
        Name to shape ``(n,)``, in the unit and polarity of the sensor that feels it.
    impact_speed
        Speed at first contact [m/s].
    moving_mass
        Mass that strikes [kg].
    """

    histories: dict[str, NDArray[np.float64]]
    impact_speed: float
    moving_mass: float
