"""Channels that are the same recording under two names."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.finding import Finding
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

    Floats = NDArray[np.float64]

BELOW_NOISE: Final = 0.05
"""Two recordings of one quantity differ by their noise; copies differ by less than this share of it."""


@dataclass(frozen=True, slots=True)
class _Copy:
    factor: float
    rest: float


def examine_copies(facts: Sequence[ChannelFacts], earlier: Sequence[ChannelFacts]) -> Iterator[Finding]:
    """Look for channels that equal another, up to a factor, down to their noise.

    Parameters
    ----------
    facts
        Channels of one test.
    earlier
        Channels of other tests; those of the same name are compared.

    Yields
    ------
    Finding
        ``copy``, for the later channel of each pair within the test and for every channel that another test
        holds under the same name: an error, or a warning where the two measure different things, because
        one may have been computed from the other.
    """
    for index, one in enumerate(facts):
        most = _largest_rest(one)
        same_name = [other for other in earlier if other.signal.channel == one.signal.channel]
        for other in (*facts[:index], *same_name):
            copy = _copied(one, other, most)
            if copy:
                yield _finding(one, other, copy)


def _copied(one: ChannelFacts, other: ChannelFacts, most: float) -> _Copy | None:
    a, b = one.signal.samples, other.signal.samples
    if a.size != b.size or one.peak == 0 or other.peak == 0:
        return None
    # a few samples rule out nearly all pairs
    probe = slice(0, a.size, max(1, a.size // 64))
    factor = _factor(a[probe], b[probe])
    if _rest(a[probe], b[probe], factor) > most:
        return None
    factor = _factor(a, b)
    rest = _rest(a, b, factor)
    return _Copy(factor, rest) if rest <= most else None


def _largest_rest(facts: ChannelFacts) -> float:
    # Where the event reaches into the quiet stretch its curve is no noise, the jitter of the samples is.
    jitter = 1.4826 * float(np.median(np.abs(np.diff(facts.signal.samples, 2)))) / math.sqrt(6)
    # Printing seven digits leaves a rest of its own.
    return max(BELOW_NOISE * min(facts.noise, jitter), 3e-7 * abs(facts.peak))


def _factor(a: Floats, b: Floats) -> float:
    deviation_a, deviation_b = a - a.mean(), b - b.mean()
    size = float(deviation_b @ deviation_b)
    return float(deviation_a @ deviation_b) / size if size > 0 else 0.0


def _rest(a: Floats, b: Floats, factor: float) -> float:
    if factor == 0.0:
        return float("inf")
    rest = (a - a.mean()) - factor * (b - b.mean())
    return float(np.sqrt(np.mean(rest**2)))


def _finding(one: ChannelFacts, other: ChannelFacts, copy: _Copy) -> Finding:
    same_file = one.file == other.file
    place = f"channel '{other.signal.channel}'" + ("" if same_file else f" of {other.file}")
    times = "" if abs(copy.factor - 1) < 1e-6 else f" times {copy.factor:.5g}"
    alike = parse_unit(one.signal.unit).exponents == parse_unit(other.signal.unit).exponents
    return Finding(
        kind="copy",
        severity="error" if alike else "warning",
        file=one.file,
        channel=one.signal.channel,
        what=f"the channel is {place}{times}, noise included",
        remedy="find out which of the two was measured, and take the other out",
        evidence={"like": f"{other.file}, {other.signal.channel}", "factor": copy.factor, "rest": copy.rest},
        start_s=one.signal.start_s,
        end_s=one.signal.end_s,
    )
