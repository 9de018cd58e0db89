"""The model's curves of a run: features, and whether they are absurdly large."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import cut_pair
from correlate.diagnosis.features.pulse import pulse_of
from correlate.diagnosis.features.transitions import half_duration
from correlate.errors import SignalError
from correlate.evaluation.curves import Curve, Missing
from correlate.tuning.record import UnstableError
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import Release
    from correlate.pair import AlignedPair

NO_TEST: Final = Missing(SignalError("no test can be read"))
"""Stands for the reference where only the model's curve is wanted."""


def curve_features(case: CaseEvaluation, release: Release, absurd_ratio: float) -> dict[str, float]:
    """Tell peak, time of peak and duration at half peak of every rated curve of a run.

    Parameters
    ----------
    case
        Load case with its tests.
    release
        The run.
    absurd_ratio
        A peak this many times the largest of the tests, or more, is absurd.

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
    found: dict[str, float] = {}
    for channel in case.channels:
        tests = [one for one in case.repeats(channel).values() if isinstance(one, Curve)]
        model = case.candidate(channel, release, tests[0] if tests else NO_TEST)
        place = f"load case '{case.load_case.name}', channel '{channel}'"
        if isinstance(model, Missing):
            raise SignalError(f"{place}: {model.reason}")
        if tests:
            pair = cut_pair(tests[0].signal, model.signal, case.recipe(channel))
            largest = max(float(np.abs(one.signal.samples).max()) for one in tests)
            _refuse_absurd(pair, largest, absurd_ratio, place)
            names = _features(pair)
            found |= {
                outcome_name("feature", case.load_case.name, channel, name): value
                for name, value in names.items()
            }
    return found


def _refuse_absurd(pair: AlignedPair, largest: float, absurd_ratio: float, place: str) -> None:
    peak = float(np.abs(pair.candidate).max())
    if peak >= absurd_ratio * largest > 0:
        raise UnstableError(
            f"the peak of the model is {peak / largest:.3g} times that of the tests", where=place
        )


def _features(pair: AlignedPair) -> dict[str, float]:
    """Return the features of the model's curve; none where it is zero throughout."""
    if not np.any(pair.candidate):
        return {}  # it rates as badly as it should
    pulse = pulse_of(pair.time, pair.candidate)
    named = {"peak": pulse.sign * pulse.height, "time of peak": pulse.peak_time}
    # A curve that does not fall below half of its peak inside the interval has no such duration.
    with suppress(SignalError):
        named["duration at half peak"] = half_duration(pulse)
    return named
