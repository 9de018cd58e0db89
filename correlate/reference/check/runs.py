"""Runs of equal samples: how long chance makes them, and whether the curve meets them at a corner."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

CHANCE: Final = 1e-6
"""Probability left for a run of equal samples to be chance, over the whole record."""
SHORTEST: Final = 4
"""No run shorter than this many samples is called too long for chance."""


def runs_of(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the stretches of true values.

    Parameters
    ----------
    flags
        Shape ``(n,)``.

    Returns
    -------
    list of (int, int)
        First index and the index behind the last.

    Examples
    --------
    >>> import numpy as np
    >>> runs_of(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    padded = np.concatenate(([False], flags, [False]))
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]


def chance_length(facts: ChannelFacts) -> float:
    r"""Return the longest run of equal samples that noise explains.

    With :math:`q` the share of samples equal to the one before in the quiet stretch, a run of :math:`L`
    samples occurs by chance in :math:`n` samples with probability :math:`n\,q^{L-1}` at most.

    Parameters
    ----------
    facts
        Of the channel.

    Returns
    -------
    float
        Samples; infinite when there is no quiet stretch or nothing moves in it.

    References
    ----------
    .. [1] Union bound over the starts of a run: derived here.
    """
    if not facts.has_quiet:
        return math.inf
    quiet = facts.signal.samples[facts.quiet]
    equal = int((np.diff(quiet) == 0).sum())
    # one more than counted, so that a short quiet stretch does not promise too much
    share = (equal + 1) / (quiet.size + 1)
    if share > 0.7:
        return math.inf
    return max(SHORTEST - 1, 1 + math.log(CHANCE / len(facts.signal)) / math.log(share))


def corner_sharpness(samples: NDArray[np.float64], run: tuple[int, int], grain: float) -> float:
    r"""Compare the slope beside a run of equal samples with that of a round top of the same length.

    A parabola that stays within one grain :math:`g` over :math:`L` samples meets the ends of the run with
    the slope :math:`4 g / L`, and has half as much again over the next :math:`L/2` samples.

    Parameters
    ----------
    samples
        Shape ``(n,)``.
    run
        First index and the index behind the last.
    grain
        Smallest difference that counts, in the unit of the samples.

    Returns
    -------
    float
        Smaller of the two slopes over that of the parabola; 0 when the run touches an end.

    References
    ----------
    .. [1] Derived here.
    """
    start, stop = run
    length = stop - start
    reach = max(2, length // 2)
    if start - reach < 0 or stop - 1 + reach >= samples.size or grain <= 0:
        return 0.0
    into = abs(samples[start] - samples[start - reach]) / reach
    out = abs(samples[stop - 1] - samples[stop - 1 + reach]) / reach
    return float(min(into, out)) / (4 * grain / length)
