"""Scatter of the hardware in one channel of a load case, with the errors of a release beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError
from correlate.evaluation.curves import Curve
from correlate.metrics.iso18571 import check_pair
from correlate.reference.scatter import HardwareScatter, ScatterPairs, scatter_of_many

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import Release


AT_ONCE: Final = 10
"""Channels that are rated together: enough to save time, few enough to need little memory."""


def case_scatter(case: CaseEvaluation, release: Release, channel: str) -> HardwareScatter | None:
    """Return the scatter of the repeats of a channel; None where it cannot be determined."""
    return case_scatters(case, release, [channel])[channel]


def case_scatters(
    case: CaseEvaluation, release: Release, channels: Sequence[str]
) -> dict[str, HardwareScatter | None]:
    """Return the scatter of the repeats of each channel; None where it cannot be determined."""
    found: dict[str, HardwareScatter | None] = dict.fromkeys(channels)
    for first in range(0, len(channels), AT_ONCE):
        pairs = {name: _pairs(case, release, name) for name in channels[first : first + AT_ONCE]}
        known = {name: one for name, one in pairs.items() if one is not None}
        scatters = scatter_of_many([*known.values()], case.campaign.settings)
        found |= dict(zip(known, scatters, strict=True))
    return found


def _pairs(case: CaseEvaluation, release: Release, channel: str) -> ScatterPairs | None:
    curves = [one for one in case.repeats(channel).values() if isinstance(one, Curve)]
    model = case.candidate(channel, release, curves[0]) if curves else None
    try:
        found = ScatterPairs.of(
            [one.signal for one in curves],
            case.recipe(channel),
            model=model.signal if isinstance(model, Curve) else None,
        )
        for pair in () if found is None else found.pairs:
            check_pair(pair)
    except CorrelateError:
        return None  # curves that do not cover the interval cannot be compared either
    return found


def within_scatter(hardware: HardwareScatter | None) -> bool:
    """Say whether the rating of the model is within the scatter of the hardware, as far as that is known."""
    return hardware is not None and hardware.holds("overall") is True
