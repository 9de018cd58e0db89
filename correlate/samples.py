"""Arrays of samples: checked once, then never written to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STEP_TOLERANCE: Final = 1e-6
"""Largest relative difference between two steps that still count as one step."""


def frozen_samples(samples: ArrayLike, *, channel: str) -> NDArray[np.float64]:
    """Return finite float64 samples that cannot be written to."""
    where = f"channel '{channel}'"
    try:
        array = np.asarray(samples, dtype=np.float64)
    except (TypeError, ValueError):
        raise SignalError(
            "the samples are not all real numbers", where=where, remedy="give one row of numbers"
        ) from None
    if array.ndim != 1 or array.size < 2:
        raise SignalError(
            f"the samples have shape {array.shape}",
            where=where,
            remedy="give one row of at least two samples",
        )
    finite = np.isfinite(array)
    if not finite.all():
        first = int(np.flatnonzero(~finite)[0])
        raise SignalError(
            f"sample {first + 1} is {array[first]}",
            where=where,
            remedy="export the channel again or cut the interval before it",
        )
    if not (array.flags.c_contiguous and _is_frozen(array)):
        array = np.array(array, order="C")
        array.flags.writeable = False
    return array


def _is_frozen(array: NDArray[np.float64]) -> bool:
    """Say whether neither the array nor the memory it looks into can be written to."""
    owner: Any = array
    while isinstance(owner, np.ndarray):
        if owner.flags.writeable:
            return False
        owner = owner.base
    return owner is None or isinstance(owner, bytes)
