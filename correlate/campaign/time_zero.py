"""Timing of a load case: a shift that all channels share, a shift of one channel alone, or neither."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.suspects.common_time import (
    CommonDelay,
    TimedChannel,
    common_delay,
    wrong_common_time_zero,
)
from correlate.diagnosis.suspects.delays import shift_alone
from correlate.evaluation.curves import Curve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.diagnosis.suspects import Suspect
    from correlate.diagnosis.suspects.delays import DelayErrors, ShiftAlone
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import Release
    from correlate.signal import Signal


TIME_ZERO: Final = "time zero off"
ONE_CHANNEL: Final = "one channel shifted"
IN_PLACE_S: Final = 0.002
"""Channels that are late by less witness that a shift is of another channel alone, s …"""
IN_PLACE_SHARE: Final = 0.2
"""… or by less than this share of it (both chosen here)."""


class CaseTiming:
    """Examines the timing of one load case of one release, once it is asked."""

    def __init__(self, case: CaseEvaluation, release: Release) -> None:
        self._case = case
        self._release = release

    @cached_property
    def suspect(self) -> Suspect | None:
        """The shift of time zero that all channels have in common; None where none is suspected."""
        return wrong_common_time_zero(self._common, self._channels, self._case.campaign.settings)

    def told_apart(self, channel: str, found: Sequence[Suspect]) -> tuple[Suspect, ...]:
        """Return the suspects of one channel in the light of the others.

        A shift that all channels share is a suspect of the load case and not of each channel. A shift of one
        channel alone is of another kind. Where several channels are late by different times, the model is.
        """
        return tuple(
            one if one.kind != TIME_ZERO else replace(one, kind=ONE_CHANNEL)
            for one in found
            if one.kind != TIME_ZERO or self._alone(channel, one)
        )

    def _alone(self, channel: str, suspect: Suspect) -> bool:
        """Say whether all other channels are in place, as far as they resemble the test."""
        if self.suspect is not None:
            return False
        delay_s = self._case.recipe(channel).candidate_shift_s - suspect.change["candidate_shift_s"]
        in_place_s = max(IN_PLACE_S, IN_PLACE_SHARE * abs(delay_s))
        found = self._common
        return found is None or all(
            abs(own_s) <= in_place_s
            for name, own_s in zip(found.names, found.own_s, strict=True)
            if name != channel
        )

    def shift_alone(self, channel: str, repeat: str) -> ShiftAlone | None:
        """Return the shift in time that alone restores most of what a channel has lost; None without one."""
        reference = self._case.references(channel).get(repeat)
        if not isinstance(reference, Curve):
            return None
        model = self._case.candidate(channel, self._release, reference)
        if not isinstance(model, Curve):
            return None
        return shift_alone(
            reference.signal,
            model.signal,
            self._case.recipe(channel),
            self._case.campaign.settings,
            widest=self._errors_of(channel, reference.signal, model.signal),
        )

    def _errors_of(self, channel: str, test: Signal, model: Signal) -> DelayErrors | None:
        """Return the errors of a repeat over delays, where the search for a common delay computed them."""
        timed = next((one for one in self._channels if one.name == channel and one.model is model), None)
        if timed is None:
            return None
        found = zip(timed.tests, timed.errors, strict=True)
        return next((errors for one, errors in found if one is test), None)

    @cached_property
    def _common(self) -> CommonDelay | None:
        return common_delay(self._channels)

    @cached_property
    def _channels(self) -> list[TimedChannel]:
        found = (self._timed(plan.test) for plan in self._case.load_case.channel)
        return [one for one in found if one is not None]

    def _timed(self, channel: str) -> TimedChannel | None:
        """Return a channel with its repeats; None where a side is missing or zero."""
        curves = [one for one in self._case.repeats(channel).values() if isinstance(one, Curve)]
        if not curves:
            return None
        model = self._case.candidate(channel, self._release, curves[0])
        if not isinstance(model, Curve) or not np.any(model.signal.samples):
            return None
        return TimedChannel(
            name=channel,
            tests=tuple(one.signal for one in curves),
            model=model.signal,
            recipe=self._case.recipe(channel),
        )
