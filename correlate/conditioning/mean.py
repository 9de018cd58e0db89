"""Mean of several signals over the time they share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.conditioning.crop import crop
from correlate.errors import SignalError
from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from collections.abc import Sequence


def mean_signal(signals: Sequence[Signal], names: Sequence[str]) -> Signal:
    """Average signals on one grid over the time they share; they are not moved in time first.

    Parameters
    ----------
    signals
        Conditioned alike, at least one.
    names
        Of each, for the history.

    Returns
    -------
    Signal
        In the unit of the first; its history names the signals and the hashes of their files.

    Raises
    ------
    SignalError
        They share no time.
    UnitError
        They measure different things.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> def curve(height: float) -> Signal:
    ...     return Signal(samples=[0.0, height, 0.0], start_s=0.0, step_s=1e-4, unit="g", channel="ax")
    >>> mean_signal([curve(1.0), curve(3.0)], ["T1", "T2"]).samples.tolist()
    [0.0, 2.0, 0.0]
    """
    first = signals[0]
    start_s = max(signal.start_s for signal in signals)
    end_s = min(signal.end_s for signal in signals)
    if end_s <= start_s:
        raise SignalError("the repeats share no time", where=first.place, remedy="correct their time zeros")
    cut = [crop(signal.in_unit(first.unit), start_s=start_s, end_s=end_s) for signal in signals]
    step = Step("mean of repeats", {"repeats": list(names), "inputs": [one.source.sha256 for one in cut]})
    return Signal(
        samples=np.mean([signal.samples for signal in cut], axis=0),
        start_s=cut[0].start_s,
        step_s=cut[0].step_s,
        unit=first.unit,
        channel=first.channel,
        source=Source("mean of " + ", ".join(one.source.file for one in cut)),
        history=(*cut[0].history, step),
    )
