"""Scatter of the hardware in one channel of a load case, with the errors of a release beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.errors import CorrelateError
from correlate.evaluation.curves import Curve
from correlate.reference.scatter import HardwareScatter, hardware_scatter

if TYPE_CHECKING:
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import Release


def case_scatter(case: CaseEvaluation, release: Release, channel: str) -> HardwareScatter | None:
    """Return the scatter of the repeats of a channel; None where it cannot be determined."""
    tests = list(case.tests(channel).values())
    first = next((curve for curve in case.repeats(channel).values() if isinstance(curve, Curve)), None)
    model = None if first is None else case.candidate(channel, release, first)
    try:
        return hardware_scatter(
            tests,
            case.recipe(channel),
            case.campaign.settings,
            model=model.signal if isinstance(model, Curve) else None,
        )
    except CorrelateError:
        return None  # curves that do not cover the interval cannot be compared either


def within_scatter(hardware: HardwareScatter | None) -> bool:
    """Say whether the rating of the model is within the scatter of the hardware, as far as that is known."""
    return hardware is not None and hardware.holds("overall") is True
