"""The rating of ISO/TS 18571: scores, overall number, grade and flags."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.compiling import compiled
from correlate.display import frame, row, short_repr
from correlate.errors import SignalError
from correlate.flag import Flag
from correlate.metrics.iso18571.phase import PhaseScore, phase_score
from correlate.metrics.iso18571.scores import (
    CorridorScore,
    MagnitudeScore,
    SlopeScore,
    best_path,
    corridor_score,
    magnitude_score,
    slope_score,
)
from correlate.metrics.iso18571.settings import LEAST_SAMPLES, PUBLISHED, RatingSettings

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from pandas import DataFrame

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


def flags_of(pair: AlignedPair, ingredients: Ingredients, seen: Sequence[int]) -> tuple[Flag, ...]:
    """Return the warnings of a rated pair.

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    ingredients
        Of its rating.
    seen
        From :func:`course`.

    Returns
    -------
    tuple of Flag
        Empty where nothing stands against the number.
    """
    first, last, excursions = seen
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
def course(reference: Floats, peak: float, quiet: float, high: float) -> tuple[int, int, int]:
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


Grade = Literal["excellent", "good", "fair", "poor"]

GRADE_FLOORS: Final[tuple[tuple[Grade, float], ...]] = (("excellent", 0.94), ("good", 0.80), ("fair", 0.58))
"""A rating above the number earns the word; anything else is poor (ISO/TS 18571:2014, from memory)."""


@dataclass(frozen=True, slots=True)
class Ingredients:
    """What the four scores were made of.

    Attributes
    ----------
    corridor, phase, magnitude, slope
        The result of each component with its sums and limits.
    overlap_samples
        Samples that magnitude and slope were computed on, after shift and truncation.
    """

    corridor: CorridorScore
    phase: PhaseScore
    magnitude: MagnitudeScore
    slope: SlopeScore
    overlap_samples: int

    def as_dict(self) -> dict[str, dict[str, float | int] | int]:
        """Return the ingredients as plain values, for JSON and the store."""
        parts = (
            ("corridor", self.corridor),
            ("phase", self.phase),
            ("magnitude", self.magnitude),
            ("slope", self.slope),
        )
        # Written out, because dataclasses.asdict() takes longer than the warping of a short pair.
        plain: dict[str, dict[str, float | int] | int] = {
            name: {key: getattr(part, key) for key in part.__slots__} for name, part in parts
        }
        plain["overlap_samples"] = self.overlap_samples
        return plain


@short_repr
@dataclass(frozen=True, slots=True)
class Rating:
    """The rating of one pair.

    Attributes
    ----------
    overall
        Weighted sum of the four scores, in [0, 1]; 1 is perfect agreement.
    grade
        ``excellent``, ``good``, ``fair`` or ``poor``.
    corridor, phase, magnitude, slope
        The four scores, each in [0, 1].
    shift_samples, shift_s
        Delay of the candidate: positive when it is late, in samples and in s.
    samples
        Number of samples in the interval of evaluation.
    settings
        The settings used.
    ingredients
        Raw sums, widths and errors behind the scores.
    flags
        Warnings: where the method was not made for this pair, or says less than it seems.
    pair
        The two curves.
    """

    overall: float
    grade: Grade
    corridor: float
    phase: float
    magnitude: float
    slope: float
    shift_samples: int
    shift_s: float
    samples: int
    settings: RatingSettings
    ingredients: Ingredients
    flags: tuple[Flag, ...] = field(repr=False, compare=False)
    pair: AlignedPair = field(repr=False, compare=False)

    def to_frame(self) -> DataFrame:
        """Return a data frame with one row: the numbers of the rating.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame([row(self)])

    def warping_path(self) -> NDArray[np.int32]:
        """Return the path behind the magnitude score, computed when asked for.

        Returns
        -------
        numpy.ndarray
            Shape ``(l, 2)``: indices into the reference and the candidate of ``pair``.
        """
        reference, candidate = shifted(self.pair, self.shift_samples)
        _, path = best_path(reference, candidate, self.settings)
        starts = np.array([max(0, -self.shift_samples), max(0, self.shift_samples)], dtype=np.int32)
        return path + starts


def grade_of(overall: float) -> Grade:
    """Return the word for a rating.

    Parameters
    ----------
    overall
        In [0, 1].

    Returns
    -------
    str

    Examples
    --------
    >>> grade_of(0.95), grade_of(0.94), grade_of(0.8), grade_of(0.58)
    ('excellent', 'good', 'fair', 'poor')
    """
    for word, floor in GRADE_FLOORS:
        if overall > floor:
            return word
    return "poor"


def shifted(pair: AlignedPair, delay_samples: int) -> tuple[Floats, Floats]:
    """Move the candidate by its delay and cut both curves to the overlap.

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    delay_samples
        Positive when the candidate is late.

    Returns
    -------
    reference, candidate : numpy.ndarray
        Shape ``(n - |delay_samples|,)``.
    """
    size = len(pair) - abs(delay_samples)
    start_r, start_c = max(0, -delay_samples), max(0, delay_samples)
    return pair.reference[start_r : start_r + size], pair.candidate[start_c : start_c + size]


def rate(pair: AlignedPair, settings: RatingSettings | None = None) -> Rating:
    r"""Rate how well the candidate agrees with the reference.

    .. math:: R = 0.4\,Z + 0.2\,E_P + 0.2\,E_M + 0.2\,E_S

    Parameters
    ----------
    pair
        Both curves filtered alike, in one unit, cut to the interval of evaluation. The published step is
        0.1 ms.
    settings
        Widths, limits, weights and choices; the published ones when left out.

    Returns
    -------
    Rating

    Raises
    ------
    SignalError
        Fewer than 20 samples, or a reference that is zero throughout.

    Notes
    -----
    Quoted from memory of the published text; where it leaves a numerical detail open, the choice made is
    a field of ``RatingSettings``. A user who needs conformance by contract checks against the specification.

    References
    ----------
    .. [1] ISO/TS 18571:2014, from memory.
    .. [2] Zhan, Fu, Yang, SAE 2011-01-0245; Barbat, Fu, Zhan, Yang, Gehre, 23rd ESV conference, 2013.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import AlignedPair
    >>> time = np.arange(1500) * 1e-4
    >>> test = np.sin(np.pi * np.clip((time - 0.02) / 0.05, 0, 1)) ** 2
    >>> rating = rate(AlignedPair(time=time, reference=test, candidate=test))
    >>> rating.overall, rating.grade
    (1.0, 'excellent')
    """
    chosen = settings or PUBLISHED
    check_pair(pair)
    corridor = corridor_score(pair, chosen)
    phase = phase_score(pair, chosen)
    reference, candidate = shifted(pair, phase.delay_samples)
    magnitude = magnitude_score(reference, candidate, chosen)
    slope = slope_score(reference, candidate, pair.step_s, chosen)
    ingredients = Ingredients(corridor, phase, magnitude, slope, reference.size)
    seen = course(pair.reference, corridor.reference_peak, QUIET, HIGH)
    return rating_of(pair, chosen, ingredients, flags_of(pair, ingredients, seen))


def rating_of(
    pair: AlignedPair, settings: RatingSettings, ingredients: Ingredients, flags: tuple[Flag, ...]
) -> Rating:
    """Add the four scores up.

    Parameters
    ----------
    pair
        What was rated.
    settings
        Weights.
    ingredients
        The four results.
    flags
        Warnings.

    Returns
    -------
    Rating
    """
    corridor, phase = ingredients.corridor, ingredients.phase
    magnitude, slope = ingredients.magnitude, ingredients.slope
    weights = settings.weights
    # One division at the end keeps a perfect pair at exactly 1.
    overall = (
        weights.corridor * corridor.score
        + weights.phase * phase.score
        + weights.magnitude * magnitude.score
        + weights.slope * slope.score
    ) / (weights.corridor + weights.phase + weights.magnitude + weights.slope)
    return Rating(
        overall=overall,
        grade=grade_of(overall),
        corridor=corridor.score,
        phase=phase.score,
        magnitude=magnitude.score,
        slope=slope.score,
        shift_samples=phase.delay_samples,
        shift_s=phase.delay_samples * pair.step_s,
        samples=len(pair),
        settings=settings,
        ingredients=ingredients,
        flags=flags,
        pair=pair,
    )


def check_pair(pair: AlignedPair) -> None:
    """Refuse what cannot be rated.

    Parameters
    ----------
    pair
        Any.

    Raises
    ------
    SignalError
        Fewer than 20 samples, or a reference that is zero throughout.
    """
    if len(pair) < LEAST_SAMPLES:
        raise SignalError(
            f"the pair has {len(pair)} samples, and a rating needs {LEAST_SAMPLES}",
            remedy="widen the interval of evaluation or use a finer step",
        )
    # The middle sample nearly always decides; testing all samples takes 6 µs.
    if not (pair.reference[len(pair) // 2] or np.any(pair.reference)):
        raise SignalError(
            "the reference is zero throughout the interval, so nothing can be rated against it",
            remedy="check the channel and the interval of evaluation",
        )
