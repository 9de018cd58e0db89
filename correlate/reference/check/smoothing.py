"""A running median that needs little memory."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BLOCK: Final = 100_000


def running_median(samples: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """Return the median over a centred window; the ends are repeated outwards.

    Parameters
    ----------
    samples
        Shape ``(n,)``.
    width
        Samples in the window, odd.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``.

    References
    ----------
    .. [1] Tukey, "Exploratory data analysis" (1977): running medians.

    Examples
    --------
    >>> import numpy as np
    >>> running_median(np.array([0.0, 0.0, 9.0, 0.0, 1.0]), 3)
    array([0., 0., 0., 1., 1.])
    """
    half = width // 2
    padded = np.pad(samples, half, mode="edge")
    result = np.empty_like(samples, dtype=np.float64)
    for start in range(0, samples.size, _BLOCK):
        stop = min(start + _BLOCK, samples.size)
        windows = sliding_window_view(padded[start : stop + 2 * half], width)
        # partition finds the middle value in half the time of a full median
        result[start:stop] = np.partition(windows, half, axis=1)[:, half]
    return result
