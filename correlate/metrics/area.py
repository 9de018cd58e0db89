"""The area between the distribution of repeats and that of model runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SignalError
from correlate.samples import frozen_samples

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from correlate.metrics.repeats import AlignedRepeats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """Area between distributions, over time.

    Attributes
    ----------
    area
        Mean over time of the area at each instant over the mean absolute value of the repeats; 0 is perfect.
    course
        Shape ``(n,)``: the area at each instant, in the unit of the curves.
    """

    area: float
    course: NDArray[np.float64]


def area_between(references: ArrayLike, candidates: ArrayLike) -> float:
    r"""Return the area between the distributions of a quantity in the repeats and in the runs.

    .. math:: d = \int_{-\infty}^{\infty} |F_c(x) - F_r(x)|\,dx

    Parameters
    ----------
    references
        Value of the quantity in each repeat, shape ``(k,)``, k 1 or more.
    candidates
        Value in each run of the model, shape ``(j,)``, j 1 or more.

    Returns
    -------
    float
        In the unit of the quantity; 0 for equal distributions.

    Raises
    ------
    SignalError
        A value is not finite, or there is none.

    References
    ----------
    .. [1] Ferson, Oberkampf, Ginzburg, "Model validation and predictive capability for the thermal challenge
       problem", Computer Methods in Applied Mechanics and Engineering 197 (2008); ASME V&V 10 tradition.
       From memory.

    Examples
    --------
    >>> area_between([690.0, 700.0, 710.0], [720.0])
    20.0
    """
    return float(_areas(_column(references, "references"), _column(candidates, "candidates"))[0])


def area(repeats: AlignedRepeats) -> Area:
    r"""Return the area between the distributions at each instant, averaged over time.

    .. math:: A = \frac{\sum_i d(t_i)}{\frac{1}{k} \sum_k \sum_i |r_k(t_i)|}

    Parameters
    ----------
    repeats
        One or more repeats :math:`r` and runs. With one of each, :math:`d(t)` is the absolute error.

    Returns
    -------
    Area

    Raises
    ------
    SignalError
        The repeats are zero throughout.

    References
    ----------
    .. [1] Ferson, Oberkampf, Ginzburg (2008) for one quantity, from memory; the average over time and what it
       is divided by are choices made here.

    Examples
    --------
    >>> from correlate.metrics.repeats import AlignedRepeats
    >>> repeats = AlignedRepeats(time=[0, 1], references=[[0, 9], [0, 11]], candidates=[[0, 12]])
    >>> area(repeats).area
    0.2
    """
    course = _areas(repeats.references, repeats.candidates)
    size = float(np.abs(repeats.references).mean(axis=0).sum())
    if size == 0.0:
        raise SignalError(
            "the repeats are zero throughout the interval, so nothing can be measured against them",
            remedy="check the channel and the interval of evaluation",
        )
    return Area(area=float(course.sum()) / size, course=course)


def _areas(references: NDArray[np.float64], candidates: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the area of every column of two tables, one row per repeat or run."""
    values = np.concatenate([references, candidates])
    shares = np.concatenate(
        [
            np.full(references.shape[0], -1.0 / references.shape[0]),
            np.full(candidates.shape[0], 1.0 / candidates.shape[0]),
        ]
    )
    order = np.argsort(values, axis=0, kind="stable")
    between = np.abs(np.cumsum(shares[order], axis=0)[:-1])
    widths = np.diff(np.take_along_axis(values, order, axis=0), axis=0)
    return np.asarray((between * widths).sum(axis=0), dtype=np.float64)


def _column(values: ArrayLike, name: str) -> NDArray[np.float64]:
    given = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if given.ndim != 1 or not given.size:
        raise SignalError(f"the {name} have shape {given.shape}", remedy="give one row of values")
    # One value is repeated, because samples are at least two; a distribution does not change by that.
    checked = frozen_samples(given if given.size > 1 else np.repeat(given, 2), channel=name)
    return checked[:, np.newaxis]
