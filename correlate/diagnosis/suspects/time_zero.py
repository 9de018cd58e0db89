"""A time zero that differs from that of the other side."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from correlate.conditioning import condition
from correlate.diagnosis.suspects.case import paired, rated
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.likeness import likeness
from correlate.diagnosis.suspects.onset import onset_s
from correlate.diagnosis.suspects.suspect import Suspect

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case

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
OCCAM: Final = 1.5
"""Factor on the error for the weight: a shift is free to take any value."""


def wrong_time_zero(case: Case) -> Iterator[Suspect]:
    """Move the candidate to where it fits best, and see whether that is further than physics goes.

    Parameters
    ----------
    case
        The pair.

    Yields
    ------
    Suspect
        ``time zero off``.

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
        evidence=f"the model is {abs(delay_s) * 1e3:.1f} ms {word} as a whole and otherwise alike "
        f"(correlation {alike:.2f} when moved); models err by less than {PHYSICAL_S * 1e3:.0f} ms",
        fix=f"check what starts the clocks of both sides; if it differs, write "
        f"model_shift_ms = {shift_s * 1e3:.6g}",
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
    start_s = reference.start_s if recipe.start_s is None else max(recipe.start_s, reference.start_s)
    end_s = reference.end_s if recipe.end_s is None else min(recipe.end_s, reference.end_s)
    first, last = (round((time - reference.start_s) / step_s) for time in (start_s, end_s))
    if last - first < 20:
        return None
    cut = reference.samples[first : last + 1]
    ahead = round((reference.start_s - candidate.start_s) / step_s) + first
    found = likeness(cut, candidate.samples, round(LARGEST_S / step_s), ahead=ahead)
    return found.delay * step_s, found.correlation
