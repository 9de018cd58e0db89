"""Why one pair loses rating, with the data-error suspects of its channel and its sister axes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.scatter import case_scatter, within_scatter
from correlate.campaign.time_zero import CaseTiming
from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning import condition
from correlate.diagnosis.accounting import LossAccount, account_for_loss
from correlate.diagnosis.differences import FeatureDifference, feature_differences
from correlate.diagnosis.hints import EvidenceChannel, Hint, hints
from correlate.diagnosis.suspects import Suspect, sensor_suspects, suspects
from correlate.diagnosis.suspects.delays import shift_alone
from correlate.diagnosis.what_if import WhatIf, what_if
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.case import recording_of
from correlate.evaluation.channels import model_channel
from correlate.evaluation.curves import role_of
from correlate.evaluation.pairs import PairScore, score_pair
from correlate.metrics.iso18571 import RatingSettings

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.diagnosis.suspects.delays import ShiftAlone
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.record import PairNames
    from correlate.evaluation.tables import ChannelPlan, LoadCase, Release
    from correlate.formats import Recording
    from correlate.signal import Signal


_AXIS: Final = re.compile(r"(?<![A-Za-z])([A-Za-z]?)([xyzXYZ])(?![A-Za-z])")
"""A letter x, y or z alone, or after one other letter, as in ``head x acceleration`` and ``head Fx``."""


def sister_axes(signal: Signal, recording: Recording) -> dict[str, Signal]:
    """Return the channels of a recording that are named like a signal but for the axis."""
    names = [name for name in recording.channel_names if name != signal.channel]
    if is_channel_code(signal.channel):
        sensor = ChannelCode(signal.channel).sensor
        fits = [name for name in names if is_channel_code(name) and ChannelCode(name).sensor == sensor]
    else:
        without = _without_axis(signal.channel)
        fits = [name for name in names if without is not None and _without_axis(name) == without]
    return {name: recording.channel(name) for name in fits}


def planned_sisters(plan: ChannelPlan, load_case: LoadCase, recording: Recording) -> dict[str, Signal]:
    """Return the model's channels for the other axes of a planned sensor."""
    found = {}
    for other in load_case.channel:
        if other.test == plan.test or not share_sensor(plan, other):
            continue
        try:
            signal = model_channel(other, recording)
        except CorrelateError:
            continue  # reported with its own pair
        found[signal.channel] = signal
    return found


def share_sensor(one: ChannelPlan, other: ChannelPlan) -> bool:
    """Say whether two channels are axes of one sensor: of one sensor name, or one code but for the axis."""
    return not sensors_of(one).isdisjoint(sensors_of(other))


def sensors_of(plan: ChannelPlan) -> frozenset[tuple[str, str]]:
    """Return what the axes of one sensor share: its name, and the channel code without the direction."""
    named = {("name", plan.sensor)} if plan.sensor else set()
    coded = {("code", ChannelCode(plan.test).sensor)} if is_channel_code(plan.test) else set()
    return frozenset(named | coded)


def _without_axis(name: str) -> str | None:
    """Return a name with its axis letter taken out; None when it has none or several."""
    return _AXIS.sub(r"\1·", name) if len(_AXIS.findall(name)) == 1 else None


_AXES: Final = "XYZ"
_WHOLE_SENSOR: Final = "local frame turned"
"""The kind of suspect that speaks of all three axes."""


class SuspectSearch:
    """Seeks suspects in one test and the model's output for it."""

    def __init__(
        self,
        load_case: LoadCase,
        test: Recording,
        model: Recording,
        settings: RatingSettings,
        recipe: Callable[[ChannelPlan], Recipe] | None = None,
    ) -> None:
        self._case = load_case
        self._test = test
        self._model = model
        self._settings = settings
        self._recipe = recipe or load_case.recipe
        self._sensors: dict[str, tuple[Suspect, ...]] = {}

    @classmethod
    def in_case(cls, case: CaseEvaluation, release: Release, repeat: str) -> SuspectSearch:
        """Seek in a test and a model of a load case that is evaluated."""
        return cls(
            case.load_case,
            recording_of(case.test(repeat)),
            recording_of(case.model(release)),
            case.campaign.settings,
            lambda plan: case.recipe(plan.name),
        )

    def of(self, channel: str) -> tuple[Suspect, ...]:
        """Return the suspects of one channel, best first."""
        plan = next((one for one in self._case.channel if one.test == channel), None)
        if plan is None:
            return ()
        try:
            axes = _three_axes(plan, self._case)
            return self._of_sensor(plan, axes) if axes else self._of_channel(plan)
        except CorrelateError:
            return ()

    def _of_channel(self, plan: ChannelPlan) -> tuple[Suspect, ...]:
        candidate = model_channel(plan, self._model)
        sisters = sister_axes(candidate, self._model) | planned_sisters(plan, self._case, self._model)
        return suspects(
            self._test.channel(plan.test),
            candidate,
            self._recipe(plan),
            self._settings,
            other_axes=sisters,
        )

    def _of_sensor(self, plan: ChannelPlan, axes: list[ChannelPlan]) -> tuple[Suspect, ...]:
        if plan.sensor not in self._sensors:
            self._sensors[plan.sensor] = sensor_suspects(
                [self._test.channel(axis.test) for axis in axes],
                [model_channel(axis, self._model) for axis in axes],
                [self._recipe(axis) for axis in axes],
                self._settings,
            )
        found = self._sensors[plan.sensor]
        return tuple(one for one in found if one.kind == _WHOLE_SENSOR or one.channel == plan.test)


def _three_axes(plan: ChannelPlan, case: LoadCase) -> list[ChannelPlan]:
    """Return the plans of the axes x, y and z of a sensor; empty when they are not those three."""
    axes = {_direction(one): one for one in case.channel if plan.sensor and one.sensor == plan.sensor}
    return [axes[name] for name in _AXES] if set(axes) == set(_AXES) else []


def _direction(plan: ChannelPlan) -> str:
    if is_channel_code(plan.test):
        return ChannelCode(plan.test).direction
    return (plan.model_axis or "").upper()


FEIGNING: Final = (
    "sign turned",
    "unit wrong",
    "other axis",
    "local frame turned",
    "time zero off",
    "one channel shifted",
)
"""Suspects after which a curve says nothing of a material."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairExplanation:
    """Everything that can be said about the loss of one pair.

    Attributes
    ----------
    score
        The rated pair.
    account
        Its loss over time.
    what_if
        The rating after the best shift, scale, offset and stretch.
    suspects
        Data-handling errors that the pair looks like, best first.
    differences
        Features of both curves, the one that explains most first; empty where the model is zero throughout.
    hints
        To the behaviour of materials, the best supported first.
    silence
        Why there are no hints, in words; empty where the curves were asked for some.
    """

    score: PairScore
    account: LossAccount
    what_if: WhatIf
    suspects: tuple[Suspect, ...]
    differences: tuple[FeatureDifference, ...]
    hints: tuple[Hint, ...]
    silence: str = ""

    @property
    def model_is_zero(self) -> bool:
        """Whether the model is zero throughout, so that its rating and what would win say nothing."""
        return not np.any(self.score.rating.pair.candidate)

    @property
    def hints_wait(self) -> bool:
        """Whether the first suspect would feign a material; the hints say nothing until it is cleared."""
        return feigns_material(self.suspects)


def feigns_material(found: Sequence[Suspect]) -> bool:
    """Say whether an error comes first after which hints would read the curve as a material."""
    return bool(found) and found[0].kind in FEIGNING


def explain_pair(
    reference: Signal,
    candidate: Signal,
    *,
    recipe: Recipe | None = None,
    settings: RatingSettings | None = None,
    other_axes: Mapping[str, Signal] | None = None,
) -> PairExplanation:
    """Say where a pair loses its rating and what may lie behind it.

    Parameters
    ----------
    reference, candidate
        The test and the model as they were read.
    recipe, settings
        As for :func:`score_pair`.
    other_axes
        Of the model's sensor, as read, by name; tried in the place of the candidate.

    Returns
    -------
    PairExplanation

    Raises
    ------
    CorrelateError
        As :func:`score_pair`.
    """
    score = score_pair(reference, candidate, recipe=recipe, settings=settings)
    found = suspects(reference, candidate, score.recipe, settings, other_axes=other_axes or {})
    unit = score.recipe.unit or reference.unit
    shift = shift_alone(
        condition(reference, score.recipe.for_reference(unit)),
        condition(candidate, score.recipe.for_candidate(unit)),
        score.recipe,
        settings or RatingSettings(),
    )
    return _explanation(score, found, settings, silence=_shift_first(shift))


def explain_campaign_pair(
    case: CaseEvaluation, release: Release, channel: str, repeat: str = ""
) -> PairExplanation:
    """Say where a pair of a campaign loses its rating and what may lie behind it.

    Parameters
    ----------
    case
        Its load case.
    release, channel, repeat
        As for :meth:`CaseEvaluation.pair`.

    Returns
    -------
    PairExplanation
        Suspects are sought in the test; of a mean curve, in its first repeat. None are sought for a
        resultant: its axes are pairs of their own. A shift of time zero is sought in all channels and
        repeats of the load case.

    Raises
    ------
    CorrelateError
        A curve is missing, or the pair cannot be conditioned or rated.
    """
    pair = case.pair(release, channel, repeat)
    test = pair.names.repeat if pair.names.repeat in case.paths else next(iter(case.tests(channel)))
    timing = CaseTiming(case, release)
    found = timing.told_apart(channel, SuspectSearch.in_case(case, release, test).of(channel))
    return _explanation(
        pair.score(),
        found if timing.suspect is None else (timing.suspect, *found),
        case.campaign.settings,
        silence=_silence_in_case(case, release, pair.names, timing),
    )


TIME_ZERO_FIRST: Final = "time zero is suspected to be wrong in all channels; resolve this first"
"""Why a load case gives no hints if its test or model as a whole seems to be shifted."""
_ERROR_FIRST: Final = "a data-handling error is suspected; resolve it first"
_WITHIN_SCATTER: Final = "the model is within hardware scatter"


def _silence_in_case(case: CaseEvaluation, release: Release, names: PairNames, timing: CaseTiming) -> str:
    """Say what else of the load case speaks against hints; empty where nothing does."""
    if timing.suspect is not None:
        return TIME_ZERO_FIRST
    if within_scatter(case_scatter(case, release, names.channel)):
        return _WITHIN_SCATTER
    return _shift_first(timing.shift_alone(names.channel, names.repeat))


def _shift_first(shift: ShiftAlone | None) -> str:
    """Say that a shift in time alone restores most of the loss; empty where none does."""
    if shift is None:
        return ""
    moved = f"{abs(shift.delay_s) * 1e3:.1f} ms {'earlier' if shift.delay_s > 0 else 'later'}"
    return (
        f"shifting the model {moved} is enough to raise the rating from {shift.before:.3f} "
        f"to {shift.after:.3f}; check the triggers first"
    )


def _explanation(
    score: PairScore, found: tuple[Suspect, ...], settings: RatingSettings | None, *, silence: str
) -> PairExplanation:
    pair, name, unit = score.rating.pair, score.reference.channel, score.reference.unit
    moves = bool(np.any(pair.candidate))
    alone = EvidenceChannel(name=name, role=role_of(name, "", unit), pair=pair)
    said = _ERROR_FIRST if feigns_material(found) and not silence else silence
    return PairExplanation(
        score=score,
        account=account_for_loss(score.rating),
        what_if=what_if(pair, settings),
        suspects=found,
        differences=feature_differences(pair, settings, unit=unit) if moves else (),
        hints=() if said else hints([alone]),
        silence=said,
    )
