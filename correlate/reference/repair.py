"""Repairs: named steps that a person accepts, recorded in the history of the signal with who accepted them.

Nothing here runs by itself. The data check proposes; a person accepts by name.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError
from correlate.reference.repair_steps import REPAIRS
from correlate.signal import Step

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.formats import Recording
    from correlate.reference.finding import RepairProposal
    from correlate.signal import Signal

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
    """Return the accepted repairs of a signal as lines of text.

    Parameters
    ----------
    signal
        Any signal.

    Returns
    -------
    list of str
    """
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
