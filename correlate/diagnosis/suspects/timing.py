"""Suspects in time: time zero, onset, a cut curve, an offset window inside the event."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import condition
from correlate.conditioning.offset import offset_flags
from correlate.diagnosis.suspects.case import (
    MODERATE,
    Suspect,
    error_left,
    interval_of,
    likeness,
    main_pulse,
    on_interval,
    paired,
    rated,
)
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case
    from correlate.signal import Signal

    Window = tuple[float, float]


ONSET_SHARE: Final = 0.1
"""The event begins where a curve first passes this share of its largest value."""


def onset_s(signal: Signal) -> float:
    """Find where a curve sets out.

    References
    ----------
    .. [1] Share chosen here.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> curve = Signal(samples=[0, 0, -1, -3, 8], start_s=0, step_s=0.1, unit="g", channel="head ax")
    >>> round(onset_s(curve), 9)
    0.2
    """
    size = np.abs(signal.samples)
    return float(signal.time_s[int(np.argmax(size >= ONSET_SHARE * size.max()))])


LARGEST_S: Final = 0.12
"""Largest shift tried, s."""
PHYSICAL_S: Final = 0.009
"""A model may be late or early by this much and still be an honest poor model, s."""
LEAST_CORRELATION: Final = 0.75
"""Least correlation at the best delay that is looked into."""
MOST_LEFT: Final = 0.3
"""The moved curve must leave no more than this share of the squares of the reference …"""
BETTER: Final = 0.6
"""… and no more than this share of what a poor model's freedoms would leave of the curve in place."""
ONSET_SLACK_S: Final = 0.004
ONSET_SLACK: Final = 0.25
"""How far the onsets may lie apart from the delay, in s or as a share of it, whichever is larger."""
LEAST_COMPARED: Final = 21
"""Fewer samples in the interval are not compared."""
OCCAM: Final = 1.5
"""Factor on the error for the weight: a shift is free to take any value."""


def wrong_time_zero(case: Case) -> Iterator[Suspect]:
    """Move the candidate to where it fits best, and see whether that is further than physics goes.

    References
    ----------
    .. [1] Criterion derived here.
    """
    best = _best_delay_s(case)
    if best is None:
        return
    delay_s, alike = best
    if abs(delay_s) <= PHYSICAL_S or alike < LEAST_CORRELATION:
        return
    if not _set_out_apart(case, delay_s):
        return
    treatment = case.recipe.for_candidate(case.recipe.unit or case.reference.unit)
    shift_s = case.recipe.candidate_shift_s - delay_s
    moved = condition(case.candidate, replace(treatment, shift_s=shift_s))
    pair = paired(case.treated_reference, moved, case.recipe)
    if pair is None:
        return
    left = error_left(pair, MODERATE)
    after = rated(pair, case.settings) or 0.0
    if left > min(MOST_LEFT, BETTER * case.poor) or after <= (case.rating or 0.0):
        return
    word = "late" if delay_s > 0 else "early"
    yield Suspect(
        kind="time zero off",
        channel=case.reference.channel,
        evidence=f"the model is {abs(delay_s) * 1e3:.1f} ms {word} as a whole and otherwise similar "
        f"(correlation {alike:.2f} after the shift); a model alone is assumed to be late by less than "
        f"{PHYSICAL_S * 1e3:.0f} ms",
        fix=f"check the time zero of both sides; if it differs, write model_shift_ms = {shift_s * 1e3:.6g}",
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_shift_s": shift_s, **case.extra},
        weight=1 - OCCAM * left,
    )


def _set_out_apart(case: Case, delay_s: float) -> bool:
    """Say whether the onsets lie apart by about the delay too, as those of a slow model do not."""
    apart_s = onset_s(case.treated_candidate) - onset_s(case.treated_reference)
    return abs(apart_s) > PHYSICAL_S and abs(apart_s - delay_s) < max(
        ONSET_SLACK_S, ONSET_SLACK * abs(delay_s)
    )


def _best_delay_s(case: Case) -> tuple[float, float] | None:
    """Return the delay of the candidate over its whole record and the correlation there."""
    reference, candidate = case.treated_reference, case.treated_candidate
    step_s, recipe = case.recipe.step_s, case.recipe
    first, count = interval_of(reference, recipe)
    if count < LEAST_COMPARED:
        return None
    cut = reference.samples[first : first + count]
    ahead = round((reference.start_s - candidate.start_s) / step_s) + first
    found = likeness(cut, candidate.samples, round(LARGEST_S / step_s), ahead=ahead)
    return found.delay * step_s, found.correlation


MOST_OUTSIDE: Final = 0.17
"""Share of the area of the main pulse that may lie outside the interval."""
MARGIN: Final = 0.2
"""Kept on either side of the event, as a share of its length."""
CUT_CERTAIN: Final = 1.5
"""Weight: the reference alone proves it, so it comes first."""


def widened(case: Case) -> tuple[Case, Suspect | None]:
    """Widen an interval that cuts the main pulse of the reference.

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
    new_start, new_end = min(new_start, start_s), max(new_end, end_s)
    wider = on_interval(case, new_start, new_end)
    if wider.rating is None:
        return case, None
    fix = f"write interval_ms = [{wider.extra['start_s'] * 1e3:.6g}, {wider.extra['end_s'] * 1e3:.6g}]"
    if (new_start, new_end) == (start_s, end_s):
        fix = "compute or record a longer time; the data reach no further"
    return wider, Suspect(
        kind="interval cuts the main pulse",
        channel=case.reference.channel,
        evidence=f"the main pulse of the test runs from {time[pulse.first] * 1e3:.1f} ms to "
        f"{time[pulse.last] * 1e3:.1f} ms, and {share:.0%} of its area lies outside the interval from "
        f"{start_s * 1e3:.1f} ms to {end_s * 1e3:.1f} ms",
        fix=fix,
        rating_before=case.rating,
        rating_after=wider.rating,
        change=wider.extra,
        weight=CUT_CERTAIN,
    )


def _to_whole_ms(start_s: float, end_s: float) -> tuple[float, float]:
    # Adding zero: rounding up what is just below zero gives -0.
    return np.ceil(start_s * 1e3 - 1e-6) / 1e3 + 0.0, np.floor(end_s * 1e3 + 1e-6) / 1e3


SHARES: Final = (0.8, 0.6, 0.4, 0.2)
"""Parts of the window, from its start, that are tried in its place."""
OFFSET_CERTAIN: Final = 1.5
"""Weight: the test alone proves it, so it comes first."""


def disturbed_offset_window(case: Case) -> Iterator[Suspect]:
    """Look whether the offset of the test was taken where the test is not constant.

    References
    ----------
    .. [1] Criterion chosen here; see :func:`correlate.conditioning.offset.offset_flags`.
    """
    flags = offset_flags(case.treated_reference)
    window = case.recipe.reference_offset_window_s
    if not flags or window is None:
        return
    for quiet in _windows_before(case.reference, window):
        found = _with_window(case, quiet)
        if found is not None:
            yield Suspect(
                kind="offset window overlaps the event",
                channel=case.reference.channel,
                evidence=flags[0].sentence.rstrip("."),
                fix=f"write test_offset_ms = [{quiet[0] * 1e3:.6g}, {quiet[1] * 1e3:.6g}]",
                rating_before=case.rating,
                rating_after=found,
                change={"reference_offset_window_s": quiet},
                weight=OFFSET_CERTAIN,
            )
            return


def _windows_before(signal: Signal, window: Window) -> Iterator[Window]:
    """Yield windows that end earlier: parts of the window, then the time before it."""
    start_s, end_s = window
    yield from ((start_s, start_s + share * (end_s - start_s)) for share in SHARES)
    if signal.start_s < start_s:
        yield max(signal.start_s, 2 * start_s - end_s), start_s


def _with_window(case: Case, window: Window) -> float | None:
    """Return the rating with another offset window; None where that one is disturbed too."""
    recipe = replace(case.recipe, reference_offset_window_s=window)
    unit = recipe.unit or case.reference.unit
    try:
        treated = condition(case.reference, recipe.for_reference(unit))
    except SignalError:
        return None  # the window holds no sample
    if offset_flags(treated):
        return None
    return rated(paired(treated, case.treated_candidate, recipe), case.settings)
