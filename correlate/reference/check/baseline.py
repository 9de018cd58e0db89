"""Faults of the baseline and of the time base."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.repeats import middle
from correlate.reference.finding import Finding, RepairProposal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.check.statistics import ChannelStatistics


WORTH_A_NOTE: Final = 0.02
"""Printed times this share of a step off the constant step are worth a note."""


def examine_time_step(facts: ChannelStatistics) -> Iterator[Finding]:
    """Look in the history for a step that was not constant."""
    signal = facts.signal
    for step in signal.history:
        if step.name == "resample unevenly sampled":
            smallest, largest = step.settings["smallest_step_s"], step.settings["largest_step_s"]
            yield Finding(
                kind="uneven step",
                severity="error",
                file=facts.file,
                channel=signal.channel,
                what=f"the time step is not constant: {smallest * 1e3:.4g} to {largest * 1e3:.4g} ms; "
                f"the samples were interpolated to {signal.step_s * 1e3:.4g} ms while reading",
                remedy="look for lost samples; export the channel again with its own clock",
                evidence={
                    "smallest_step_s": smallest,
                    "largest_step_s": largest,
                    "samples_recorded": step.settings["samples_before"],
                },
                start_s=signal.start_s,
                end_s=signal.end_s,
            )
        elif step.name == "even time step":
            off = step.settings["largest_deviation_s"] / signal.step_s
            if off > WORTH_A_NOTE:
                yield Finding(
                    kind="uneven step",
                    severity="note",
                    file=facts.file,
                    channel=signal.channel,
                    what=f"the printed times are up to {off:.0%} of a step off a constant step",
                    remedy="export more digits of the time",
                    evidence={"largest_deviation_s": step.settings["largest_deviation_s"]},
                )


LEAST_PRE_TRIGGER_S: Final = 0.005
"""Shortest stretch before the event that an offset can be taken from, s."""
UNDER_WAY: Final = 0.02
"""A change of this share of the range within the first millisecond means that the event is cut."""
LARGE_OFFSET: Final = 0.05
"""Offset worth a warning, as a share of the peak …"""
GRAVE_OFFSET: Final = 0.08
"""… and an error, when the other repeats do not show it."""
LARGE_DRIFT: Final = 0.01
"""Drift over the quiet stretch worth a warning, as a share of the peak …"""
GRAVE_DRIFT: Final = 0.005
"""… and an error, when the other repeats do not show it."""
SIGNIFICANT: Final = 8.0
"""Standard errors from which a drift is not noise."""


def examine_pre_trigger(facts: ChannelStatistics) -> Iterator[Finding]:
    """Look for a quiet stretch before the event; minor axes are left to the other axes."""
    quiet_s = (facts.quiet.stop - facts.quiet.start) * facts.signal.step_s
    if quiet_s >= LEAST_PRE_TRIGGER_S or facts.peak == 0 or facts.is_minor:
        return
    first = facts.calm[: round(1e-3 / facts.signal.step_s) + 1]
    cut = abs(float(first[-1] - first[0])) > UNDER_WAY * float(np.ptp(facts.calm))
    yield Finding(
        kind="no pre-trigger",
        severity="error" if cut else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what="the event has already started at the first sample"
        if cut
        else f"only {quiet_s * 1e3:.3g} ms are quiet before the event",
        remedy=f"export the channel with {LEAST_PRE_TRIGGER_S * 1e3:g} ms or more before the event",
        evidence={"quiet_s": quiet_s, "starts_at_s": facts.signal.start_s},
        start_s=facts.signal.start_s,
        end_s=facts.onset_s,
    )


def examine_offset(facts: ChannelStatistics, others: Sequence[ChannelStatistics]) -> Iterator[Finding]:
    """Compare the level before the event with zero, or with that of the other repeats.

    What all repeats show is taken for the physics of the test, such as the weight on a load cell.

    References
    ----------
    .. [1] Limits: chosen here, common practice, no source.
    """
    if not facts.has_quiet or facts.peak == 0:
        return
    window = facts.signal.samples[facts.quiet]
    level = float(window.mean())
    # As shares of the signed peaks, so that a wrong unit or sign is not an offset too.
    usual = _usual(
        [float(other.signal.samples[other.quiet].mean()) / other.peak for other in others if _speaks(other)],
        level / facts.peak,
    )
    share = level / facts.peak - usual
    if abs(share) <= LARGE_OFFSET:
        return
    words = f", {abs(share):.1%} of the peak"
    if usual:
        words += f" away from the {usual:.1%} of the other repeats"
    yield Finding(
        kind="offset",
        severity="error" if abs(share) > GRAVE_OFFSET and sum(map(_speaks, others)) > 1 else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the mean before the event is {level:.4g} {facts.signal.unit}{words}",
        remedy="remove the offset as a recorded step, unless it is physical (a static load)",
        evidence={"offset": level, "share_of_peak": round(share, 4), "noise": facts.noise},
        start_s=facts.time_s(facts.quiet.start),
        end_s=facts.time_s(facts.quiet.stop - 1),
        repair=RepairProposal("remove offset", _window(facts)),
    )


def examine_drift(facts: ChannelStatistics, others: Sequence[ChannelStatistics]) -> Iterator[Finding]:
    """Compare the slope before the event with zero, or with that of the other repeats.

    References
    ----------
    .. [1] Least squares line, standard error of its slope: any textbook. Limits: chosen here.
    """
    if not facts.has_quiet or facts.peak == 0:
        return
    slope, error = quiet_slope(facts)
    usual = facts.peak * _usual(
        [quiet_slope(other)[0] / other.peak for other in others if _speaks(other)], slope / facts.peak
    )
    length_s = (facts.quiet.stop - facts.quiet.start) * facts.signal.step_s
    share = (slope - usual) * length_s / abs(facts.peak)
    compared = len(others) > 1
    large = GRAVE_DRIFT if compared else LARGE_DRIFT
    if abs(share) <= large or abs(slope - usual) <= SIGNIFICANT * error:
        return
    words = " more than in the other repeats" if compared else ""
    yield Finding(
        kind="drift",
        severity="error" if compared else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the channel drifts by {(slope - usual) * length_s:.4g} {facts.signal.unit} before the event"
        f"{words}, {abs(share):.1%} of the peak",
        remedy="let the amplifiers warm up; accept the removal of the line, unless the part was moving",
        evidence={
            "slope_per_s": slope,
            "slope_elsewhere_per_s": usual,
            "standard_error_per_s": error,
            "share_of_peak": round(share, 4),
        },
        start_s=facts.time_s(facts.quiet.start),
        end_s=facts.time_s(facts.quiet.stop - 1),
        repair=RepairProposal("remove drift", {**_window(facts), "slope_kept_per_s": usual}),
    )


def quiet_slope(facts: ChannelStatistics) -> tuple[float, float]:
    """Return slope and standard error of the line through the quiet stretch."""
    window = facts.calm[facts.quiet]
    time = (np.arange(window.size) - (window.size - 1) / 2) * facts.signal.step_s
    total = float(time @ time)
    slope = float(time @ window) / total
    spread = max(float((window - window.mean() - slope * time).std()), facts.resolution / 4)
    together = max(1.0, 1e-3 / facts.signal.step_s)
    return slope, spread * float(np.sqrt(together / total))


def _usual(values: list[float], own: float) -> float:
    """Return what the other repeats show; one other repeat does not tell which of the two is right."""
    return middle(values, favoured=own) if len(values) > 1 else 0.0


def _speaks(other: ChannelStatistics) -> bool:
    return other.has_quiet and other.peak != 0


def _window(facts: ChannelStatistics) -> dict[str, float]:
    return {
        "start_s": facts.time_s(facts.quiet.start),
        "end_s": facts.time_s(facts.quiet.stop - 1),
    }
