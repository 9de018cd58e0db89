"""Fewer points for the screen without losing a peak: the extremes of every pixel column."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

COLUMNS: Final = 1600
"""Pixel columns of a wide figure on a usual screen."""


def kept_samples(values: Floats, columns: int = COLUMNS) -> NDArray[np.intp]:
    """Choose the samples to draw.

    The samples are divided into as many runs as there are pixel columns; of each run the least and the
    largest are kept, and of the whole the first and the last. So no extreme is ever lost, every point drawn
    is a sample, and a curve of few samples is drawn whole. Only for drawing: scores use all samples.

    Parameters
    ----------
    values
        Shape ``(n,)``, on a constant time step.
    columns
        Number of pixel columns, at least 1.

    Returns
    -------
    numpy.ndarray
        Increasing indices into ``values``, at most ``2 · columns + 2`` of them.

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
