"""Conditioned curves: of one test, of the model, of a resultant, and the mean of the repeats."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning import condition, mean_signal, resultant
from correlate.conditioning.offset import offset_flags
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.channels import model_channel
from correlate.evaluation.record import Origin, input_words, origin_of
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from correlate.conditioning import Recipe
    from correlate.diagnosis.hints import Role
    from correlate.evaluation.tables import ChannelPlan, ResultantPlan
    from correlate.flag import Flag
    from correlate.formats import Recording
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A conditioned curve and where it came from.

    Pairs are cut from its samples. Its signal is created only on request, because a rating does not need the
    history as objects, and many curves are kept from earlier runs.

    Attributes
    ----------
    samples
        Shape ``(n,)``, read-only: conditioned, not yet cut to the interval.
    start_s, step_s
        Time of the first sample and sampling interval, s.
    origins
        Hash and channel of everything it was made from.
    words
        Its source and history as plain values.
    flags
        Warnings of how it was conditioned.
    restored
        Returns the signal.
    """

    samples: NDArray[np.float64]
    start_s: float
    step_s: float
    origins: tuple[Origin, ...]
    words: dict[str, Any]
    flags: tuple[Flag, ...]
    restored: Callable[[], Signal] = field(repr=False)

    def __len__(self) -> int:
        """Return the number of samples."""
        return self.samples.size

    @property
    def signal(self) -> Signal:
        """The curve with its source and every step."""
        return self.restored()

    @property
    def unit(self) -> str:
        """Unit of the samples."""
        return str(self.words["unit"])

    @property
    def end_s(self) -> float:
        """Time of the last sample, s."""
        return self.start_s + self.step_s * (len(self) - 1)

    @property
    def place(self) -> str:
        """File and channel, for messages."""
        return f"{self.words['file']}, channel '{self.words['channel']}'"


@dataclass(frozen=True, slots=True)
class Missing:
    """A curve that could not be had.

    Attributes
    ----------
    error
        Why.
    """

    error: CorrelateError

    @property
    def reason(self) -> str:
        """The error in one sentence."""
        return str(self.error)


def curve_of(found: Curve | Missing) -> Curve:
    """Return a curve, or raise why there is none."""
    if isinstance(found, Missing):
        raise found.error
    return found


def candidate_curve(
    plan: ChannelPlan, recording: Recording | Missing, recipe: Recipe, unit: str
) -> Curve | Missing:
    """Find, read and condition the model's channel for a plan."""
    if isinstance(recording, Missing):
        return recording
    try:
        raw = model_channel(plan, recording)
        return _curve(condition(raw, recipe.for_candidate(unit)), (origin_of(raw),))
    except CorrelateError as error:
        return Missing(error)


def reference_curve(plan: ChannelPlan, recording: Recording | Missing, recipe: Recipe) -> Curve | Missing:
    """Find, read and condition the channel of one test."""
    if isinstance(recording, Missing):
        return recording
    try:
        raw = recording.channel(plan.test)
        return _curve(condition(raw, recipe.for_reference(raw.unit)), (origin_of(raw),))
    except CorrelateError as error:
        return Missing(error)


def resultant_curve(plan: ResultantPlan, axes: Sequence[Curve | Missing]) -> Curve | Missing:
    """Combine three conditioned axes."""
    for axis in axes:
        if isinstance(axis, Missing):
            return axis
    curves = [axis for axis in axes if isinstance(axis, Curve)]
    try:
        total = resultant(*(curve.signal for curve in curves), channel=plan.title)
    except CorrelateError as error:
        return Missing(error)
    return _curve(total, tuple(origin for curve in curves for origin in curve.origins))


def mean_curve(repeats: dict[str, Curve | Missing]) -> dict[str, Curve | Missing]:
    """Average the repeats over the time they share."""
    found = {name: curve for name, curve in repeats.items() if isinstance(curve, Curve)}
    if not found:
        return dict(list(repeats.items())[:1])
    curves = list(found.values())
    try:
        mean = mean_signal([curve.signal for curve in curves], list(found))
    except CorrelateError as error:
        return {f"mean of {len(curves)}": Missing(error)}
    origins = tuple(origin for curve in curves for origin in curve.origins)
    return {f"mean of {len(curves)}": _curve(mean, origins)}


NOT_A_DUMMY: Final = "00"
"""Letters of a channel code in the place of the dummy type, for a channel that is not on a dummy."""


def role_of(channel: str, region: str, unit: str) -> Role:
    """Say what a channel measures, as the hints need it.

    Parameters
    ----------
    channel
        Its name; of a channel code the place of the dummy type says whether it is on a dummy.
    region
        Body region it counts for; ``rig`` is not on a dummy either.
    unit
        Of its curves.

    Examples
    --------
    >>> role_of("00PEND000000ACXP", "thorax", "m/s^2"), role_of("D0CHST0003KMDSXP", "thorax", "mm")
    ('rig', 'travel')
    """
    if parse_unit(unit).dimension in {"length", "angle"}:
        return "travel"
    if "acceleration" not in parse_unit(unit).dimension:
        return "force"
    own = is_channel_code(channel) and ChannelCode(channel).fine_locations[-1] == NOT_A_DUMMY
    return "rig" if own or region == "rig" else "acceleration"


def _curve(signal: Signal, origins: tuple[Origin, ...]) -> Curve:
    return Curve(
        samples=signal.samples,
        start_s=signal.start_s,
        step_s=signal.step_s,
        origins=origins,
        words=input_words(signal),
        flags=offset_flags(signal),
        restored=partial(_itself, signal),
    )


def _itself(signal: Signal) -> Signal:
    return signal
