"""Which model channel stands for a test channel, and the model under the codes of the test."""

from __future__ import annotations

from dataclasses import replace
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from correlate.channel import is_channel_code
from correlate.conditioning import shift_time
from correlate.conditioning.naming import coded
from correlate.errors import ChannelError, CorrelateError
from correlate.signal import Step

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import ChannelPlan, LoadCase
    from correlate.formats import Recording
    from correlate.signal import Signal


def model_channel_name(plan: ChannelPlan, recording: Recording) -> str:
    """Return the name of the model channel that a plan asks for."""
    wanted = plan.model_pattern
    # Those set aside too: another channel that fits as well must not take the place of one of them.
    if recording.has_name(wanted):
        return wanted
    names = recording.all_names
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
    """Return the model channel that a plan asks for, its unit replaced where the plan says so."""
    signal = recording.channel(model_channel_name(plan, recording))
    if plan.model_unit is None or plan.model_unit == signal.unit:
        return signal
    step = Step("declare unit", {"in_the_file": signal.unit, "declared": plan.model_unit})
    return signal.then(step, unit=plan.model_unit)


def coded_channel(plan: ChannelPlan, recording: Recording) -> Signal:
    """Return the model's channel of a plan under the code of the test channel, shifted and signed alike."""
    shifted = shift_time(model_channel(plan, recording), plan.model_shift_ms / 1e3)
    return coded(shifted, plan.test, turned=plan.test_sign * plan.model_sign == -1)


def coded_signals(load_case: LoadCase, recording: Recording) -> dict[str, Signal]:
    """Return the channels of a model under the codes of the test channels that they stand for."""
    found = {}
    for plan in load_case.channel:
        if is_channel_code(plan.test):
            try:
                found[model_channel_name(plan, recording)] = coded_channel(plan, recording)
            except CorrelateError:
                continue  # what needs the channel says that it is missing
    return found


def coded_model(load_case: LoadCase, recording: Recording) -> Recording:
    """Return the mapped channels of a model alone, under the codes of the test."""
    return replace(recording, signals=tuple(coded_signals(load_case, recording).values()))


def read_coded(path: Path, campaign: Campaign, load_case: str) -> Recording:
    """Read results of a model by the layout of a campaign, mapped channels under the codes of the test."""
    case = campaign.load_case(load_case)
    recording = campaign.read_path(path, case)
    signals = {signal.channel: signal for signal in recording.signals} | coded_signals(case, recording)
    return replace(recording, signals=tuple(signals.values()))
