"""Many pairs at once: the same rating, with Python stepping in once a chunk instead of once a step.

What depends on one pair alone (corridor, Fourier transforms) is done on a whole chunk as a 2-D array; the
searches run pair after pair inside one compiled call, which releases the interpreter, so that chunks run
side by side in threads.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled
from correlate.metrics.iso18571.phase import (
    PhaseScore,
    best_delay,
    is_dead,
    normalised,
    score_of_delay,
    shift_count,
    shift_products,
)
from correlate.metrics.iso18571.rating import (
    HIGH,
    QUIET,
    Ingredients,
    Rating,
    check_pair,
    course,
    flags_of,
    rating_of,
)
from correlate.metrics.iso18571.scores import (
    CorridorScore,
    MagnitudeScore,
    SlopeScore,
    band_width,
    path_sums,
    score_of_error,
    slope_rules,
    slope_sums,
)
from correlate.metrics.iso18571.settings import PUBLISHED, RatingSettings, ZeroReference
from correlate.metrics.warping import kept_costs, stride_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int64]

CHUNK_BYTES: Final = 2**20
"""Size of the curves of one chunk: what a core keeps near itself."""


def rate_many(
    pairs: Sequence[AlignedPair], settings: RatingSettings | None = None, *, threads: int | None = None
) -> tuple[Rating, ...]:
    """Rate many pairs; each rating is that of :func:`rate`.

    Parameters
    ----------
    pairs
        Any lengths; pairs of one length that follow each other are rated together. From 2-D arrays they are
        made by :func:`correlate.pair.aligned_pairs`.
    settings
        Widths, limits, weights and choices; the published ones when left out.
    threads
        How many chunks run at a time; as many as cores when left out.

    Returns
    -------
    tuple of Rating
        In the order of the pairs.

    Raises
    ------
    SignalError
        A pair with fewer than 20 samples, or a reference that is zero throughout.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import aligned_pairs, rate_many
    >>> time = np.arange(1500) * 1e-4
    >>> test = np.sin(np.pi * np.clip((time - 0.02) / 0.05, 0, 1)) ** 2
    >>> sizes = np.array([[1.0], [1.04]])
    >>> many = aligned_pairs(time=time, reference=np.tile(test, (2, 1)), candidate=sizes * test)
    >>> [(rating.corridor, round(rating.ingredients.slope.error, 6)) for rating in rate_many(many)]
    [(1.0, 0.0), (1.0, 0.04)]
    """
    for pair in pairs:
        check_pair(pair)
    return rate_checked(pairs, settings or PUBLISHED, threads=threads)


def rate_checked(
    pairs: Sequence[AlignedPair], chosen: RatingSettings, *, threads: int | None = None
) -> tuple[Rating, ...]:
    """Rate pairs that the caller has already checked with :func:`check_pair`.

    Parameters
    ----------
    pairs, chosen, threads
        As for :func:`rate_many`.
    """
    at_once = threads or os.cpu_count() or 1
    chunks = list(_chunks(pairs, math.ceil(len(pairs) / at_once)))
    count = min(at_once, len(chunks))
    if count <= 1:
        return tuple(rating for chunk in chunks for rating in _rate_chunk(chunk, chosen))
    with ThreadPoolExecutor(count) as pool:
        done = pool.map(lambda chunk: _rate_chunk(chunk, chosen), chunks)
        return tuple(rating for ratings in done for rating in ratings)


COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
"""Order of the scores beside the overall rating."""


def scores_many(
    reference: Floats, candidate: Floats, *, step_s: float, settings: RatingSettings | None = None
) -> Floats:
    """Return only the scores of many ratings, for searches that rate millions of curves.

    Parameters
    ----------
    reference, candidate
        Shape ``(m, n)``, n of 20 or more: row by row a test, not zero throughout, and a model.
    step_s
        Time step in s.
    settings
        As for :func:`rate_many`.

    Returns
    -------
    numpy.ndarray
        Shape ``(m, 5)``: overall, then corridor, phase, magnitude and slope. Equal to those of
        :func:`rate_many`.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(1500) * 1e-4
    >>> test = np.sin(np.pi * np.clip((time - 0.02) / 0.05, 0, 1)) ** 2
    >>> scores_many(test[None], 1.04 * test[None], step_s=1e-4)[0].round(3).tolist()
    [0.993, 1.0, 1.0, 0.986, 0.98]
    """
    chosen = settings or PUBLISHED
    rows = max(1, CHUNK_BYTES // (16 * reference.shape[1]))
    parts = [
        _scores(reference[first : first + rows], candidate[first : first + rows], step_s, chosen)
        for first in range(0, len(reference), rows)
    ]
    return np.concatenate(parts)


def _scores(reference: Floats, candidate: Floats, step_s: float, settings: RatingSettings) -> Floats:
    """Score rows as arrays only: with an object per pair, short curves would take three times as long."""
    size = reference.shape[1]
    delays, _, _, dead = _searched(reference, candidate, settings)
    sums = _sums(reference, candidate, delays, np.full(len(reference), step_s), settings)
    largest = settings.largest_shift * size
    phase = np.maximum(0.0, (largest - np.abs(delays)) / largest) ** settings.phase_exponent
    if settings.dead_candidate == "zero":
        phase[dead] = 0.0
    found = (
        _nearness(reference, candidate, settings)[0],
        phase,
        _scores_of_errors(sums[:, 1], sums[:, 2], settings.magnitude_limit, settings.zero_reference),
        _scores_of_errors(sums[:, 3], sums[:, 4], settings.slope_limit, settings.zero_reference),
    )
    weights = np.array([getattr(settings.weights, name) for name in COMPONENTS])
    overall = np.sum([weight * one for weight, one in zip(weights, found, strict=True)], axis=0)
    return np.column_stack([overall / weights.sum(), *found])


def _scores_of_errors(
    differences: Floats, totals: Floats, limit: float, zero_reference: ZeroReference
) -> Floats:
    """Return :func:`score_of_error` of every row."""
    nothing = totals == 0.0
    errors = differences / np.where(nothing, 1.0, totals)
    equal = 1.0 if zero_reference == "compare" else 0.0
    at_zero = np.where(differences == 0.0, equal, 0.0)
    return np.where(nothing, at_zero, np.maximum(0.0, (limit - errors) / limit))


def _chunks(pairs: Sequence[AlignedPair], share: int) -> Iterator[Sequence[AlignedPair]]:
    """Cut into runs of pairs of one length, none larger than a thread's share or than fits near a core."""
    sizes = [pair.time.size for pair in pairs]
    start = 0
    for index in range(1, len(pairs) + 1):
        most = max(1, min(share, CHUNK_BYTES // (16 * sizes[start])))
        if index == len(pairs) or sizes[index] != sizes[start] or index - start == most:
            yield pairs[start:index]
            start = index


def _rate_chunk(pairs: Sequence[AlignedPair], settings: RatingSettings) -> list[Rating]:
    """Rate pairs of one length."""
    reference = np.stack([pair.reference for pair in pairs])
    candidate = np.stack([pair.candidate for pair in pairs])
    corridors = _corridors(reference, candidate, settings)
    phases = _phases(reference, candidate, settings)
    delays = np.array([phase.delay_samples for phase in phases])
    sums = _sums(reference, candidate, delays, np.array([pair.step_s for pair in pairs]), settings).tolist()
    peaks = np.array([corridor.reference_peak for corridor in corridors])
    courses = _courses(reference, peaks, QUIET, HIGH).tolist()
    ratings = []
    for pair, corridor, phase, row, seen in zip(pairs, corridors, phases, sums, courses, strict=True):
        ingredients = _ingredients(corridor, phase, row, reference.shape[1], settings)
        ratings.append(rating_of(pair, settings, ingredients, flags_of(pair, ingredients, seen)))
    return ratings


def _corridors(reference: Floats, candidate: Floats, settings: RatingSettings) -> list[CorridorScore]:
    columns = _nearness(reference, candidate, settings)
    return [CorridorScore(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def _nearness(
    reference: Floats, candidate: Floats, settings: RatingSettings
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return corridor score, peak, inner and outer half width, row by row."""
    peaks = np.abs(reference).max(axis=1)
    inner, outer = settings.inner_half_width * peaks, settings.outer_half_width * peaks
    # In one array: every further one would have to be fetched from the system.
    nearness = reference - candidate
    np.abs(nearness, out=nearness)
    np.subtract(outer[:, None], nearness, out=nearness)
    nearness /= (outer - inner)[:, None]
    np.clip(nearness, 0.0, 1.0, out=nearness)
    nearness **= settings.corridor_exponent
    return nearness.mean(axis=1), peaks, inner, outer


def _phases(reference: Floats, candidate: Floats, settings: RatingSettings) -> list[PhaseScore]:
    size = reference.shape[1]
    columns = zip(*(column.tolist() for column in _searched(reference, candidate, settings)), strict=True)
    return [
        score_of_delay(delay, (correlation, unshifted), size, settings, dead=dead)
        for delay, correlation, unshifted, dead in columns
    ]


def _searched(
    reference: Floats, candidate: Floats, settings: RatingSettings
) -> tuple[Integers, Floats, Floats, NDArray[np.bool_]]:
    """Return delay, its correlation, that without a shift, and whether the candidate is dead, row by row."""
    size = reference.shape[1]
    centred = reference - reference.mean(axis=1, keepdims=True)
    other = candidate - candidate.mean(axis=1, keepdims=True)
    products = shift_products(centred, other, shift_count(size, settings.largest_shift))
    flat = -np.inf if settings.flat_overlap == "reject" else 0.0
    earlier = settings.phase_tie == "earlier"
    return _delays(reference, candidate, centred, other, products, flat, settings.tie_tolerance, earlier)


def _sums(
    reference: Floats,
    candidate: Floats,
    delays: Integers,
    steps_s: Floats,
    settings: RatingSettings,
) -> Floats:
    """Return, row by row: warping distance, two sums along the path, two sums of slopes."""
    size = reference.shape[1]
    overlaps = size - np.abs(delays)
    bands = np.array([band_width(int(overlap), settings.warping_band) for overlap in overlaps])
    return _error_sums(
        reference,
        candidate,
        delays,
        np.minimum(bands, overlaps - 1),
        np.array([stride_of(int(band)) for band in bands]),
        steps_s,
        settings.path_tie == "candidate",
        *slope_rules(settings),
    )


def _ingredients(
    corridor: CorridorScore, phase: PhaseScore, sums: list[float], size: int, settings: RatingSettings
) -> Ingredients:
    distance, difference, total, slope_difference, slope_total = sums
    overlap = size - abs(phase.delay_samples)
    error, score = score_of_error(difference, total, settings.magnitude_limit, settings.zero_reference)
    band = band_width(overlap, settings.warping_band)
    magnitude = MagnitudeScore(score, error, difference, total, distance, band)
    error, score = score_of_error(
        slope_difference, slope_total, settings.slope_limit, settings.zero_reference
    )
    slope = SlopeScore(score, error, slope_difference, slope_total)
    return Ingredients(corridor, phase, magnitude, slope, overlap)


@compiled
def _courses(reference: Floats, peaks: Floats, quiet: float, high: float) -> Integers:
    """Return :func:`course` of every row, shape ``(m, 3)``."""
    found = np.empty((reference.shape[0], 3), np.int64)
    for row in range(reference.shape[0]):
        found[row, 0], found[row, 1], found[row, 2] = course(reference[row], peaks[row], quiet, high)
    return found


@compiled
def _delays(
    reference: Floats,
    candidate: Floats,
    centred: Floats,
    other: Floats,
    products: Floats,
    flat: float,
    tolerance: float,
    earlier: bool,
) -> tuple[Integers, Floats, Floats, NDArray[np.bool_]]:
    """Return delay, its correlation, that without a shift, and whether the candidate is dead, row by row."""
    rows = reference.shape[0]
    delays = np.empty(rows, np.int64)
    correlations = np.empty(rows)
    unshifted = np.empty(rows)
    dead = np.empty(rows, np.bool_)
    for row in range(rows):
        values, errors = normalised(centred[row], other[row], products[row], flat)
        delays[row], correlations[row] = best_delay(
            reference[row], candidate[row], values, errors, tolerance, earlier
        )
        unshifted[row] = values[values.size // 2]
        dead[row] = is_dead(reference[row], candidate[row])
    return delays, correlations, unshifted, dead


@compiled
def _error_sums(
    reference: Floats,
    candidate: Floats,
    delays: Integers,
    bands: Integers,
    strides: Integers,
    steps_s: Floats,
    candidate_first: bool,
    half: int,
    second_order: bool,
    repeat: bool,
) -> Floats:
    """Return the five sums of every row; see :func:`_sums`."""
    rows, size = reference.shape
    sums = np.empty((rows, 5))
    most = 0
    for row in range(rows):
        most = max(most, kept_costs(size - abs(delays[row]), bands[row], strides[row]))
    memory = np.empty(most)
    for row in range(rows):
        head, tail = max(0, -delays[row]), max(0, delays[row])
        test, model = reference[row, head : size - tail], candidate[row, tail : size - head]
        sums[row, 0], sums[row, 1], sums[row, 2] = path_sums(
            test, model, bands[row], strides[row], candidate_first, memory
        )
        sums[row, 3], sums[row, 4] = slope_sums(test, model, steps_s[row], half, second_order, repeat)
    return sums
