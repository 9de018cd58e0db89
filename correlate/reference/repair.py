"""Repairs of test data, each a recorded step."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.conditioning import remove_offset, shift_time, turn_sign
from correlate.errors import SettingsError, SignalError
from correlate.samples import handed_over
from correlate.signal import Step

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from correlate.formats import Recording
    from correlate.reference.finding import RepairProposal
    from correlate.signal import Signal


def bridge(signal: Signal, spans_s: Sequence[tuple[float, float]]) -> Signal:
    """Replace the samples of spans by a straight line between their neighbours.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[0, 1, 99, 3], start_s=0.0, step_s=0.1, unit="g", channel="head ax")
    >>> bridge(raw, [(0.2, 0.2)]).samples
    array([0., 1., 2., 3.])
    """
    samples = signal.samples.copy()
    replaced = 0
    for start_s, end_s in spans_s:
        first = round((start_s - signal.start_s) / signal.step_s)
        last = round((end_s - signal.start_s) / signal.step_s)
        if not 1 <= first <= last <= len(signal) - 2:
            raise SignalError(
                f"the span {start_s:.6g} s to {end_s:.6g} s has no samples on both sides",
                where=signal.place,
                remedy=f"choose one within {signal.start_s:.6g} s to {signal.end_s:.6g} s",
            )
        inner = np.arange(first, last + 1)
        samples[inner] = np.interp(inner, [first - 1, last + 1], samples[[first - 1, last + 1]])
        replaced += inner.size
    spans = tuple((float(start_s), float(end_s)) for start_s, end_s in spans_s)
    return signal.then(Step("bridge", {"spans_s": spans, "samples": replaced}), samples=handed_over(samples))


def remove_drift(signal: Signal, *, start_s: float, end_s: float, slope_kept_per_s: float = 0.0) -> Signal:
    """Subtract the line through a window before the event, extended over the whole signal.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[1, 2, 3, 9], start_s=0.0, step_s=1.0, unit="g", channel="head ax")
    >>> [round(float(value), 9) for value in remove_drift(raw, start_s=0.0, end_s=2.0).samples]
    [0.0, 0.0, 0.0, 5.0]
    """
    time = signal.time_s
    inside = (time >= start_s - 1e-6 * signal.step_s) & (time <= end_s + 1e-6 * signal.step_s)
    if inside.sum() < 3:
        raise SignalError(
            f"the window {start_s:.6g} s to {end_s:.6g} s holds fewer than three samples",
            where=signal.place,
            remedy="choose a longer one before the event",
        )
    slope, level = (float(number) for number in np.polyfit(time[inside] - start_s, signal.samples[inside], 1))
    line = level + (slope - slope_kept_per_s) * (time - start_s)
    settings = {
        "start_s": start_s,
        "end_s": end_s,
        "level": level,
        "slope_per_s": slope,
        "slope_kept_per_s": slope_kept_per_s,
    }
    return signal.then(Step("remove drift", settings), samples=handed_over(signal.samples - line))


def set_sampling_interval(signal: Signal, *, step_s: float) -> Signal:
    """State another sampling interval; the samples and the time of the first one stay."""
    if not (math.isfinite(step_s) and step_s > 0):
        raise SettingsError(f"the sampling interval is {step_s!r} s", remedy="give a number above zero")
    settings = {"step_before_s": signal.step_s, "step_s": step_s}
    return signal.then(Step("set sampling interval", settings), step_s=step_s)


def divide_by_factor(signal: Signal, *, factor: float) -> Signal:
    """Divide the samples by a factor between units; the unit stays as it is written."""
    if not math.isfinite(factor) or factor == 0:
        raise SettingsError(f"the factor is {factor!r}", remedy="give a number that is not zero")
    return signal.then(
        Step("divide by factor", {"factor": factor}), samples=handed_over(signal.samples / factor)
    )


REPAIRS: Final[dict[str, Callable[..., Signal]]] = {
    "bridge": bridge,
    "divide by factor": divide_by_factor,
    "remove drift": remove_drift,
    "remove offset": remove_offset,
    "set sampling interval": set_sampling_interval,
    "shift time": shift_time,
    "turn sign": turn_sign,
}
"""Repairs of one channel, by name."""


ACCEPT_STEP: Final = "accept repair"
"""Name of the step in front of every repair in the history of a signal."""
EXCHANGE: Final = "exchange channels"
"""The one repair that takes two channels of a test."""


def repair(signal: Signal, proposal: RepairProposal, *, accepted_by: str) -> Signal:
    """Run a repair that somebody accepted.

    Parameters
    ----------
    signal
        As read.
    proposal
        From a finding, or written by hand.
    accepted_by
        Who accepts it; not empty.

    Returns
    -------
    Signal
        Its history gains ``"accept repair"`` with the name, and the step itself.

    Raises
    ------
    SettingsError
        Nobody accepts it, there is no such repair, or its settings do not suit it.
    SignalError
        The signal does not allow it.

    Examples
    --------
    >>> from correlate.reference.finding import RepairProposal
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[0, 1], start_s=0.0, step_s=0.1, unit="g", channel="head ax")
    >>> [step.name for step in repair(raw, RepairProposal("turn sign"), accepted_by="lab").history]
    ['accept repair', 'turn sign']
    """
    if not accepted_by.strip():
        raise SettingsError("nobody has accepted the repair", where=signal.place, remedy="say who accepts it")
    if proposal.name not in REPAIRS:
        raise SettingsError(
            f"there is no repair '{proposal.name}'",
            where=signal.place,
            remedy="choose one of " + ", ".join([*REPAIRS, EXCHANGE]),
        )
    accepted = signal.then(Step(ACCEPT_STEP, {"repair": proposal.name, "accepted_by": accepted_by}))
    try:
        return REPAIRS[proposal.name](accepted, **proposal.settings)
    except TypeError as error:
        raise SettingsError(
            f"the settings {dict(proposal.settings)} do not suit the repair '{proposal.name}'",
            where=signal.place,
            remedy="take them from the finding",
        ) from error


def repair_recording(
    recording: Recording, proposals: Mapping[str, Sequence[RepairProposal]], *, accepted_by: str
) -> Recording:
    """Run accepted repairs on the channels of a test.

    Parameters
    ----------
    recording
        As read.
    proposals
        Repairs by channel, in the order they are to be run.
    accepted_by
        Who accepts them.

    Returns
    -------
    Recording
        Signals with longer histories. The header lines of a repaired channel gain a ``Comment`` for every
        step, so that it stays with the file.

    Raises
    ------
    ChannelError
        A channel is not in the test.
    SettingsError, SignalError
        See :func:`repair`.
    """
    signals = {signal.channel: signal for signal in recording.signals}
    for name, wanted in proposals.items():
        recording.channel(name)
        for proposal in wanted:
            if proposal.name == EXCHANGE:
                other = recording.channel(str(proposal.settings.get("with", ""))).channel
                signals[name], signals[other] = _exchanged(signals[name], signals[other], accepted_by)
            else:
                signals[name] = repair(signals[name], proposal, accepted_by=accepted_by)
    headers = dict(recording.channel_headers)
    for name, signal in signals.items():
        lines = repair_lines(signal)
        if lines:
            given = dict(headers.get(name, {}))
            before = given.get("Comment", "").removeprefix("NOVALUE")
            headers[name] = {**given, "Comment": "\n".join([*filter(None, [before]), *lines])}
    return replace(
        recording,
        signals=tuple(signals[signal.channel] for signal in recording.signals),
        channel_headers=headers,
    )


def repair_lines(signal: Signal) -> list[str]:
    """Return the accepted repairs of a signal as lines of text."""
    lines = []
    for accepted, step in zip(signal.history, signal.history[1:], strict=False):
        if accepted.name == ACCEPT_STEP:
            lines.append(f"repair: {step}; accepted by {accepted.settings['accepted_by']}")
    return lines


def _exchanged(one: Signal, other: Signal, accepted_by: str) -> tuple[Signal, Signal]:
    """Return both signals with each other's samples, unit and time base."""

    def taking(mine: Signal, theirs: Signal) -> Signal:
        if not accepted_by.strip():
            raise SettingsError(
                "nobody has accepted the repair", where=mine.place, remedy="say who accepts it"
            )
        details: dict[str, Any] = {"repair": EXCHANGE, "accepted_by": accepted_by}
        return mine.then(Step(ACCEPT_STEP, details)).then(
            Step(EXCHANGE, {"with": theirs.channel}),
            samples=theirs.samples,
            start_s=theirs.start_s,
            step_s=theirs.step_s,
            unit=theirs.unit,
        )

    return taking(one, other), taking(other, one)
