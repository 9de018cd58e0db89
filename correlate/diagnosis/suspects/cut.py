"""An interval that cuts the main pulse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.suspects.case import on_interval
from correlate.diagnosis.suspects.pulse import main_pulse
from correlate.diagnosis.suspects.suspect import Suspect

if TYPE_CHECKING:
    from correlate.diagnosis.suspects.case import Case

MOST_OUTSIDE: Final = 0.17
"""Share of the area of the main pulse that may lie outside the interval."""
MARGIN: Final = 0.2
"""Kept on either side of the event, as a share of its length."""
CERTAIN: Final = 1.5
"""Weight: the reference alone proves it, so it comes first."""


def widened(case: Case) -> tuple[Case, Suspect | None]:
    """Widen an interval that cuts the main pulse of the reference.

    Parameters
    ----------
    case
        The pair.

    Returns
    -------
    case : Case
        On the wider interval, for all further trials; the same where nothing is cut.
    suspect : Suspect or None
        ``interval cuts the main pulse``.

    References
    ----------
    .. [1] Criterion derived here.
    """
    signal = case.treated_reference
    pulse = main_pulse(signal.samples)
    time = signal.time_s
    start_s = time[0] if case.recipe.start_s is None else case.recipe.start_s
    end_s = time[-1] if case.recipe.end_s is None else case.recipe.end_s
    within = slice(pulse.first, pulse.last + 1)
    area = np.abs(signal.samples[within])
    outside = (time[within] < start_s) | (time[within] > end_s)
    share = float(area[outside].sum() / area.sum()) if area.any() else 0.0
    if share <= MOST_OUTSIDE or not pulse.ends:
        return case, None
    first_s, last_s = float(time[pulse.event_first]), float(time[pulse.event_last])
    margin = MARGIN * (last_s - first_s)
    new_start = max(min(start_s, first_s - margin), case.treated_candidate.start_s, time[0])
    new_end = min(max(end_s, last_s + margin), case.treated_candidate.end_s, time[-1])
    new_start, new_end = _to_whole_ms(float(new_start), float(new_end))
    wider = on_interval(case, min(new_start, start_s), max(new_end, end_s))
    if wider.rating is None:
        return case, None
    return wider, Suspect(
        kind="interval cuts the main pulse",
        channel=case.reference.channel,
        evidence=f"the main pulse of the test runs from {time[pulse.first] * 1e3:.1f} ms to "
        f"{time[pulse.last] * 1e3:.1f} ms, and {share:.0%} of its area lies outside the interval from "
        f"{start_s * 1e3:.1f} ms to {end_s * 1e3:.1f} ms",
        fix=f"write interval_ms = [{wider.extra['start_s'] * 1e3:.6g}, {wider.extra['end_s'] * 1e3:.6g}]",
        rating_before=case.rating,
        rating_after=wider.rating,
        change=wider.extra,
        weight=CERTAIN,
    )


def _to_whole_ms(start_s: float, end_s: float) -> tuple[float, float]:
    return np.ceil(start_s * 1e3 - 1e-6) / 1e3, np.floor(end_s * 1e3 + 1e-6) / 1e3
