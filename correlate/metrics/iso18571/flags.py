"""Warnings beside the rating: the method is not meant for the pair, or the rating means less than it seems.

Every criterion is chosen here; how often each is right and wrong is in ``docs/rating.md``, measured by
``python -m tests.benchmarks flags``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled
from correlate.flag import Flag

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.metrics.iso18571.rating import Ingredients
    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]

LEAST_LOSS: Final = 0.05
"""Loss of phase score from which the shift must be identifiable."""
LEAST_GAIN: Final = 2.0
r"""Least gain of correlation over :math:`(n_\varepsilon / N)^2`; a half-sine filling the interval has 26."""
QUIET: Final = 0.05
"""Share of the reference's largest value under which it is quiet."""
MOST_QUIET: Final = 0.5
"""Share of the interval that may be quiet."""
MARGIN: Final = 0.1
"""Added to the suggested interval on either side, as a share of the time in which something happens."""
PUBLISHED_STEP_S: Final = 1e-4
"""Time step for which nine samples are about 1 ms (ISO/TS 18571:2014, from memory)."""
HIGH: Final = 0.4
"""Share of the largest value that an excursion exceeds."""
MOST_EXCURSIONS: Final = 12
"""Excursions of a single event, a ringing one included."""


def flags_of(pair: AlignedPair, ingredients: Ingredients) -> tuple[Flag, ...]:
    """Return the warnings of a rated pair.

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    ingredients
        Of its rating.

    Returns
    -------
    tuple of Flag
        Empty where nothing stands against the number.
    """
    first, last, excursions = _course(pair.reference, ingredients.corridor.reference_peak, QUIET, HIGH)
    return (
        *_dead(pair, ingredients),
        *_unidentifiable(pair, ingredients),
        *_quiet(pair, int(first), int(last)),
        *_step(pair),
        *_no_single_event(int(excursions)),
    )


def _dead(pair: AlignedPair, ingredients: Ingredients) -> Iterator[Flag]:
    if ingredients.phase.candidate_dead:
        share = float(np.ptp(pair.candidate)) / ingredients.corridor.reference_peak
        yield Flag(
            "candidate dead",
            "The model does not move in the interval; its phase says nothing.",
            {"range_over_peak": share},
        )


def _unidentifiable(pair: AlignedPair, ingredients: Ingredients) -> Iterator[Flag]:
    phase = ingredients.phase
    share = abs(phase.delay_samples) / len(pair)
    gain = phase.correlation - phase.correlation_unshifted
    if 1.0 - phase.score < LEAST_LOSS or phase.candidate_dead or not gain < LEAST_GAIN * share**2:
        return
    shift_ms = 1e3 * abs(phase.delay_samples) * pair.step_s
    yield Flag(
        "phase not identifiable",
        f"The curves correlate as well without a shift ({phase.correlation_unshifted:.5f}) as with one of "
        f"{shift_ms:.1f} ms ({phase.correlation:.5f}), so the shift and the phase score say little.",
        {
            "correlation": phase.correlation,
            "correlation_unshifted": phase.correlation_unshifted,
            "shift_s": phase.delay_samples * pair.step_s,
        },
    )


def _quiet(pair: AlignedPair, first: int, last: int) -> Iterator[Flag]:
    active = last - first + 1
    share = 1.0 - active / len(pair)
    if share <= MOST_QUIET:
        return
    margin = round(MARGIN * active)
    start = float(pair.time[max(0, first - margin)])
    end = float(pair.time[min(len(pair) - 1, last + margin)])
    yield Flag(
        "interval mostly quiet",
        f"Nothing happens in {share:.0%} of the interval, which raises the rating; the test itself suggests "
        f"{start * 1e3:.1f} to {end * 1e3:.1f} ms.",
        {"quiet_share": share, "suggested_start_s": start, "suggested_end_s": end},
    )


def _step(pair: AlignedPair) -> Iterator[Flag]:
    if abs(pair.step_s / PUBLISHED_STEP_S - 1.0) > 1e-6:
        yield Flag(
            "step not 0.1 ms",
            f"The step is {pair.step_s * 1e3:g} ms; the slope is averaged over nine samples, which are meant "
            "to be about 1 ms, as they are at the published step of 0.1 ms.",
            {"step_s": pair.step_s, "published_step_s": PUBLISHED_STEP_S},
        )


def _no_single_event(excursions: int) -> Iterator[Flag]:
    if excursions > MOST_EXCURSIONS:
        yield Flag(
            "no single event",
            f"The test rises above {HIGH:.0%} of its largest value {excursions} times; the method is meant "
            "for unambiguous single events, and noise alone is rated about 0.4.",
            {"excursions": float(excursions)},
        )


@compiled
def _course(reference: Floats, peak: float, quiet: float, high: float) -> tuple[int, int, int]:
    """Return first and last sample that is not quiet, and the number of runs above the high level."""
    first, last, runs = -1, -1, 0
    above = False
    for index in range(reference.size):
        size = abs(reference[index])
        if size > quiet * peak:
            if first < 0:
                first = index
            last = index
        if size > high * peak:
            if not above:
                runs += 1
            above = True
        else:
            above = False
    return first, last, runs
