"""Faults that show only when a test is compared with its repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.reference.check.crosstalk import examine_crosstalk
from correlate.reference.check.lost import examine_lost_samples
from correlate.reference.check.ringing import examine_ringing
from correlate.reference.check.rolloff import examine_roll_off

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from correlate.reference.check.trials import Trials
    from correlate.reference.finding import Finding


DAMAGE: Final = frozenset({"saturation", "spike", "dropout"})
"""Errors that spoil the shape of a curve …"""
ADDED: Final = frozenset({"lost samples", "cross-talk", "loose mount"})
"""… and those that only the comparison shows; both explain …"""
BLURRED: Final = frozenset({"gain", "time zero", "unlike repeats"})
"""… these …"""
BENT: Final = frozenset({"sample rate", "noise", "dropout"})
"""… and the latter these too."""

WRONG_VALUES: Final = DAMAGE | {
    "offset",
    "drift",
    "noise",
    "gain",
    "unit",
    "polarity",
    "time zero",
    "sample rate",
}
"""Findings after which a channel proves nothing about another one."""


def examine_between(
    trials: Trials, index: int, own: Mapping[str, Sequence[Finding]], exchanged: Collection[str]
) -> Iterator[Finding]:
    """Look for lost samples, cross-talk, ringing and roll-off in the channels of one test.

    What one of them explains is not looked at by the next, nor is a channel that is spoilt already.
    """
    names = [name for name in own if name not in exchanged]
    damaged = {name for name in names if _is_damaged(own[name])}
    for finding in list(examine_lost_samples(trials, index, names, damaged)):
        names.remove(finding.channel)
        yield finding
    names = [name for name in names if name not in damaged]
    names = [name for name in names if all(one.kind != "sample rate" for one in own[name])]
    for examine in (examine_crosstalk, examine_ringing):
        for finding in list(examine(trials, index, names)):
            names.remove(finding.channel)
            yield finding
    names = [name for name in names if all(one.kind != "filter class" for one in own[name])]
    yield from examine_roll_off(trials, index, names)


def without_consequences(own: Sequence[Finding], between: Sequence[Finding]) -> Iterator[Finding]:
    """Leave out what a more severe finding of the same channel explains."""
    added = any(one.kind in ADDED for one in between)
    explained = (BLURRED if added or _is_damaged(own) else frozenset()) | (BENT if added else frozenset())
    if any(one.kind == "filter class" for one in between):
        explained |= {"noise"}
    yield from (one for one in own if one.kind not in explained)


def spoilt_channels(own: Mapping[str, Sequence[Finding]], repeats: int) -> set[str]:
    """Return the channels whose own findings say that their values are wrong.

    A warning says so where two other repeats agree; with fewer, another channel may tell which one is wrong.
    """
    certain = {"error", "warning"} if repeats >= 2 else {"error"}
    return {
        name
        for name, found in own.items()
        if any(one.kind in WRONG_VALUES and one.severity in certain for one in found)
    }


def _is_damaged(found: Sequence[Finding]) -> bool:
    return any(one.kind in DAMAGE and one.severity == "error" for one in found)
