"""Dynamic time warping inside a band: the compiled kernel.

The band is visited along anti-diagonals. The cells of one anti-diagonal do not depend on each other, so
the compiler turns the inner loop into vector instructions; row by row it cannot.

Only which neighbour each cell came from is kept, one byte a cell, to walk the best path back. When that
would not fit into ``DIRECTION_BYTES``, the anti-diagonals are cut into blocks: the costs at the start of
each block are kept, and the directions of a block are made again when the walk back reaches it. Time
then doubles at most, memory stays a few tens of megabytes for any length in use.

Cost: about ``n · (2·band + 1)`` cells; one cell took 0.6 ns where it was measured (``docs/performance.md``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bytes = NDArray[np.uint8]
    Integers = NDArray[np.int32]

DIRECTION_BYTES: Final = 16 * 2**20
"""Most memory for the directions of one block of anti-diagonals."""


@dataclass(frozen=True, slots=True, eq=False)
class Warping:
    """The best path through the band.

    Attributes
    ----------
    distance
        Sum of squared differences along the path, in squared units of the curves.
    path
        Shape ``(l, 2)``, int32: pairs ``(i, j)`` of indices, first curve and second curve, from ``(0, 0)``
        to ``(n-1, n-1)``.
    """

    distance: float
    path: NDArray[np.int32]


def warp(
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    *,
    band: int,
    direction_bytes: int = DIRECTION_BYTES,
) -> Warping:
    r"""Find the path of least summed squared difference between two curves of equal length.

    .. math:: D_{ij} = (a_i - b_j)^2 + \min(D_{i-1,j-1}, D_{i-1,j}, D_{i,j-1}), \qquad |i-j| \le r

    Ties prefer the diagonal, then advancing the first curve, then advancing the second.

    Parameters
    ----------
    first, second
        Shape ``(n,)``, one unit.
    band
        Largest difference :math:`r` of the two indices, in samples, 0 or more.
    direction_bytes
        Memory for the directions; less memory costs up to twice the time and changes no result.

    Returns
    -------
    Warping

    References
    ----------
    .. [1] Sakoe, Chiba, "Dynamic programming algorithm optimization for spoken word recognition", IEEE
       Trans. ASSP 26 (1978), the symmetric recursion with unit weights.

    Examples
    --------
    >>> import numpy as np
    >>> warping = warp(np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 1.0]), band=1)
    >>> warping.distance, warping.path.tolist()
    (0.0, [[0, 0], [1, 0], [2, 1], [2, 2]])
    """
    width = min(band, first.size - 1) + 1
    block = max(2, min(2 * first.size - 1, direction_bytes // width))
    distance, path = _warp(first, second, min(band, first.size - 1), block)
    return Warping(float(distance), path)


@compiled
def _first_row(d: int, n: int, band: int) -> int:
    """Return the least index of the first curve on anti-diagonal ``d`` inside the band."""
    return max(0, d - n + 1, (d - band + 1) // 2)


@compiled
def _last_row(d: int, n: int, band: int) -> int:
    """Return the largest index of the first curve on anti-diagonal ``d`` inside the band."""
    return min(n - 1, d, (d + band) // 2)


@compiled
def _costs_and_directions(
    a: Floats, b: Floats, diagonal: Floats, up: Floats, left: Floats, cost: Floats, direction: Bytes
) -> None:
    """Fill one anti-diagonal; the slices share no element, so the loop vectorises."""
    for k in range(cost.size):
        difference = a[k] - b[k]
        best = up[k] if up[k] < diagonal[k] else diagonal[k]
        step = np.uint8(1) if up[k] < diagonal[k] else np.uint8(0)
        step = np.uint8(2) if left[k] < best else step
        best = left[k] if left[k] < best else best
        cost[k] = best + difference * difference
        direction[k] = step


@compiled
def _costs(a: Floats, b: Floats, diagonal: Floats, up: Floats, left: Floats, cost: Floats) -> None:
    """Fill one anti-diagonal with costs alone."""
    for k in range(cost.size):
        difference = a[k] - b[k]
        best = up[k] if up[k] < diagonal[k] else diagonal[k]
        best = left[k] if left[k] < best else best
        cost[k] = best + difference * difference


@compiled
def _run_block(
    first: Floats, backwards: Floats, band: int, start: int, stop: int, costs: Floats, directions: Bytes
) -> None:
    """Advance the costs over anti-diagonals ``start`` to ``stop - 1``.

    ``costs[d % 3]`` holds anti-diagonal ``d``, indexed by row + 1 with walls of infinity on both sides.
    Directions are kept when there is room for them, that is when ``directions`` has rows.
    """
    n = first.size
    for d in range(start, stop):
        low, high = _first_row(d, n, band), _last_row(d, n, band)
        offset = n - 1 - d
        current, previous, before = costs[d % 3], costs[(d - 1) % 3], costs[(d - 2) % 3]
        a = first[low : high + 1]
        b = backwards[low + offset : high + 1 + offset]
        cost = current[low + 1 : high + 2]
        if directions.shape[0] > 0:
            _costs_and_directions(
                a,
                b,
                before[low : high + 1],
                previous[low : high + 1],
                previous[low + 1 : high + 2],
                cost,
                directions[d - start, : high - low + 1],
            )
        else:
            _costs(a, b, before[low : high + 1], previous[low : high + 1], previous[low + 1 : high + 2], cost)
        if d == 0:
            cost[0] = (a[0] - b[0]) * (a[0] - b[0])
        current[low] = np.inf
        current[high + 2] = np.inf


@compiled
def _walk_back(path: Integers, length: int, n: int, band: int, start: int, directions: Bytes) -> int:
    """Follow the directions of one block from the last point of ``path`` to before ``start``."""
    i, j = path[length - 1, 0], path[length - 1, 1]
    while i + j >= start and i + j > 0:
        d = i + j
        step = directions[d - start, i - _first_row(d, n, band)]
        if step != 2:
            i -= 1
        if step != 1:
            j -= 1
        path[length, 0] = i
        path[length, 1] = j
        length += 1
    return length


@compiled
def _copy(source: Floats, target: Floats) -> None:
    """Copy element by element: whole-array assignment doubles the time to compile."""
    for row in range(source.shape[0]):
        for column in range(source.shape[1]):
            target[row, column] = source[row, column]


@compiled
def _warp(first: Floats, second: Floats, band: int, block: int) -> tuple[float, Integers]:
    """Return the distance and the path; ``block`` anti-diagonals keep their directions at a time."""
    n = first.size
    total = 2 * n - 1
    blocks = (total + block - 1) // block
    backwards = second[::-1].copy()
    costs = np.full((3, n + 2), np.inf)
    kept = np.empty((blocks, 3, n + 2))
    none = np.empty((0, 0), np.uint8)
    for index in range(blocks - 1):
        _copy(costs, kept[index])
        _run_block(first, backwards, band, index * block, (index + 1) * block, costs, none)
    _copy(costs, kept[blocks - 1])

    path = np.empty((total, 2), np.int32)
    path[0, 0] = path[0, 1] = n - 1
    length = 1
    directions = np.empty((min(block, total), band + 1), np.uint8)
    distance = 0.0
    for index in range(blocks - 1, -1, -1):
        start, stop = index * block, min(total, (index + 1) * block)
        _copy(kept[index], costs)
        _run_block(first, backwards, band, start, stop, costs, directions)
        if stop == total:
            distance = costs[(total - 1) % 3, n]
        length = _walk_back(path, length, n, band, start, directions)
    return distance, path[:length][::-1].copy()
