"""The model's channels under the codes of the test channels that they stand for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from correlate.channel import is_channel_code
from correlate.conditioning import shift_time
from correlate.criteria.channels import coded
from correlate.errors import ChannelError
from correlate.evaluation.matching import model_channel, model_channel_name

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import ChannelPlan, LoadCase
    from correlate.formats import Recording
    from correlate.signal import Signal


def coded_channel(plan: ChannelPlan, recording: Recording) -> Signal:
    """Return the model's channel of a plan under the code of the test channel, shifted and signed alike.

    Parameters
    ----------
    plan
        Its test channel has a code.
    recording
        Of the model.

    Returns
    -------
    Signal
        Every step is in its history.

    Raises
    ------
    ChannelError
        As of :func:`model_channel`.
    """
    shifted = shift_time(model_channel(plan, recording), plan.model_shift_ms / 1e3)
    return coded(shifted, plan.test, turned=plan.test_sign * plan.model_sign == -1)


def coded_signals(load_case: LoadCase, recording: Recording) -> dict[str, Signal]:
    """Return the channels of a model under the codes of the test channels that they stand for.

    Parameters
    ----------
    load_case
        Its mapping, with signs and shifts.
    recording
        Of the model.

    Returns
    -------
    dict
        By their names in the model; one that the model lacks is left out. Every step is in the history.
    """
    found = {}
    for plan in load_case.channel:
        if is_channel_code(plan.test):
            try:
                found[model_channel_name(plan, recording)] = coded_channel(plan, recording)
            except ChannelError:
                continue  # what needs the channel says that it is missing
    return found


def coded_model(load_case: LoadCase, recording: Recording) -> Recording:
    """Return the mapped channels of a model alone, under the codes of the test.

    Parameters
    ----------
    load_case, recording
        As for :func:`coded_signals`.

    Returns
    -------
    Recording
    """
    return replace(recording, signals=tuple(coded_signals(load_case, recording).values()))


def read_coded(path: Path, campaign: Campaign, load_case: str) -> Recording:
    """Read results of a model by the layout of a campaign, mapped channels under the codes of the test.

    Parameters
    ----------
    path
        The file.
    campaign
        Says how it is read.
    load_case
        Name of the one that maps its channels.

    Returns
    -------
    Recording
        With the channels under their own names, too.

    Raises
    ------
    CorrelateError
        There is no such load case, or the file cannot be read.
    """
    case = campaign.load_case(load_case)
    recording = campaign.read_path(path, case)
    signals = {signal.channel: signal for signal in recording.signals} | coded_signals(case, recording)
    return replace(recording, signals=tuple(signals.values()))
