"""Dynamic time warping inside a band: the compiled kernel.

The band is visited along anti-diagonals. The cells of one anti-diagonal do not depend on each other, so
the compiler turns the inner loop into vector instructions; row by row it cannot.

The way forward keeps costs alone, and two neighbouring anti-diagonals of them at every ``stride``-th one. The
way back starts at the last point and needs, within one stride, only the triangle of cells that can reach
that point: their costs are made again with the direction each came from. So no matrix of directions exists,
memory grows with the number of samples, and the second look costs ``stride / (2·band)`` of the first.

A few pairs can go forward side by side (:func:`best_paths`): the vectors are then filled across pairs, lie
where the processor loads them fastest, and what begins and ends an anti-diagonal is done once for all.

Cost: about ``n · (2·band + 1)`` cells; one cell took 0.3 to 0.6 ns where it was measured
(``docs/performance.md``).
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
    Counts = NDArray[np.int64]

STRIDES_A_BAND: Final = 7
"""A stride is this part of the band: fewer would make triangles larger, more would keep more costs."""

LEAST_STRIDE: Final = 24
"""Below it, starting a triangle costs more than its cells."""


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
        Anti-diagonals between two kept ones; changes time and memory, never a result. Chosen from the band
        when left out.

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
    (24, 500)
    """
    return max(LEAST_STRIDE, band // STRIDES_A_BAND)


@compiled
def _first_row(d: int, n: int, band: int) -> int:
    """Return the least index of the first curve on anti-diagonal ``d`` inside the band."""
    return max(0, d - n + 1, (d - band + 1) // 2)


@compiled
def _last_row(d: int, n: int, band: int) -> int:
    """Return the largest index of the first curve on anti-diagonal ``d`` inside the band."""
    return min(n - 1, d, (d + band) // 2)


@compiled
def _kept_from(d: int, n: int, band: int) -> int:
    """Return where, in the costs, the kept part of the two anti-diagonals before ``d`` begins."""
    return max(0, _first_row(d, n, band) - 2)


@compiled
def _keep(before: Floats, previous: Floats, start: int, kept: Floats) -> None:
    """Copy the part of two anti-diagonals that lies in the band."""
    for k in range(min(kept.shape[1], before.size - start)):
        kept[0, k] = before[start + k]
        kept[1, k] = previous[start + k]


@compiled
def _forward(
    first: Floats,
    backwards: Floats,
    sizes: Counts,
    bands: Counts,
    stride: int,
    costs: Floats,
    kept: Floats,
    distances: Floats,
) -> None:
    """Leave the distances, and in ``kept`` the costs before every ``stride``-th anti-diagonal.

    Pairs lie side by side: sample 0 of every pair, sample 1 of every pair, and so on. The loops run over the
    widest band and the longest pair; what a smaller pair computes outside its own reaches no cell inside it.

    A row of ``costs`` holds one anti-diagonal of all pairs, indexed by row + 1, with walls of infinity on
    both sides of each.
    """
    lanes, band = sizes.size, bands.max()
    n = first.size // lanes
    before, previous, current = costs[0], costs[1], costs[2]
    for d in range(2 * n - 1):
        low, high = _first_row(d, n, band), _last_row(d, n, band)
        if d % stride == 0:
            _keep(before, previous, _kept_from(d, n, band) * lanes, kept[d // stride])
        here, end, offset = low * lanes, (high + 1) * lanes, (n - 1 - d) * lanes
        a = first[here:end]
        b = backwards[here + offset : end + offset]
        diagonal, up, left = before[here:end], previous[here:end], previous[here + lanes : end + lanes]
        cost = current[here + lanes : end + lanes]
        # Slices share no element, so this becomes vector instructions; a function of its own is slower.
        for k in range(cost.size):
            difference = a[k] - b[k]
            best = up[k] if up[k] < diagonal[k] else diagonal[k]
            best = left[k] if left[k] < best else best
            cost[k] = best + difference * difference
        if d == 0:
            for lane in range(lanes):
                cost[lane] = (a[lane] - b[lane]) * (a[lane] - b[lane])
        for lane in range(lanes):
            current[_first_row(d, n, bands[lane]) * lanes + lane] = np.inf
            current[(_last_row(d, n, bands[lane]) + 2) * lanes + lane] = np.inf
            if d == 2 * sizes[lane] - 2:
                distances[lane] = current[sizes[lane] * lanes + lane]
        before, previous, current = previous, current, before


@compiled
def _triangle(
    first: Floats, backwards: Floats, band: int, start: int, tip: tuple[int, int], costs: Floats, found: Bytes
) -> None:
    """Make again the cells from anti-diagonal ``start`` on that can reach the cell in row ``tip[0]``.

    ``tip`` is the row and the anti-diagonal of that cell. Directions go to ``found``: one row an
    anti-diagonal, beginning with the first row of the triangle. Cells outside the triangle may hold
    anything: none inside asks them.
    """
    n = first.size
    row, last = tip
    edge = row - (last - start)
    before, previous, current = costs[0], costs[1], costs[2]
    for d in range(start, last + 1):
        low, high = max(_first_row(d, n, band), row - (last - d)), min(_last_row(d, n, band), row)
        offset = n - 1 - d
        direction = found[d - start]
        # A row here is about a dozen cells: making slices takes longer than walking it. An unsigned index
        # cannot count from the end, so nothing asks whether it does.
        for i in range(low, high + 1):
            at = np.uint64(i)
            difference = first[at] - backwards[np.uint64(i + offset)]
            diagonal, up, left = before[at], previous[at], previous[np.uint64(i + 1)]
            best = up if up < diagonal else diagonal
            step = np.uint8(1) if up < diagonal else np.uint8(0)
            step = np.uint8(2) if left < best else step
            best = left if left < best else best
            current[np.uint64(i + 1)] = best + difference * difference
            direction[np.uint64(i - edge)] = step
        if d == 0:
            current[1] = (first[0] - backwards[n - 1]) * (first[0] - backwards[n - 1])
        current[low] = np.inf
        current[high + 2] = np.inf
        before, previous, current = previous, current, before


@compiled
def _restore(kept: Floats, start: int, lanes: int, low: int, high: int, costs: Floats) -> None:
    """Put kept costs ``low`` to ``high`` of one pair back where :func:`_triangle` looks for them.

    ``kept`` begins with the first value of this pair; the next one is ``lanes`` further on.
    """
    held = (kept.shape[1] + lanes - 1) // lanes
    for k in range(max(low, start), min(high + 1, start + held, costs.shape[1])):
        costs[0, k] = kept[0, (k - start) * lanes]
        costs[1, k] = kept[1, (k - start) * lanes]


@compiled
def _way_back(
    first: Floats,
    backwards: Floats,
    band: int,
    stride: int,
    kept: Floats,
    lanes: int,
    widest: tuple[int, int],
) -> Integers:
    """Return the path of one pair, from the costs that :func:`_forward` kept.

    ``kept`` begins with the first value of this pair; ``widest`` is the size and the band that it was kept
    for.
    """
    n = first.size
    path = np.empty((2 * n - 1, 2), np.int32)
    found = np.empty((stride, stride), np.uint8)
    costs = np.empty((3, n + 2))
    i = j = n - 1
    path[0, 0] = path[0, 1] = i
    length = 1
    for index in range((2 * n - 2) // stride, -1, -1):
        start = index * stride
        if i + j < start:
            # A diagonal step may leap over the only anti-diagonal of a block.
            continue
        left = i - (i + j - start)
        _restore(kept[index], _kept_from(start, widest[0], widest[1]), lanes, left - 1, i + 2, costs)
        _triangle(first, backwards, band, start, (i, i + j), costs, found)
        while i + j >= start and i + j > 0:
            step = found[i + j - start, i - left]
            if step != 2:
                i -= 1
            if step != 1:
                j -= 1
            path[length, 0] = i
            path[length, 1] = j
            length += 1
    return path[:length][::-1].copy()


@compiled
def _kept_shape(n: int, band: int, stride: int, lanes: int) -> tuple[int, int, int]:
    """Return the shape of the kept costs.

    Two more than the band is wide on either side: walls, and the drift of the band over two anti-diagonals.
    """
    return (2 * n - 2) // stride + 1, 2, (band + 6) * lanes


@compiled
def room_for(n: int, band: int, stride: int, lanes: int) -> int:
    """Return how many numbers :func:`best_paths` needs room for.

    Parameters
    ----------
    n, band
        Of the longest and of the widest pair.
    stride
        From :func:`stride_of`.
    lanes
        Pairs side by side.

    Returns
    -------
    int
    """
    blocks, two, width = _kept_shape(n, band, stride, lanes)
    return (5 * n + 6) * lanes + blocks * two * width


@compiled
def best_path(first: Floats, second: Floats, band: int, stride: int) -> tuple[float, Integers]:
    """Return the distance and the path; compiled, for kernels that need both.

    Parameters
    ----------
    first, second
        Shape ``(n,)``.
    band
        From 0 to ``n - 1``.
    stride
        1 or more, from :func:`stride_of`.

    Returns
    -------
    distance : float
        Sum of squared differences.
    path : numpy.ndarray
        Shape ``(l, 2)``, int32, from ``(0, 0)`` to ``(n-1, n-1)``.
    """
    n = first.size
    backwards = second[::-1].copy()
    costs = np.full((3, n + 2), np.inf)
    kept = np.empty(_kept_shape(n, band, stride, 1))
    distance = np.empty(1)
    _forward(first, backwards, np.array([n]), np.array([band]), stride, costs, kept, distance)
    return distance[0], _way_back(first, backwards, band, stride, kept, 1, (n, band))


@compiled
def best_paths(
    first: Floats, second: Floats, sizes: Counts, bands: Counts, stride: int, room: Floats
) -> tuple[Floats, list[Integers]]:
    """Return the distances and the paths of a few pairs side by side, for compiled callers.

    Every result is that of :func:`best_path`, to the last bit: the pairs only share vector instructions.

    Parameters
    ----------
    first, second
        Shape ``(m, n)``: a pair a row, of which the first ``sizes[row]`` samples count; all are finite.
    sizes
        Shape ``(m,)``, the largest of them ``n``.
    bands
        Shape ``(m,)``, each from 0 to its size less 1.
    stride
        1 or more, of all.
    room
        Shape ``(k,)`` with ``k`` of :func:`room_for` or more, overwritten: asking the system for this memory
        anew for every few pairs takes as long as half the warping where it is given back each time.

    Returns
    -------
    distances : numpy.ndarray
        Shape ``(m,)``.
    paths : list of numpy.ndarray
        As of :func:`best_path`.
    """
    lanes, n = first.shape
    widest = (n, bands.max())
    shape = _kept_shape(n, widest[1], stride, lanes)
    end = n * lanes
    across, against = room[:end], room[end : 2 * end]
    costs = room[2 * end : 5 * end + 6 * lanes].reshape(3, end + 2 * lanes)
    kept = room[5 * end + 6 * lanes :][: shape[0] * shape[1] * shape[2]].reshape(shape)
    costs[:] = np.inf
    for lane in range(lanes):
        for k in range(n):
            # Behind the end of a shorter pair stands anything finite.
            across[k * lanes + lane] = first[lane, k]
            against[(n - 1 - k) * lanes + lane] = second[lane, k]
    distances = np.empty(lanes)
    _forward(across, against, sizes, bands, stride, costs, kept, distances)
    paths = []
    for lane in range(lanes):
        size = sizes[lane]
        backwards = second[lane, :size][::-1].copy()
        own = kept[:, :, lane:]
        paths.append(_way_back(first[lane, :size], backwards, bands[lane], stride, own, lanes, widest))
    return distances, paths


@compiled
def _found(first: Floats, second: Floats, band: int, stride: int) -> tuple[float, Integers]:
    """Hand the best path to Python.

    :func:`best_path` itself cannot: compiled callers keep a copy of it on disk, and where that copy is older
    than the source, both claim one name and arrays no longer reach Python.
    """
    return best_path(first, second, band, stride)
