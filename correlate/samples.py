"""Arrays of samples: checked once, then never written to."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import NoNumberError, SignalError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

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
    # Index of the first False, if there is one: four times as fast as `all`.
    first = int(finite.argmin())
    if not finite[first]:
        raise NoNumberError(
            f"sample {first + 1} is {array[first]}",
            where=where,
            remedy="export the channel again or cut the interval before it",
        )
    if not (array.flags.c_contiguous and _is_frozen(array)):
        array = np.array(array, order="C")
        array.flags.writeable = False
    return array


def handed_over(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """Freeze a new array, so that :func:`frozen_samples` need not copy it.

    Only for the result of an expression: an earlier view of the array could still be written to. Where the
    result is a view, as libraries return after a change of shape, the arrays behind it are frozen too.
    """
    owner: Any = array
    while isinstance(owner, np.ndarray):
        owner.flags.writeable = False
        owner = owner.base
    return array


def _is_frozen(array: NDArray[np.float64]) -> bool:
    """Say whether neither the array nor the memory it looks into can be written to."""
    owner: Any = array
    while isinstance(owner, np.ndarray):
        if owner.flags.writeable:
            return False
        owner = owner.base
    return owner is None or isinstance(owner, bytes)


COLUMNS: Final = 1600
"""Pixel columns of a wide figure on a usual screen."""


def kept_samples(values: Floats, columns: int = COLUMNS) -> NDArray[np.intp]:
    """Choose the samples to draw.

    The samples are divided into as many runs as there are pixel columns; of each run the least and the
    largest are kept, and of the whole the first and the last. So no extreme is ever lost, every point drawn
    is a sample, and a curve of few samples is drawn whole. Only for drawing: scores use all samples.

    References
    ----------
    .. [1] Jugel, Jerzak, Hackenbroich, Markl, "M4: a visualization-oriented time series data aggregation",
       Proceedings of the VLDB Endowment 7 (2014), from memory: least and largest value a pixel column.

    Examples
    --------
    >>> import numpy as np
    >>> kept_samples(np.array([0.0, 1.0, 9.0, 2.0, 1.0, -5.0, 0.0, 0.0]), columns=2).tolist()
    [0, 2, 4, 5, 7]
    """
    size = values.size
    if size <= 2 * columns + 2:
        return np.arange(size)
    edges = np.linspace(0, size, columns + 1).astype(np.intp)
    least = [start + np.argmin(values[start:end]) for start, end in pairwise(edges)]
    largest = [start + np.argmax(values[start:end]) for start, end in pairwise(edges)]
    return np.unique(np.array([0, *least, *largest, size - 1], dtype=np.intp))
