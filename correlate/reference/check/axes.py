"""Swapped axes of one sensor, detected from the other repeats."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.reference.check.consensus import middle
from correlate.reference.check.likeness import squared_error
from correlate.reference.finding import Finding, RepairProposal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from correlate.reference.check.facts import ChannelFacts
    from correlate.reference.check.likeness import Curve

BETTER: Final = 0.25
"""Exchanging two axes must leave no more than this share of the squared error."""
NOTABLE: Final = 0.1
"""Squared error, over the squares of the curves, below which nothing needs an explanation."""


def examine_axes(
    facts: Sequence[ChannelFacts],
    curves: Mapping[str, Curve],
    others: Sequence[Mapping[str, Curve]],
) -> Iterator[Finding]:
    """Exchange two axes of a sensor and see whether they then fit the other repeats.

    Parameters
    ----------
    facts
        Channels of one test.
    curves
        The same channels as curves, by name.
    others
        Curves of the other repeats, by name. At least two, since one does not tell which is right.

    Yields
    ------
    Finding
        ``axes``, an error, for the first of two exchanged channels. Proposes the exchange.

    References
    ----------
    .. [1] Criterion derived here.
    """
    if len(others) < 2:
        return
    coded = [item for item in facts if is_channel_code(item.signal.channel)]
    for one, other in combinations(coded, 2):
        if not _axes_of_one_sensor(one.signal.channel, other.signal.channel):
            continue
        finding = _exchanged(one, other, curves, others)
        if finding:
            yield finding


def _axes_of_one_sensor(one: str, other: str) -> bool:
    a, b = ChannelCode(one), ChannelCode(other)
    return (
        a.sensor == b.sensor and {a.direction, b.direction} <= {"X", "Y", "Z"} and a.direction != b.direction
    )


def _exchanged(
    one: ChannelFacts,
    other: ChannelFacts,
    curves: Mapping[str, Curve],
    others: Sequence[Mapping[str, Curve]],
) -> Finding | None:
    a, b = one.signal.channel, other.signal.channel
    both = [repeat for repeat in others if a in repeat and b in repeat]
    if len(both) < 2:
        return None
    straight = [
        middle([squared_error(curves[name], repeat[name]) for repeat in both], favoured=0.0)
        for name in (a, b)
    ]
    crossed = [
        middle([squared_error(curves[mine], repeat[theirs]) for repeat in both], favoured=math.inf)
        for mine, theirs in ((a, b), (b, a))
    ]
    if min(straight) < NOTABLE or any(c > BETTER * s for c, s in zip(crossed[::-1], straight, strict=True)):
        return None
    return Finding(
        kind="axes",
        severity="error",
        file=one.file,
        channel=a,
        what=f"the channel and '{b}' are exchanged: each resembles the other one in the other repeats",
        remedy="check the cables; accept the exchange of the two channels",
        evidence={
            "squared_error": round(sum(straight), 4),
            "squared_error_exchanged": round(sum(crossed), 4),
            "other": b,
        },
        start_s=one.signal.start_s,
        end_s=one.signal.end_s,
        repair=RepairProposal("exchange channels", {"with": b}),
    )
