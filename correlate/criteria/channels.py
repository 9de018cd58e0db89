"""The channels that criteria take, by code or by name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeVar

from correlate.channel import fits
from correlate.conditioning import crop, filter_cfc, remove_offset, shift_time
from correlate.conditioning.naming import coded
from correlate.conditioning.offset import OFFSET_STEP
from correlate.display import short_repr
from correlate.errors import ChannelError, SettingsError, UnitError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.formats import Recording
    from correlate.signal import Signal


Entry = TypeVar("Entry")


def named_entry(name: str, entries: Mapping[str, Entry], *, word: str, of: str = "") -> Entry:
    """Return the entry of a name, or of a begin or part of a name that fits one alone.

    Parameters
    ----------
    name
        Capitals do not matter.
    entries
        By their whole names.
    word
        What an entry is, for messages.
    of
        What the entries belong to, for messages.

    Returns
    -------
    object

    Raises
    ------
    SettingsError
        No entry fits, or several; the message lists them.

    Examples
    --------
    >>> named_entry("Knee", {"knee impact": 1, "head drop": 2}, word="test")
    1
    """
    wanted = name.strip().casefold()
    for known, entry in entries.items():
        if known.casefold() == wanted:
            return entry
    fitting = [known for known in entries if wanted and wanted in known.casefold()]
    beginning = [known for known in fitting if known.casefold().startswith(wanted)]
    for alone in (beginning, fitting):
        if len(alone) == 1:
            return entries[alone[0]]
    owner = f" of {of}" if of else ""
    what = f"'{name}' fits several {word}s{owner}" if fitting else f"there is no {word} '{name}'{owner}"
    listed = "; ".join(f"'{known}'" for known in fitting or entries)
    raise SettingsError(what, remedy=f"choose one of {listed}")


OFFSET_END_S: Final = -0.005
"""The offset is the mean of the samples up to here, s before time zero (common practice, no source)."""
OFFSET_LEAST_S: Final = 0.010
"""Shortest stretch before that end that an offset is measured on, s (choice made here)."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelName:
    """Which code a channel of another name stands for.

    Attributes
    ----------
    name
        As in the file.
    code
        16-character channel code.
    turned
        Whether its polarity is opposite to the code's.
    """

    name: str
    code: str
    turned: bool = False


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation:
    """What is done to every channel of a recording before a value is taken from it.

    Attributes
    ----------
    time_zero_s
        Time of first contact on the time axis as recorded, s.
    remove_offset
        Whether the mean before time zero is taken off; where the data begin later, nothing is.
    start_s, end_s
        Interval looked at, s after time zero; None: as far as the data reach.
    """

    time_zero_s: float = 0.0
    remove_offset: bool = True
    start_s: float | None = None
    end_s: float | None = None


AS_RECORDED: Final = Preparation()
"""Time zero as recorded, offset removed, all of the time."""


def with_codes(recording: Recording, names: Sequence[ChannelName]) -> Recording:
    """Return a recording with some of its channels under a channel code.

    Parameters
    ----------
    recording
        A test, or the output of a model.
    names
        Which channels to give a code.

    Returns
    -------
    Recording
        Named channels carry their code; the naming, and the turned sign, are steps of their history.

    Raises
    ------
    ChannelError
        A channel is not in the recording, a code is none, or two channels end up under one code.

    Examples
    --------
    >>> from pathlib import Path
    >>> from correlate.formats import Recording
    >>> from correlate.signal import Signal
    >>> force = Signal(samples=[0.0, 1.0], start_s=0.0, step_s=1e-4, unit="kN", channel="femur force")
    >>> model = Recording(signals=(force,), path=Path("run1.csv"), format="delimited")
    >>> name = ChannelName(name="femur force", code="D0FEMRLE00KMFOZP", turned=True)
    >>> [str(step) for step in with_codes(model, [name]).signals[0].history]
    ['name channel (from=femur force, to=D0FEMRLE00KMFOZP)', 'turn sign']
    """
    signals = {signal.channel: signal for signal in recording.signals}
    for name in names:
        signal = recording.channel(name.name)
        signals[signal.channel] = coded(signal, name.code, turned=name.turned)
    return replace(recording, signals=tuple(signals.values()))


def fitting_channel(signals: Sequence[Signal], pattern: str) -> Signal | None:
    """Return the one channel that fits a pattern, or None.

    Parameters
    ----------
    signals
        The channels of a recording.
    pattern
        As in :func:`fits`.

    Returns
    -------
    Signal or None

    Raises
    ------
    ChannelError
        Several channels fit.
    """
    found = [signal for signal in signals if fits(signal.channel, pattern)]
    if len(found) > 1:
        listed = ", ".join(f"'{signal.channel}'" for signal in found)
        raise ChannelError(
            f"{len(found)} channels fit {pattern}: {listed}",
            where=found[0].source.file,
            remedy="leave only one of them in the data",
        )
    return found[0] if found else None


def prepared(signal: Signal, *, unit: str, cfc: int | None, preparation: Preparation) -> Signal:
    """Bring one channel to unit, time zero, offset and filter class, at the rate as recorded.

    Parameters
    ----------
    signal
        As recorded.
    unit
        To convert to.
    cfc
        Channel frequency class, or None.
    preparation
        The rest.

    Returns
    -------
    Signal
        With every step in its history; cut to the interval as far as the data reach.

    Raises
    ------
    UnitError
        The unit does not suit the channel.
    SignalError
        The sample rate is too low for the class, or the interval holds no data.
    """
    try:
        treated = signal.in_unit(unit)
    except UnitError as error:
        raise error.located(signal.place) from None
    treated = shift_time(treated, -preparation.time_zero_s)
    if preparation.remove_offset:
        treated = _without_offset(treated)
    if cfc is not None:
        treated = filter_cfc(treated, cfc)
    start_s = treated.start_s if preparation.start_s is None else max(preparation.start_s, treated.start_s)
    end_s = treated.end_s if preparation.end_s is None else min(preparation.end_s, treated.end_s)
    return crop(treated, start_s=start_s, end_s=end_s)


def _without_offset(signal: Signal) -> Signal:
    done = any(step.name == OFFSET_STEP for step in signal.history)
    if done or signal.start_s > OFFSET_END_S - OFFSET_LEAST_S:
        return signal
    return remove_offset(signal, start_s=signal.start_s, end_s=OFFSET_END_S)
