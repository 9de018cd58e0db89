"""Suspected data-handling errors in the channels of a load case, searched in the recordings as read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.campaign.sister_axes import planned_sisters, sister_axes
from correlate.channel import ChannelCode, is_channel_code
from correlate.diagnosis.suspects import Suspect, sensor_suspects, suspects
from correlate.errors import CorrelateError
from correlate.evaluation.case import recording_of
from correlate.evaluation.matching import model_channel

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.conditioning import Recipe
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import ChannelPlan, LoadCase, Release
    from correlate.formats import Recording
    from correlate.metrics.iso18571 import RatingSettings

_AXES: Final = "XYZ"
_WHOLE_SENSOR: Final = "local frame turned"
"""The kind of suspect that speaks of all three axes."""


class SuspectSearch:
    """Seeks suspects in one test and the model's output for it.

    Parameters
    ----------
    load_case
        What is compared, and how.
    test, model
        The recordings.
    settings
        Of the rating.
    recipe
        How a channel is conditioned; as the load case says when left out.
    """

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
        """Seek in a test and a model of a load case that is evaluated.

        Raises
        ------
        CorrelateError
            One of the two cannot be read.
        """
        return cls(
            case.load_case,
            recording_of(case.test(repeat)),
            recording_of(case.model(release)),
            case.campaign.settings,
            lambda plan: case.recipe(plan.name),
        )

    def of(self, channel: str) -> tuple[Suspect, ...]:
        """Return the suspects of one channel, best first.

        Parameters
        ----------
        channel
            As under ``test`` in the campaign file; anything else, such as a resultant, has none.

        Returns
        -------
        tuple of Suspect
            Those of the whole sensor among them where three axes are planned. Empty where a curve is missing
            or cannot be conditioned: the score says why.
        """
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
