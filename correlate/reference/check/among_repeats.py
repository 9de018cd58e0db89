"""One repeat against the others: sign, unit, sample rate, time zero.

Every two repeats are matched once; what most of the others say about a repeat counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.consensus import middle
from correlate.reference.finding import Finding, RepairProposal
from correlate.unit_factors import confused_units
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.check.facts import ChannelFacts
    from correlate.reference.check.likeness import Likeness
    from correlate.reference.finding import Severity

ALIKE: Final = 0.85
"""Correlation from which two recordings are the same event."""
UNLIKE: Final = 0.7
"""Correlation below which one is called unlike the others."""
SMALL: Final = 30.0
"""A peak of fewer times the noise cannot be compared."""
STRETCHED: Final = 1.12
"""Smallest stretch that counts."""
EXPLAINED: Final = 0.35
"""A stretch counts when it leaves no more than this share of the misfit."""
OTHER_GAIN: Final = 1.5
"""Ratio from which a gain without a name is worth a warning."""
LARGE_SHIFT_S: Final = 0.0015
"""Shift against the other repeats worth a warning, s."""
GRAVE_SHIFT_S: Final = 0.005
"""Shift that is an error, s."""


@dataclass(frozen=True, slots=True)
class _Verdict:
    """What most of the other repeats say about one."""

    correlation: float
    sign: int
    gain: float
    shift_s: float
    stretch: float
    stretched_correlation: float
    others: int


def examine_among_repeats(
    facts: ChannelFacts, matches: Sequence[tuple[ChannelFacts, Likeness]]
) -> Iterator[Finding]:
    """Judge one channel of one repeat by its matches with the other repeats.

    Parameters
    ----------
    facts
        Of the channel.
    matches
        The same channel in the other repeats, with the match of this one against it.

    Yields
    ------
    Finding
        ``sample rate``, ``polarity``, ``unit``, ``gain``, ``time zero`` or ``unlike repeats``. Errors; only
        warnings when there is a single other repeat, because the other may be the wrong one.

    References
    ----------
    .. [1] Limits: chosen here. Factors: see ``correlate.units``.
    """
    loud = [pair for pair in matches if abs(pair[0].peak) > SMALL * pair[0].grain]
    if not loud or abs(facts.peak) <= SMALL * facts.grain:
        return
    verdict = _verdict([match for _, match in loud])
    if _is_stretched(verdict):
        # Sign, size and shift mean nothing until the time axis is right.
        yield _sample_rate(facts, loud, verdict)
        return
    if verdict.correlation < UNLIKE:
        yield _unlike(facts, verdict)
    if verdict.correlation < ALIKE:
        return
    if abs(verdict.shift_s) > LARGE_SHIFT_S:
        yield _time_zero(facts, verdict)
    if verdict.sign < 0:
        yield _polarity(facts, verdict)
    yield from _gain(facts, verdict)


def _verdict(matches: list[Likeness]) -> _Verdict:
    return _Verdict(
        correlation=middle([match.correlation for match in matches], favoured=1.0),
        sign=1 if sum(match.sign for match in matches) >= 0 else -1,
        gain=middle([match.gain for match in matches], favoured=1.0),
        shift_s=middle([match.shift_s for match in matches], favoured=0.0),
        stretch=math.exp(middle([math.log(match.stretch) for match in matches], favoured=0.0)),
        stretched_correlation=middle([match.stretched_correlation for match in matches], favoured=1.0),
        others=len(matches),
    )


def _is_stretched(verdict: _Verdict) -> bool:
    misfit, stretched = 1 - verdict.correlation, 1 - verdict.stretched_correlation
    return (
        abs(math.log(verdict.stretch)) > math.log(STRETCHED)
        and verdict.stretched_correlation >= ALIKE
        and stretched < EXPLAINED * misfit
    )


def _sample_rate(
    facts: ChannelFacts, matches: list[tuple[ChannelFacts, Likeness]], verdict: _Verdict
) -> Finding:
    step_s = facts.signal.step_s
    usual_s = float(np.median([other.signal.step_s for other, _ in matches]))
    named = abs(step_s / usual_s / verdict.stretch - 1) < 0.1
    right_s = usual_s if named else float(f"{step_s / verdict.stretch:.3g}")
    against = f" against {usual_s * 1e3:.4g} ms in the others" if named else ""
    return Finding(
        kind="sample rate",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the event lasts {verdict.stretch:.3g} times as long as in the other repeats: the header's "
        f"step of {step_s * 1e3:.4g} ms{against} contradicts the samples",
        remedy=f"find the rate the recorder ran at; accept a step of {right_s * 1e3:.4g} ms if that was it",
        evidence={
            "stretch": round(verdict.stretch, 4),
            "correlation": round(verdict.correlation, 4),
            "correlation_stretched": round(verdict.stretched_correlation, 4),
            "step_s": step_s,
        },
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
        repair=RepairProposal("set sampling interval", {"step_s": right_s}),
    )


def _time_zero(facts: ChannelFacts, verdict: _Verdict) -> Finding:
    grave = abs(verdict.shift_s) > GRAVE_SHIFT_S
    word = "late" if verdict.shift_s > 0 else "early"
    return Finding(
        kind="time zero",
        severity=_gravity(verdict) if grave else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the event is {abs(verdict.shift_s) * 1e3:.3g} ms {word} against the other repeats",
        remedy="check the trigger; accept the shift, or set time zero by a threshold",
        evidence={"shift_s": verdict.shift_s, "correlation": round(verdict.correlation, 4)},
        start_s=facts.onset_s,
        end_s=facts.onset_s,
        repair=RepairProposal("shift time", {"offset_s": float(f"{-verdict.shift_s:.4g}")}),
    )


def _polarity(facts: ChannelFacts, verdict: _Verdict) -> Finding:
    return Finding(
        kind="polarity",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what="the sign is opposite to that of the other repeats"
        if verdict.others > 1
        else "the sign is opposite to that of the other repeat",
        remedy="check how the transducer was mounted; accept the inverted sign",
        evidence={"correlation": round(-verdict.correlation, 4), "peak": facts.peak},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("turn sign"),
    )


def _gain(facts: ChannelFacts, verdict: _Verdict) -> Iterator[Finding]:
    known = confused_units(verdict.gain)
    if known is None and not (verdict.gain > OTHER_GAIN or verdict.gain < 1 / OTHER_GAIN):
        return
    meaning = parse_unit(facts.signal.unit).dimension
    evidence = {"ratio": round(verdict.gain, 5), "correlation": round(verdict.correlation, 4)}
    if known is None:
        yield Finding(
            kind="gain",
            severity="warning",
            file=facts.file,
            channel=facts.signal.channel,
            what=f"the channel is {verdict.gain:.3g} times as large as in the other repeats",
            remedy="check calibration factor and amplifier range",
            evidence=evidence,
            start_s=facts.peak_s,
            end_s=facts.peak_s,
        )
        return
    yield Finding(
        kind="unit",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the {meaning} is {verdict.gain:.4g} times as large as in the other repeats, near "
        f"{known[1]:.5g}, the factor between {known[0]}",
        remedy=f"correct the unit in the header ({facts.signal.unit}), or accept the division",
        evidence={**evidence, "factor": known[1]},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("divide by factor", {"factor": known[1]}),
    )


def _unlike(facts: ChannelFacts, verdict: _Verdict) -> Finding:
    return Finding(
        kind="unlike repeats",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the curve is unlike the other repeats: its correlation is {verdict.correlation:.2f} at best",
        remedy="look at the curves side by side; check that it is the same channel of the same test",
        evidence={"correlation": round(verdict.correlation, 4)},
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
    )


def _gravity(verdict: _Verdict) -> Severity:
    return "error" if verdict.others > 1 else "warning"
