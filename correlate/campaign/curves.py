"""The conditioned curves of one load case: repeats of the test, their mean, and the model's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.campaign.matching import model_channel
from correlate.campaign.record import Origin, input_words, origin_of, plain
from correlate.conditioning import condition, crop, resultant
from correlate.errors import CorrelateError, SignalError
from correlate.formats import read
from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.campaign.definition import Campaign
    from correlate.campaign.tables import ChannelPlan, LoadCase, Release, ResultantPlan
    from correlate.conditioning import Recipe
    from correlate.formats import Recording


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A conditioned curve and where it came from.

    Attributes
    ----------
    signal
        Conditioned, not yet cut to the interval.
    origins
        Hash and channel of everything it was made from.
    words
        Its source and history as plain values.
    """

    signal: Signal
    origins: tuple[Origin, ...]
    words: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Missing:
    """A curve that could not be had.

    Attributes
    ----------
    reason
        One sentence.
    """

    reason: str


class TestCurves:
    """The repeats of one load case, read and conditioned once for all releases.

    Parameters
    ----------
    load_case
        What is rated.
    paths
        Of the tests, one a repeat.
    use_mean
        Whether the mean of the repeats is the one reference.

    Attributes
    ----------
    channel_names
        Every channel of every repeat.
    """

    __test__ = False  # this is no collection of tests

    def __init__(self, load_case: LoadCase, paths: Sequence[Path], reader: Any = read) -> None:
        recordings = {path.stem: _read_or_missing(path, reader) for path in paths}
        self.channel_names = {
            name for one in recordings.values() if not isinstance(one, Missing) for name in one.channel_names
        }
        self._by_channel = {
            plan.test: {repeat: _test_curve(load_case, plan, one) for repeat, one in recordings.items()}
            for plan in load_case.channel
        }

    def repeats(self, test: str) -> dict[str, Curve | Missing]:
        """Return the curve of each repeat of a channel, by the name of the repeat."""
        return self._by_channel[test]

    def resultants(self, plan: ResultantPlan) -> dict[str, Curve | Missing]:
        """Return the resultant of each repeat."""
        first = self._by_channel[plan.axes[0]]
        return {
            repeat: resultant_curve(plan, [self._by_channel[axis][repeat] for axis in plan.axes])
            for repeat in first
        }


def model_curve(
    plan: ChannelPlan, recording: Recording | Missing, recipe: Recipe, unit: str
) -> Curve | Missing:
    """Find, read and condition the model's channel for a plan.

    Parameters
    ----------
    plan
        Of the channel.
    recording
        Output of the model.
    recipe
        How to condition.
    unit
        Unit of the comparison.

    Returns
    -------
    Curve or Missing
    """
    if isinstance(recording, Missing):
        return recording
    try:
        raw = model_channel(plan, recording)
        return _curve(condition(raw, recipe.for_candidate(unit)), (origin_of(raw),))
    except CorrelateError as error:
        return Missing(str(error))


def resultant_curve(plan: ResultantPlan, axes: Sequence[Curve | Missing]) -> Curve | Missing:
    """Combine three conditioned axes.

    Parameters
    ----------
    plan
        Of the resultant.
    axes
        Three curves, or why one is missing.

    Returns
    -------
    Curve or Missing
    """
    for axis in axes:
        if isinstance(axis, Missing):
            return axis
    curves = [axis for axis in axes if isinstance(axis, Curve)]
    try:
        total = resultant(*(curve.signal for curve in curves), channel=plan.title)
    except CorrelateError as error:
        return Missing(str(error))
    return _curve(total, tuple(origin for curve in curves for origin in curve.origins))


def mean_curve(repeats: dict[str, Curve | Missing]) -> dict[str, Curve | Missing]:
    """Average the repeats over the time they share.

    Parameters
    ----------
    repeats
        Conditioned curves by the name of the repeat.

    Returns
    -------
    dict
        One entry, called after the number of repeats; missing ones are left out and named in the history.
    """
    found = {name: curve for name, curve in repeats.items() if isinstance(curve, Curve)}
    if not found:
        return dict(list(repeats.items())[:1])
    curves = list(found.values())
    try:
        mean = _mean([curve.signal for curve in curves], list(found))
    except CorrelateError as error:
        return {f"mean of {len(curves)}": Missing(str(error))}
    origins = tuple(origin for curve in curves for origin in curve.origins)
    return {f"mean of {len(curves)}": _curve(mean, origins)}


def _mean(signals: list[Signal], names: list[str]) -> Signal:
    first = signals[0]
    start_s = max(signal.start_s for signal in signals)
    end_s = min(signal.end_s for signal in signals)
    if end_s <= start_s:
        raise SignalError("the repeats share no time", where=first.place, remedy="correct their time zeros")
    cut = [crop(signal.in_unit(first.unit), start_s=start_s, end_s=end_s) for signal in signals]
    step = Step("mean of repeats", {"repeats": names, "inputs": [plain(one.source.sha256) for one in cut]})
    return Signal(
        samples=np.mean([signal.samples for signal in cut], axis=0),
        start_s=cut[0].start_s,
        step_s=cut[0].step_s,
        unit=first.unit,
        channel=first.channel,
        source=Source("mean of " + ", ".join(one.source.file for one in cut)),
        history=(*cut[0].history, step),
    )


def read_model(campaign: Campaign, release: Release, load_case: LoadCase) -> Recording | Missing:
    """Read a model's output, or say why it cannot be read.

    Parameters
    ----------
    campaign
        The campaign.
    release, load_case
        Which output.

    Returns
    -------
    Recording or Missing
    """
    try:
        return campaign.read_model(release, load_case)
    except CorrelateError as error:
        return Missing(str(error))


def _read_or_missing(path: Path, reader: Any) -> Recording | Missing:
    try:
        recording: Recording = reader(path)
    except CorrelateError as error:
        return Missing(str(error))
    return recording


def _test_curve(load_case: LoadCase, plan: ChannelPlan, recording: Recording | Missing) -> Curve | Missing:
    if isinstance(recording, Missing):
        return recording
    try:
        raw = recording.channel(plan.test)
        treated = condition(raw, load_case.recipe(plan).for_reference(raw.unit))
    except CorrelateError as error:
        return Missing(str(error))
    return _curve(treated, (origin_of(raw),))


def _curve(signal: Signal, origins: tuple[Origin, ...]) -> Curve:
    return Curve(signal, origins, input_words(signal))
