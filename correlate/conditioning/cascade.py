"""The compiled loop behind every filter made of second-order sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.compiling import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray


@compiled
def cascade(
    sections: NDArray[np.float64], values: NDArray[np.float64], state: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Run second-order sections over values, in direct form II transposed.

    Parameters
    ----------
    sections
        Shape ``(k, 6)``: numerator and denominator of each section, the latter beginning with 1.
    values
        Shape ``(n,)``.
    state
        Shape ``(k, 2)``: what each section remembers; changed.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``.
    """
    filtered = np.empty(values.size)
    for index in range(values.size):
        value = values[index]
        for row in range(sections.shape[0]):
            found = sections[row, 0] * value + state[row, 0]
            state[row, 0] = sections[row, 1] * value - sections[row, 4] * found + state[row, 1]
            state[row, 1] = sections[row, 2] * value - sections[row, 5] * found
            value = found
        filtered[index] = value
    return filtered


@compiled
def both_ways(
    sections: NDArray[np.float64], samples: NDArray[np.float64], pad: int, settled: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Run second-order sections forward and backward over point-symmetrically extended samples.

    Parameters
    ----------
    sections
        Shape ``(k, 6)``, as for :func:`cascade`.
    samples
        Shape ``(n,)``.
    pad
        Number of samples added at each end, less than ``n``.
    settled
        Shape ``(k, 2)``: steady state of each section for a constant input of 1.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, a new array.
    """
    last = samples.size - 1
    extended = np.empty(samples.size + 2 * pad)
    for index in range(pad):
        extended[index] = 2.0 * samples[0] - samples[pad - index]
        extended[pad + samples.size + index] = 2.0 * samples[last] - samples[last - 1 - index]
    for index in range(samples.size):
        extended[pad + index] = samples[index]
    forward = cascade(sections, extended, settled * extended[0])
    backward = cascade(sections, forward[::-1], settled * forward[-1])
    filtered = np.empty(samples.size)
    for index in range(samples.size):
        filtered[index] = backward[pad + last - index]
    return filtered
