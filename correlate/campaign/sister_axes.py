"""The other axes of a sensor in the output of a model."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import CorrelateError
from correlate.evaluation.matching import model_channel

if TYPE_CHECKING:
    from correlate.evaluation.tables import ChannelPlan, LoadCase
    from correlate.formats import Recording
    from correlate.signal import Signal

_AXIS: Final = re.compile(r"(?<![A-Za-z])([A-Za-z]?)([xyzXYZ])(?![A-Za-z])")
"""A letter x, y or z alone, or after one other letter, as in ``head x acceleration`` and ``head Fx``."""


def sister_axes(signal: Signal, recording: Recording) -> dict[str, Signal]:
    """Return the channels of a recording that are named like a signal but for the axis.

    Parameters
    ----------
    signal
        One of the recording.
    recording
        Where the others are looked for.

    Returns
    -------
    dict
        Signals by name: for a channel code those of the same sensor, for a name with one axis letter in it
        those with another in its place.
    """
    names = [name for name in recording.channel_names if name != signal.channel]
    if is_channel_code(signal.channel):
        sensor = ChannelCode(signal.channel).sensor
        fits = [name for name in names if is_channel_code(name) and ChannelCode(name).sensor == sensor]
    else:
        without = _without_axis(signal.channel)
        fits = [name for name in names if without is not None and _without_axis(name) == without]
    return {name: recording.channel(name) for name in fits}


def planned_sisters(plan: ChannelPlan, load_case: LoadCase, recording: Recording) -> dict[str, Signal]:
    """Return the model's channels for the other axes of a planned sensor.

    Parameters
    ----------
    plan
        Of one axis.
    load_case
        Its other channels are looked through: axes share the ``sensor`` of the campaign file, or their
        codes differ in direction and filter alone.
    recording
        Output of the model.

    Returns
    -------
    dict
        Signals by their names in the model; an axis without a channel is left out.
    """
    found = {}
    for other in load_case.channel:
        if other.test == plan.test or not _share_sensor(plan, other):
            continue
        try:
            signal = model_channel(other, recording)
        except CorrelateError:
            continue  # reported with its own pair
        found[signal.channel] = signal
    return found


def _share_sensor(one: ChannelPlan, other: ChannelPlan) -> bool:
    if one.sensor and one.sensor == other.sensor:
        return True
    codes = is_channel_code(one.test) and is_channel_code(other.test)
    return codes and ChannelCode(one.test).sensor == ChannelCode(other.test).sensor


def _without_axis(name: str) -> str | None:
    """Return a name with its axis letter taken out; None when it has none or several."""
    return _AXIS.sub(r"\1·", name) if len(_AXIS.findall(name)) == 1 else None
