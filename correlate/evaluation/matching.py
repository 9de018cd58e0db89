"""Which channel of the model's output belongs to a channel of the test."""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from correlate.errors import ChannelError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.evaluation.tables import ChannelPlan
    from correlate.formats import Recording
    from correlate.signal import Signal


def model_channel_name(plan: ChannelPlan, recording: Recording) -> str:
    """Return the name of the model channel that a plan asks for.

    Parameters
    ----------
    plan
        A name, a pattern, or nothing: then the channel of the same code, or of the same code but for the
        filter letter.
    recording
        Output of the model.

    Returns
    -------
    str

    Raises
    ------
    ChannelError
        No channel fits, or several fit a pattern.
    """
    wanted, names = plan.model_pattern, recording.channel_names
    if wanted in names:
        return wanted
    fits = [name for name in names if fnmatchcase(name, wanted)]
    if not plan.model:
        fits = [name for name in names if len(name) == len(wanted) == 16 and name[:15] == wanted[:15]]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise ChannelError(
            f"'{wanted}' fits {len(fits)} channels: " + ", ".join(f"'{name}'" for name in fits),
            where=str(recording.path),
            remedy="write the pattern so that it fits one",
        )
    if not plan.model and wanted not in names:
        raise ChannelError(
            "no model channel is named and none has the code of the test",
            where=str(recording.path),
            remedy="name one under 'model'; 'correlate propose' ranks them",
        )
    return recording.channel(wanted).channel


def model_channel(plan: ChannelPlan, recording: Recording) -> Signal:
    """Return the model channel that a plan asks for, its unit replaced where the plan says so.

    Parameters
    ----------
    plan, recording
        As in :func:`model_channel_name`.

    Returns
    -------
    Signal

    Raises
    ------
    ChannelError
        As :func:`model_channel_name`.
    """
    signal = recording.channel(model_channel_name(plan, recording))
    if plan.model_unit is None or plan.model_unit == signal.unit:
        return signal
    step = Step("declare unit", {"in_the_file": signal.unit, "declared": plan.model_unit})
    return signal.then(step, unit=plan.model_unit)
