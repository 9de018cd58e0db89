"""Channels with correlated residuals, which may have one cause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError, SignalError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_LIKENESS: Final = 0.8
"""Two residuals move together from this size of their correlation on (chosen here)."""
LARGEST_LAG: Final = 0.05
"""Largest delay between two residuals, as a share of the interval (chosen here)."""
_ROUNDING: Final = 1e-9
"""Correlations this close count as equal, so that rounding does not choose the delay."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One channel of a cluster.

    Attributes
    ----------
    name
        As given.
    sign
        1 when its residual moves with that of the first member, -1 when it moves against it.
    lag_samples
        By how many samples it follows the first member; negative when it leads.
    likeness
        Size of the correlation with the first member at that lag, in [0, 1]; 1 for the first itself.
    """

    name: str
    sign: int
    lag_samples: int
    likeness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """Channels whose residuals move together.

    Attributes
    ----------
    members
        Two or more, in the order given; the first is what the others are compared with.
    least_likeness
        Smallest size of correlation between any two of them.
    """

    members: tuple[Member, ...]
    least_likeness: float

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the members."""
        return tuple(member.name for member in self.members)


def cluster_residuals(
    residuals: Mapping[str, Floats],
    *,
    least_likeness: float = LEAST_LIKENESS,
    largest_lag: float = LARGEST_LAG,
) -> tuple[Cluster, ...]:
    r"""Group residuals (model minus test) that are alike but for size, sign and a small delay.

    The likeness of two residuals is the largest size of their correlation within the lag,

    .. math:: L_{ab} = \max_{|m| \le M} \frac{\left|\sum_i \tilde a_i \tilde b_{i+m}\right|}
              {\|\tilde a\| \, \|\tilde b\|}

    with the means taken off and zeros beyond the ends. Groups are those of agglomerative clustering with
    complete linkage on :math:`1 - L`, so that every two members of a group are at least so alike.

    Parameters
    ----------
    residuals
        By name, each of shape ``(n,)``, on one time grid. Units need not agree.
    least_likeness
        Between any two members, in (0, 1).
    largest_lag
        As a share of the samples, in [0, 1).

    Returns
    -------
    tuple of Cluster
        Groups of two and more, in the order of their first members. A residual without variation is in none.

    Raises
    ------
    SignalError
        The residuals differ in length or hold a sample that is not finite.
    SettingsError
        A setting is outside what it may be.

    Notes
    -----
    Residuals that move together *may* have one cause. Two unrelated errors at the same instant look alike
    too; see ``docs/diagnosis.md`` for how often.

    References
    ----------
    .. [1] Complete linkage: Sørensen, Kongelige Danske Videnskabernes Selskab, Biologiske Skrifter 5(4)
       (1948), from memory; through scipy. Likeness and limits: chosen here.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.linspace(0.0, 1.0, 400)
    >>> bump = np.exp(-(((time - 0.4) / 0.05) ** 2))
    >>> found = cluster_residuals(
    ...     {"force": bump, "moment": -0.2 * np.roll(bump, 8), "rotation": np.sin(40 * time)}
    ... )
    >>> [(one.name, one.sign, one.lag_samples) for one in found[0].members], len(found)
    ([('force', 1, 0), ('moment', -1, 8)], 1)
    """
    if not 0 < least_likeness < 1:
        raise SettingsError(
            f"the least likeness is {least_likeness!r}", remedy="give a number between 0 and 1"
        )
    if not 0 <= largest_lag < 1:
        raise SettingsError(f"the largest lag is {largest_lag!r}", remedy="give a share from 0 to below 1")
    names, rows = _varying(residuals)
    if len(names) < 2:
        return ()
    signed, lags = _best_correlations(rows, int(largest_lag * rows.shape[1] * (1 + 1e-12)))
    labels = _labels(np.abs(signed), least_likeness)
    groups = [np.flatnonzero(labels == label) for label in dict.fromkeys(labels.tolist())]
    return tuple(_cluster(names, group, signed, lags) for group in groups if group.size > 1)


def _varying(residuals: Mapping[str, Floats]) -> tuple[list[str], Floats]:
    """Return the residuals that vary, their means taken off, each of length one."""
    sizes = {np.shape(values) for values in residuals.values()}
    if len(sizes) > 1 or any(len(size) != 1 for size in sizes):
        raise SignalError(
            "the residuals differ in length: " + ", ".join(sorted(str(size) for size in sizes)),
            remedy="bring them to one time grid",
        )
    names, rows = [], []
    for name, values in residuals.items():
        if not np.all(np.isfinite(values)):
            raise SignalError(
                "a residual holds a sample that is not finite",
                where=f"channel '{name}'",
                remedy="give finite samples",
            )
        centred = np.asarray(values, dtype=np.float64) - np.mean(values)
        length = float(np.linalg.norm(centred))
        # What is left of a constant is rounding.
        if length > 1e-12 * float(np.linalg.norm(values)):
            names.append(name)
            rows.append(centred / length)
    return names, np.array(rows)


def _best_correlations(rows: Floats, most: int) -> tuple[Floats, NDArray[np.int64]]:
    """Return the largest correlation in size of every two rows, with its sign, and its lag."""
    from scipy.fft import irfft, next_fast_len, rfft  # noqa: PLC0415 - loading it takes longer than using it

    count, size = rows.shape
    length = next_fast_len(size + most + 1, real=True)
    spectra = rfft(rows, n=length)
    # Small lags first: of equal correlations the first is taken.
    tried = np.array(sorted(range(-most, most + 1), key=abs))
    signed, lags = np.eye(count), np.zeros((count, count), dtype=np.int64)
    for first in range(count - 1):
        products = irfft(np.conj(spectra[first]) * spectra[first + 1 :], n=length)[:, tried]
        strength = np.abs(products)
        best = np.argmax(strength >= strength.max(axis=1, keepdims=True) - _ROUNDING, axis=1)
        chosen = np.clip(products[np.arange(best.size), best], -1.0, 1.0)
        signed[first, first + 1 :] = signed[first + 1 :, first] = chosen
        lags[first, first + 1 :] = tried[best]
        lags[first + 1 :, first] = -tried[best]
    return signed, lags


def _labels(likeness: Floats, least: float) -> NDArray[np.int64]:
    from scipy.cluster.hierarchy import fcluster, linkage  # noqa: PLC0415 - loading it takes longer than using it
    from scipy.spatial.distance import squareform  # noqa: PLC0415

    tree = linkage(squareform(1.0 - likeness, checks=False), method="complete")
    labels: NDArray[np.int64] = fcluster(tree, t=1.0 - least + _ROUNDING, criterion="distance").astype(
        np.int64
    )
    return labels


def _cluster(names: list[str], group: NDArray[np.intp], signed: Floats, lags: NDArray[np.int64]) -> Cluster:
    first = int(group[0])
    members = tuple(
        Member(
            name=names[one],
            sign=1 if signed[first, one] >= 0 else -1,
            lag_samples=int(lags[first, one]),
            likeness=abs(float(signed[first, one])),
        )
        for one in group.tolist()
    )
    return Cluster(members=members, least_likeness=float(np.abs(signed[np.ix_(group, group)]).min()))
