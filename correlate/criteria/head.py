"""Head criteria: HIC, severity index and BrIC."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled
from correlate.criteria.result import CriterionResult, checked_curves, checked_positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

    Integers = NDArray[np.int64]


_ROUNDING: Final = 1.0 + 1e-12
"""A window that would be better by less than this is not looked for: sums are no more exact."""
_GRID_TOLERANCE: Final = 1e-6


def hic(acceleration_g: ArrayLike, *, step_s: float, window_s: float) -> CriterionResult:
    r"""Return the head injury criterion.

    .. math:: \mathrm{HIC} = \max_{t_1 < t_2 \le t_1 + w} (t_2 - t_1)
              \left[\frac{1}{t_2 - t_1} \int_{t_1}^{t_2} a\,dt\right]^{2.5}

    Parameters
    ----------
    acceleration_g
        Resultant head acceleration :math:`a`, shape ``(n,)``, g.
    step_s
        Sampling interval, s.
    window_s
        Longest window :math:`w`, s: 0.015 for HIC15, 0.036 for HIC36.

    Returns
    -------
    CriterionResult
        ``value`` (the customary unit of g and s is left out), 0 where no window has a mean above zero;
        ``start_s`` and ``end_s`` are :math:`t_1` and :math:`t_2` of one of the best windows.

    Raises
    ------
    SettingsError
        The step or the window is not above zero, or the window is shorter than the step.
    SignalError
        Fewer than two samples, or one that is not finite.

    Notes
    -----
    Windows begin and end at samples; the integral is the trapezoidal one. Windows whose mean is not above
    zero do not count.

    References
    ----------
    .. [1] 49 CFR 571.208 S6.2. Search by bounds: derived here.

    Examples
    --------
    >>> import numpy as np
    >>> pulse = np.full(101, 100.0)
    >>> found = hic(pulse, step_s=1e-4, window_s=0.015)
    >>> round(found.value, 9), round(found.end_s - found.start_s, 9)
    (1000.0, 0.01)
    """
    (curve,) = checked_curves(step_s, acceleration_g=acceleration_g)
    longest = math.floor(checked_positive("window_s", window_s) / step_s + _GRID_TOLERANCE)
    checked_positive("window_s in samples", longest)
    cells = 0.5 * (curve[:-1] + curve[1:])
    speed = np.concatenate([[0.0], np.cumsum(cells)]) * step_s
    longest = min(longest, curve.size - 1)
    tables = (*_extremes(speed), _running_maxima(cells))
    guess = _first_guess(speed, float(step_s), longest)
    value, start, end = _search(guess, tables, float(step_s), longest)
    return CriterionResult(value=value, start_s=start * step_s, end_s=end * step_s)


def _first_guess(speed: Floats, step: float, longest: int) -> tuple[float, int, int]:
    """Try every start with lengths of 1, 2, 4 … samples and the longest."""
    best, start, end = 0.0, 0, 0
    lengths = [1 << power for power in range(longest.bit_length()) if 1 << power < longest]
    for length in [*lengths, longest]:
        changes = speed[length:] - speed[:-length]
        first = int(np.argmax(changes))
        change = float(changes[first])
        worth = change**2.5 / (length * step) ** 1.5 if change > 0 else 0.0
        if worth > best:
            best, start, end = worth, first, first + length
    return best, start, end


def _extremes(speed: Floats) -> tuple[Floats, Floats]:
    """Return least and largest speed of every block: those of 1 sample, then those of 2, 4 and so on."""
    levels = [(_padded(speed, np.inf), _padded(speed, -np.inf))]
    while levels[-1][0].size > 1:
        least, largest = levels[-1]
        levels.append((least.reshape(-1, 2).min(axis=1), largest.reshape(-1, 2).max(axis=1)))
    return np.concatenate([least for least, _ in levels]), np.concatenate([most for _, most in levels])


def _padded(speed: Floats, filling: float) -> Floats:
    """Return the speeds, filled up to a power of two."""
    size = 1 << (speed.size - 1).bit_length()
    return np.concatenate([speed, np.full(size - speed.size, filling)])


def _running_maxima(cells: Floats) -> Floats:
    """Return ``table[k, i]``, the largest of ``cells[i : i + 2^k]``."""
    table = np.full((cells.size.bit_length(), cells.size), -np.inf)
    table[0] = cells
    for level in range(1, table.shape[0]):
        half = 1 << (level - 1)
        count = cells.size - 2 * half + 1
        table[level, :count] = np.maximum(table[level - 1, :count], table[level - 1, half : half + count])
    return table


@compiled
def _largest_between(table: Floats, start: int, stop: int) -> float:
    """Return the largest cell from ``start`` to ``stop - 1``."""
    level = 0
    while 1 << (level + 1) <= stop - start:
        level += 1
    return float(max(table[level, start], table[level, stop - (1 << level)]))


@compiled
def _blocks_before(level: int, size: int) -> int:
    """Return where the blocks of a level begin in a table of extremes of a size."""
    return size + 1 - ((size + 1) >> level)


@compiled
def _bound(
    blocks: tuple[int, int, int], tables: tuple[Floats, Floats, Floats], step: float, longest: int
) -> float:
    """Return the most that a window can be worth; ``blocks`` is level, block of starts, block of ends."""
    level, first, second = blocks
    least, largest, maxima = tables
    size = maxima.shape[1] + 1
    low_i, low_j = first << level, second << level
    high_i, high_j = min(low_i + (1 << level), size) - 1, min(low_j + (1 << level), size) - 1
    shortest, widest = max(1, low_j - high_i), min(longest, high_j - low_i)
    if shortest > longest or widest < 1:
        return 0.0
    strongest = _largest_between(maxima, low_i, high_j)
    before = _blocks_before(level, least.size)
    change = min(largest[before + second] - least[before + first], strongest * widest * step)
    if change <= 0.0:
        return 0.0
    mean = min(strongest, change / (shortest * step))
    return float(change * mean * math.sqrt(mean))


@compiled
def _search(
    guess: tuple[float, int, int], tables: tuple[Floats, Floats, Floats], step: float, longest: int
) -> tuple[float, int, int]:
    """Return the worth of the best window and its first and last sample."""
    best, start, end = guess
    samples = tables[2].shape[1] + 1
    levels = 1
    while 1 << (levels - 1) < samples:
        levels += 1
    # Each opened pair of blocks leaves at most three others waiting, one level further down.
    waiting = np.zeros((4 * levels + 4, 3), np.int64)
    waiting[0, 0] = levels - 1
    count = 1
    while count > 0:
        count -= 1
        level, first, second = waiting[count, 0], waiting[count, 1], waiting[count, 2]
        worth = _bound((level, first, second), tables, step, longest)
        if worth <= best * _ROUNDING:
            continue
        if level == 0:
            best, start, end = worth, first, second
            continue
        blocks = (samples + (1 << (level - 1)) - 1) >> (level - 1)
        for part_i in range(2 * first, min(2 * first + 2, blocks)):
            for part_j in range(max(part_i, 2 * second), min(2 * second + 2, blocks)):
                waiting[count, 0], waiting[count, 1], waiting[count, 2] = level - 1, part_i, part_j
                count += 1
    return best, start, end


def severity_index(acceleration_g: ArrayLike, *, step_s: float) -> CriterionResult:
    r"""Return the severity index.

    .. math:: \mathrm{SI} = \int a^{2.5}\,dt

    Parameters
    ----------
    acceleration_g
        Resultant acceleration :math:`a`, shape ``(n,)``, g; below zero it counts as zero.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        The stretch of time is that of the whole curve.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] Gadd, "Use of a weighted-impulse criterion for estimating injury hazard", SAE 660793 (1966);
       trapezoidal rule.

    Examples
    --------
    >>> import numpy as np
    >>> round(severity_index(np.full(101, 100.0), step_s=1e-4).value, 9)
    1000.0
    """
    (curve,) = checked_curves(step_s, acceleration_g=acceleration_g)
    powers = np.maximum(curve, 0.0) ** 2.5
    area = step_s * float(powers.sum() - 0.5 * (powers[0] + powers[-1]))
    return CriterionResult(value=area, start_s=0.0, end_s=(curve.size - 1) * float(step_s))


CRITICAL_RATES: Final = (66.25, 56.45, 42.87)
"""Critical angular velocities about x, y and z, rad/s (Takhounts et al. 2013, from memory)."""


def bric(
    rate_x_rad_per_s: ArrayLike,
    rate_y_rad_per_s: ArrayLike,
    rate_z_rad_per_s: ArrayLike,
    *,
    step_s: float,
    critical_rad_per_s: tuple[float, float, float] = CRITICAL_RATES,
) -> CriterionResult:
    r"""Return the brain injury criterion.

    .. math:: \mathrm{BrIC} = \sqrt{\sum_{i=x,y,z} \left(\frac{\max_t |\omega_i|}{\omega_{ic}}\right)^2}

    Parameters
    ----------
    rate_x_rad_per_s, rate_y_rad_per_s, rate_z_rad_per_s
        Angular velocity :math:`\omega` of the head, shape ``(n,)``, rad/s, CFC 60.
    step_s
        Sampling interval, s.
    critical_rad_per_s
        :math:`\omega_{ic}`, rad/s.

    Returns
    -------
    CriterionResult
        ``value`` is dimensionless. The maxima of the axes need not coincide: the times run from the first of
        them to the last.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] Takhounts, Craig, Moorhouse, McFadden, Hasija, "Development of brain injury criteria (BrIC)", Stapp
       Car Crash Journal 57 (2013). Constants from memory.

    Examples
    --------
    >>> round(bric([0, 66.25], [0, 56.45], [42.87, 0], step_s=1e-3).value ** 2, 12)
    3.0
    """
    curves = checked_curves(
        step_s,
        rate_x_rad_per_s=rate_x_rad_per_s,
        rate_y_rad_per_s=rate_y_rad_per_s,
        rate_z_rad_per_s=rate_z_rad_per_s,
    )
    for axis, critical in zip("xyz", critical_rad_per_s, strict=True):
        checked_positive(f"critical_rad_per_s, axis {axis}", critical)
    indices = [int(np.argmax(np.abs(curve))) for curve in curves]
    shares = [
        abs(float(curve[index])) / critical
        for curve, index, critical in zip(curves, indices, critical_rad_per_s, strict=True)
    ]
    return CriterionResult(
        value=math.hypot(*shares), start_s=min(indices) * float(step_s), end_s=max(indices) * float(step_s)
    )
