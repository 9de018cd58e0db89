"""The model's curves of a run: features, and whether they are absurdly large."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np

from correlate.campaign.curves import Curve, Missing, TestCurves, read_model
from correlate.campaign.quantities import quantities
from correlate.conditioning import pair_conditioned
from correlate.diagnosis.features.pulse import pulse_of
from correlate.diagnosis.features.transitions import half_duration
from correlate.errors import SignalError
from correlate.tuning.record import UnstableError
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from correlate.campaign import Campaign, LoadCase, Release
    from correlate.campaign.quantities import Quantity


class CaseCurves:
    """The curves of one load case; its tests are read once for all runs.

    Parameters
    ----------
    campaign, load_case
        What is rated.
    absurd_ratio
        A peak this many times the largest of the tests, or more, is absurd.
    """

    def __init__(self, campaign: Campaign, load_case: LoadCase, absurd_ratio: float) -> None:
        self._campaign = campaign
        self._case = load_case
        self._absurd_ratio = absurd_ratio
        self._tests: TestCurves | None = None

    def features(self, release: Release) -> dict[str, float]:
        """Tell peak, time of peak and duration at half peak of every rated curve of a run.

        Parameters
        ----------
        release
            The run.

        Returns
        -------
        dict
            Outcomes by name: unit of the test, s, s. What a curve does not have is left out.

        Raises
        ------
        UnstableError
            A curve is absurdly large.
        SignalError
            A rated channel of the model cannot be had.
        """
        if self._tests is None:
            self._tests = TestCurves(self._case, self._campaign.test_paths(self._case))
        recording = read_model(self._campaign, release, self._case)
        found: dict[str, float] = {}
        for quantity in quantities(self._case, self._tests, recording):
            if isinstance(quantity.model, Missing):
                raise SignalError(
                    f"load case '{self._case.name}', channel '{quantity.channel}': {quantity.model.reason}"
                )
            if quantity.tests:
                found |= self._of(quantity, quantity.model)
        return found

    def _of(self, quantity: Quantity, model: Curve) -> dict[str, float]:
        test = next(iter(quantity.tests.values()))
        pair = pair_conditioned(test, model.signal, quantity.recipe).pair
        largest = max(float(np.abs(one.samples).max()) for one in quantity.tests.values())
        peak = float(np.abs(pair.candidate).max())
        if peak >= self._absurd_ratio * largest > 0:
            raise UnstableError(
                f"the peak of the model is {peak / largest:.3g} times that of the tests",
                where=f"load case '{self._case.name}', channel '{quantity.channel}'",
            )
        if peak == 0:
            return {}  # a curve that is zero throughout has no features, and rates as badly as it should
        pulse = pulse_of(pair.time, pair.candidate)
        named = {"peak": pulse.sign * pulse.height, "time of peak": pulse.peak_time}
        # A curve that does not fall below half of its peak inside the interval has no such duration.
        with suppress(SignalError):
            named["duration at half peak"] = half_duration(pulse)
        return {
            outcome_name("feature", self._case.name, quantity.channel, name): value
            for name, value in named.items()
        }
