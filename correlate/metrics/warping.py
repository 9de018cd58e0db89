"""Dynamic time warping inside a band: the compiled kernel.

The band is visited along anti-diagonals, two of them in one loop (``antidiagonals.py``): the cells of one do
not depend on each other, so that eight are computed at a time, and the second needs no cell of the first
from memory. Costs are indexed by ``k = i - s`` for the anti-diagonals ``i + j = 2s`` and ``2s + 1``, so that
the band does not move.

The forward pass keeps only costs, and only those before every ``stride``-th pair of anti-diagonals.
Backtracking starts at the last point and needs, within one stride, only the triangle of cells that can reach
that point: their costs are computed again and compared. So there is no matrix of directions, memory grows
with the number of samples, and backtracking computes ``stride / band`` of the cells of the forward pass.

Cells outside the matrix need no condition: the first curve continues with infinity, the second with
minus infinity on both sides, so that such cells cost infinity.

Cost: about ``n · (2·band + 1)`` cells; one cell took 0.2 to 0.3 ns where it was measured
(``docs/performance.md``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled
from correlate.metrics.antidiagonals import VECTOR, two_antidiagonals

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int32]

STRIDES_A_BAND: Final = 14
"""A stride is this part of the band: fewer would make triangles larger, more would keep more costs."""

LEAST_STRIDE: Final = 16
"""Below it, starting a triangle costs more than its cells."""

BEYOND: Final = 2 * VECTOR
"""Infinite samples after a curve: as many as vectors can read there."""


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
    stride: int | None = None,
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
    stride
        Pairs of anti-diagonals between two that are kept; changes time and memory, never a result. Chosen
        from the band when left out.

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
    distance, path = _found(first, second, min(band, first.size - 1), stride or stride_of(band))
    return Warping(float(distance), path)


def stride_of(band: int) -> int:
    """Return the stride for a band.

    Parameters
    ----------
    band
        In samples.

    Returns
    -------
    int

    Examples
    --------
    >>> stride_of(150), stride_of(3500)
    (16, 250)
    """
    return max(LEAST_STRIDE, band // STRIDES_A_BAND)


@compiled
def _advance(
    first: Floats,
    backwards: Floats,
    band: int,
    steps: tuple[int, int],
    tip: tuple[int, int],
    origin: int,
    costs: Floats,
    pitch: int,
    rows: int,
) -> int:
    """Compute the costs of a few pairs of anti-diagonals and return where those of the last begin.

    Parameters
    ----------
    first, backwards
        From :func:`_extended`.
    band
        From 0 to ``n - 1``.
    steps
        First pair ``s`` of anti-diagonals, and the one after the last.
    tip
        ``k`` and ``s`` of the cell that must be reached: only cells from which it can be are computed, in
        whole vectors. A tip far behind the end asks for all.
    origin
        Where ``k = 0`` is in a row of costs.
    costs
        ``rows`` times the costs of two anti-diagonals, each ``pitch`` long; the first are those before the
        first step. The rows are used in turn.
    pitch, rows
        As above.
    """
    n = first.size - BEYOND
    half = band // 2
    wide = band % 2 == 1
    here = 0
    for s in range(steps[0], steps[1]):
        reach = tip[1] - s
        low = max(-half, -s, s - n + 1, tip[0] - reach - 1)
        high = min(half, s, n - 1 - s, tip[0] + reach)
        count = (high - low + 2 + VECTOR) // VECTOR * VECTOR
        there = here + 2 * pitch if here + 2 * pitch < 2 * pitch * rows else 0
        begin = origin + low
        two_antidiagonals(
            costs, here + begin, there + begin, pitch, first, s + low, backwards, n - s + low - 1, count
        )
        # Walls of infinity beside the band; an odd band is one cell wider on every second anti-diagonal.
        costs[there + begin - 1] = np.inf
        costs[there + begin - 1 + pitch] = np.inf
        if low == -half and not wide:
            costs[there + begin + pitch] = np.inf
        if high == half:
            wall = there + origin + half + 1
            outermost = np.inf
            if wide:
                difference = first[s + half + 1] - backwards[n - s + half]
                best = min(costs[here + pitch + origin + half + 1], costs[wall - 1])
                outermost = best + difference * difference
            costs[wall] = np.inf
            costs[wall + pitch] = outermost
        here = there
    return here


@compiled
def _extended(first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Return the first curve, and the second from its end, with infinite values beyond their ends."""
    n = first.size
    forward = np.full(n + BEYOND, np.inf)
    forward[:n] = first
    backwards = np.full(n + 1 + BEYOND, -np.inf)
    backwards[1 : n + 1] = second[::-1]
    return forward, backwards


@compiled
def kept_costs(n: int, band: int, stride: int) -> int:
    """Return how many costs are kept for the path between two curves of ``n`` samples."""
    return ((n - 1) // stride + 1) * 2 * _kept_width(band)


@compiled
def _kept_width(band: int) -> int:
    """Return how many costs of an anti-diagonal are kept: those of the band and of its two boundary cells."""
    return 2 * (band // 2) + 3


@compiled
def _forward(
    first: Floats, backwards: Floats, band: int, stride: int, memory: Floats
) -> tuple[float, Floats]:
    """Return the distance, and the costs before every ``stride``-th pair of anti-diagonals.

    The costs that are kept begin with the wall beside the band.
    """
    n = first.size - BEYOND
    half = band // 2
    width = _kept_width(band)
    pitch = (width + 3 * VECTOR) // VECTOR * VECTOR
    origin = half + VECTOR
    costs = np.full(4 * pitch, np.inf)
    # Before the first cell: its cost is its own difference alone.
    costs[origin] = 0.0
    kept = memory[: kept_costs(n, band, stride)].reshape(-1, 2, width)
    for block in range(kept.shape[0]):
        for k in range(width):
            kept[block, 0, k] = costs[VECTOR - 1 + k]
            kept[block, 1, k] = costs[VECTOR - 1 + k + pitch]
        steps = (block * stride, min(n, block * stride + stride))
        if _advance(first, backwards, band, steps, (0, 2 * n), origin, costs, pitch, 2) > 0:
            costs[: 2 * pitch] = costs[2 * pitch :]
    return costs[origin], kept


@compiled
def _way_back(first: Floats, backwards: Floats, band: int, stride: int, kept: Floats) -> Integers:
    """Return the path, from the costs that :func:`_forward` kept."""
    n = first.size - BEYOND
    half = band // 2
    pitch = 2 * stride + 4 * VECTOR
    # Filled, because what is not a number in unused memory would remain so in cells outside the matrix.
    costs = np.full((stride + 1) * 2 * pitch, np.inf)
    path = np.empty((2 * n - 1, 2), np.int32)
    at = 2 * n - 2
    i = j = n - 1
    path[at, 0] = path[at, 1] = i
    for block in range(kept.shape[0] - 1, -1, -1):
        start = block * stride
        if i + j < 2 * start:
            # A diagonal step may leap over the only anti-diagonal of a block.
            continue
        end = (i + j) // 2
        middle = i - end
        origin = stride + VECTOR - middle
        for k in range(max(-half - 1, middle - stride - 2), min(half + 1, middle + stride + 1) + 1):
            costs[origin + k] = kept[block, 0, k + half + 1]
            costs[origin + k + pitch] = kept[block, 1, k + half + 1]
        steps = (start, (i + j + 1) // 2)
        _advance(first, backwards, band, steps, (middle, end), origin, costs, pitch, stride + 1)
        while i + j >= 2 * start and i + j > 0:
            s = (i + j) // 2
            before = (s - start) * 2 * pitch + origin + i - s
            if (i + j) % 2 == 0:
                diagonal, up, left = costs[before], costs[before + pitch], costs[before + pitch + 1]
            else:
                after = before + 2 * pitch
                diagonal, up, left = costs[before + pitch], costs[after - 1], costs[after]
            if left < min(up, diagonal):
                j -= 1
            else:
                i -= 1
                if up >= diagonal:
                    j -= 1
            at -= 1
            path[at, 0] = i
            path[at, 1] = j
    return path[at:].copy()


@compiled
def best_path(
    first: Floats, second: Floats, band: int, stride: int, memory: Floats
) -> tuple[float, Integers]:
    """Return the distance and the path; compiled, for kernels that need both.

    Parameters
    ----------
    first, second
        Shape ``(n,)``, finite.
    band
        From 0 to ``n - 1``.
    stride
        1 or more, from :func:`stride_of`.
    memory
        Buffer of at least :func:`kept_costs` values; its content is overwritten. A caller with many paths
        passes the same buffer for all, because the system clears all memory that it allocates.

    Returns
    -------
    distance : float
        Sum of squared differences.
    path : numpy.ndarray
        Shape ``(l, 2)``, int32, from ``(0, 0)`` to ``(n-1, n-1)``.
    """
    extended, backwards = _extended(first, second)
    distance, kept = _forward(extended, backwards, band, stride, memory)
    return distance, _way_back(extended, backwards, band, stride, kept)


@compiled
def _found(first: Floats, second: Floats, band: int, stride: int) -> tuple[float, Integers]:
    """Hand the best path to Python.

    :func:`best_path` itself cannot: compiled callers keep a copy of it on disk, and where that copy is older
    than the source, both claim one name and arrays no longer reach Python.
    """
    return best_path(first, second, band, stride, np.empty(kept_costs(first.size, band, stride)))
