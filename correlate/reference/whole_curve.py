"""Whole curves: a band that contains all of a further curve, and a test of each repeat against the others."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.reference.corridor import check_level, corridor_of
from correlate.samples import handed_over
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.reference.corridor import Corridor
    from correlate.reference.repeats import RepeatSet

    Floats = NDArray[np.float64]

LEAST_REPEATS: Final = 3
"""Fewest repeats for a whole curve."""
WHOLE: Final = 1.65
"""How many times wider a band for whole curves is than one for instants. Found by simulation on one kind
of curve and tested on others: see ``docs/statistics-hardware.md``."""


def least_scatter(curves: Floats) -> Floats:
    """Return the standard deviation of repeats, at least its root mean square over time.

    Parameters
    ----------
    curves
        Shape ``(k, n)``, two repeats or more.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``.

    Examples
    --------
    >>> least_scatter(np.array([[0.0, 1.0, 3.0], [0.0, 1.0, 5.0], [0.0, 1.0, 7.0]])).round(3).tolist()
    [1.155, 1.155, 2.0]
    """
    variance = curves.var(axis=0, ddof=1)
    return np.asarray(np.sqrt(np.maximum(variance, variance.mean())))


def whole_curve_corridor(repeats: RepeatSet, *, level: float = LEVEL) -> Corridor:
    r"""Return a band that contains a further curve at all instants with a given probability.

    .. math:: \bar x(t) \pm A\; t_{(1 + p)/2,\,n - 1}\; \tilde s(t)\, \sqrt{1 + 1/n}, \qquad
              \tilde s^2(t) = \max\bigl(s^2(t),\ \overline{s^2}\bigr)

    Parameters
    ----------
    repeats
        Three or more.
    level
        :math:`p`, in (0, 1).

    Returns
    -------
    Corridor

    Raises
    ------
    SignalError
        There are fewer than three repeats.
    SettingsError
        `level` is not between 0 and 1.

    Notes
    -----
    The standard deviation of few repeats is close to zero somewhere by chance, so it counts for no less than
    its root mean square over time. The largest distance of a further curve, in that standard deviation,
    is then distributed much like :math:`A\,|t_{n-1}|`: scatter of curves is a scatter of few numbers (size,
    time, shape), which is why one factor serves for three to ten repeats.

    References
    ----------
    .. [1] Prediction interval: any textbook. :math:`A` = 1.65 and the floor: derived here, by simulation;
       coverage on curves that took no part: ``docs/statistics-hardware.md``.
    """
    check_level(level)
    count = len(repeats)
    if count < LEAST_REPEATS:
        raise SignalError(
            f"a band for whole curves needs {LEAST_REPEATS} repeats or more, this channel has {count}",
            where=repeats.channel,
            remedy="add repeats, or choose another corridor",
        )
    times = WHOLE * student_quantile((1 + level) / 2, count - 1) * math.sqrt(1 + 1 / count)
    half = times * least_scatter(repeats.curves)
    return corridor_of(
        repeats,
        repeats.mean,
        handed_over(repeats.mean - half),
        handed_over(repeats.mean + half),
        kind=f"{level:.0%} of further tests, whole curve",
        assumptions=(
            f"a further test lies inside at all instants with probability {level:.0%}",
            "the repeats are independent draws; their size, time and shape are normally distributed",
            "the standard deviation is taken to be at least its root mean square over time",
        ),
    )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class UnlikeRepeats:
    """A test of each repeat as a whole curve against the others.

    Attributes
    ----------
    distances
        Root mean square distance of each repeat from the mean of the others, over what their scatter lets
        expect: about 1 for a repeat like the others.
    p_values
        Of each repeat, already multiplied by the number of repeats.
    """

    distances: tuple[float, ...]
    p_values: tuple[float, ...]

    def unlike(self, level: float = LEVEL) -> tuple[int, ...]:
        """Return the places of the repeats that are unlike the others.

        A false alarm is raised in ``1 - level`` of all sets of repeats at most, if their scatter is normal.
        """
        return tuple(place for place, one in enumerate(self.p_values) if one < 1 - level)


def unlike_repeats(repeats: RepeatSet) -> UnlikeRepeats | None:
    r"""Test whether a repeat is, as a whole curve, unlike the others.

    With mean :math:`m_i` and standard deviation :math:`s_i(t)` of the other :math:`n - 1` repeats

    .. math:: F_i = \frac{n - 1}{n}\, \frac{\sum_t (x_i - m_i)^2}{\sum_t s_i^2}
              \sim F_{\kappa,\ \kappa (n - 2)}

    The effective number of dimensions :math:`\kappa = (\sum \lambda)^2 / \sum \lambda^2` comes from the
    eigenvalues :math:`\lambda` of the covariance of all repeats over time. The least p-value of :math:`n`
    repeats is multiplied by :math:`n` (Bonferroni).

    Parameters
    ----------
    repeats
        As recorded; among aligned ones it does not show that one was late.

    Returns
    -------
    UnlikeRepeats or None
        None with fewer than three repeats, and where the repeats do not scatter.

    References
    ----------
    .. [1] F test for curves with effective degrees of freedom: Shen, Faraway, Statistica Sinica 14 (2004)
       1239-1257, from memory. Each repeat against the others: derived here. False alarms and power:
       ``docs/statistics-hardware.md``.

    Examples
    --------
    >>> from correlate import Signal
    >>> from correlate.reference.repeats import repeat_set
    >>> def flat(value: float) -> Signal:
    ...     return Signal(samples=np.full(30, value), start_s=0, step_s=1e-4, unit="N", channel="force")
    >>> found = unlike_repeats(repeat_set([flat(9.9), flat(10), flat(10.1), flat(10), flat(12)]))
    >>> found.unlike(), round(found.p_values[4], 4)
    ((4,), 0.001)
    """
    count = len(repeats)
    deviations = repeats.curves - repeats.mean
    products = deviations @ deviations.T
    total = float(np.trace(products))
    if count < LEAST_REPEATS or total <= (1e-12 * float(np.abs(repeats.curves).max())) ** 2:
        return None
    from scipy.special import fdtrc  # noqa: PLC0415 - slow to load

    own = np.diag(products)
    # A repeat lies n / (n - 1) of its deviation from the mean of the others; what is left is theirs.
    others = np.maximum(total - own * count / (count - 1), 1e-12 * total) / (count - 2)
    ratios = own * count / (count - 1) / others
    dimensions = total**2 / float((products**2).sum())
    tails = fdtrc(dimensions, dimensions * (count - 2), ratios)
    return UnlikeRepeats(
        distances=tuple(np.sqrt(ratios).tolist()),
        p_values=tuple(np.minimum(count * tails, 1.0).tolist()),
    )
