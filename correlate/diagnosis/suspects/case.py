"""What a search for data errors looks at, and what it returns."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

import numpy as np

from correlate.conditioning import Recipe, condition, pair_conditioned
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.metrics.iso18571 import RatingSettings, rate
from correlate.pair import AlignedPair
from correlate.unit_factors import factors_for, nearest_factor

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.signal import Signal

    Floats = NDArray[np.float64]


Kind = Literal[
    "sign turned",
    "unit wrong",
    "other axis",
    "other filter class",
    "time zero off",
    "one channel shifted",
    "filtered twice",
    "not filtered",
    "interval cuts the main pulse",
    "offset window overlaps the event",
    "local frame turned",
]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
"""Every kind of suspect."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A mistake in the book-keeping that would explain a poor rating better than a poor model does.

    Attributes
    ----------
    kind
        What it is.
    channel
        Of the reference; empty where it is of all channels of a load case.
    evidence
        One sentence with numbers.
    fix
        What to write in the campaign file, or to do.
    rating_before
        Of the pair as it is; None where the two signals cannot be rated as they are.
    rating_after
        Of the pair with the change.
    change
        The change for programs: fields of ``Recipe`` where there is one, units in the names.
    weight
        By which suspects are ordered, largest first; a number for ordering, no probability.
    """

    kind: Kind
    channel: str
    evidence: str
    fix: str
    rating_before: float | None
    rating_after: float
    change: Mapping[str, Any] = field(default_factory=dict)
    weight: float = 0.0

    def __post_init__(self) -> None:
        """Freeze the change."""
        object.__setattr__(self, "change", MappingProxyType(dict(self.change)))

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle through plain values, because a mapping proxy cannot be pickled."""
        names = ("kind", "channel", "evidence", "fix", "rating_before", "rating_after", "weight")
        return _suspect, ({name: getattr(self, name) for name in names} | {"change": dict(self.change)},)


def _suspect(values: dict[str, Any]) -> Suspect:
    return Suspect(**values)


PULSE_SHARE: Final = 0.2
"""The main pulse is the stretch about the largest value that stays above this share of it …"""
EVENT_SHARE: Final = 0.05
"""… and the event runs from the first to the last sample above this one."""


@dataclass(frozen=True, slots=True)
class MainPulse:
    """Sample numbers, both ends included.

    Attributes
    ----------
    first, top, last
        Of the main pulse and its largest value.
    event_first, event_last
        Of the whole event.
    ends
        Whether the pulse begins and ends within the record.
    """

    first: int
    top: int
    last: int
    event_first: int
    event_last: int
    ends: bool


def main_pulse(samples: Floats) -> MainPulse:
    """Find the main pulse.

    References
    ----------
    .. [1] Shares chosen here.

    Examples
    --------
    >>> import numpy as np
    >>> found = main_pulse(np.array([0.0, 0.1, -0.5, -1.0, -0.4, 0.0]))
    >>> found.first, found.top, found.last
    (2, 3, 4)
    """
    size = np.abs(samples)
    top = int(size.argmax())
    sign = 1.0 if samples[top] >= 0 else -1.0
    below = np.flatnonzero(sign * samples <= PULSE_SHARE * size[top])
    before, after = below[below < top], below[below > top]
    event = np.flatnonzero(size > EVENT_SHARE * size[top])
    return MainPulse(
        first=int(before[-1]) + 1 if before.size else 0,
        top=top,
        last=int(after[0]) - 1 if after.size else size.size - 1,
        event_first=int(event[0]) if event.size else 0,
        event_last=int(event[-1]) if event.size else size.size - 1,
        ends=bool(before.size and after.size),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Freedom:
    """How far an honest model may be off.

    Attributes
    ----------
    size
        Largest factor of size, up or down.
    delay_s, delay_share
        Largest delay, late or early, in s and as a share of the event; the smaller counts.
    durations
        Factors of duration that are tried.
    """

    size: float
    delay_s: float
    delay_share: float
    durations: tuple[float, ...]


def _durations(largest: float, step: float) -> tuple[float, ...]:
    count = round(np.log(largest) / np.log(step))
    return tuple(float(step**power) for power in range(-count, count + 1))


MODERATE: Final = Freedom(size=1.3, delay_s=0.0035, delay_share=0.15, durations=_durations(1.22, 1.035))
"""What a usable model may be off: granted to a curve once its mistake is set right."""
POOR: Final = Freedom(size=2.5, delay_s=0.009, delay_share=0.25, durations=_durations(1.8, 1.05))
"""What a poor model may be off: granted to the curve as it is."""


def error_left(pair: AlignedPair, freedom: Freedom) -> float:
    r"""Return the least squared error that size, delay and duration can bring a candidate to.

    .. math:: \min_{a, \tau, d} \frac{\sum_i (r(t_i) - a\,c((t_i - t_0 - \tau)/d + t_0))^2}{\sum_i r(t_i)^2}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, zero beyond its ends; :math:`t_0` is time zero, or the
        start where the interval begins later.
    freedom
        Bounds of :math:`a`, :math:`\tau` and :math:`d`.

    Returns
    -------
    float
        In [0, inf): 0 is perfect, 1 as bad as no candidate at all. Infinite where the reference is zero.

    References
    ----------
    .. [1] Derived here: for each delay the best size is a quotient of two sums, cut to its bounds.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> time = np.arange(400) * 1e-4
    >>> def pulse(late, slow):
    ...     return np.sin(np.pi * np.clip((time - 0.005 - late) / (0.02 * slow), 0, 1)) ** 2
    >>> pair = AlignedPair(time=time, reference=pulse(0, 1), candidate=1.2 * pulse(0.002, 1.0))
    >>> error_left(pair, MODERATE) < 1e-9
    True
    """
    energy = float(pair.reference @ pair.reference)
    if energy == 0.0:
        return float("inf")
    pulse = main_pulse(pair.reference)
    event = pulse.event_last - pulse.event_first + 1
    limit = max(1, round(min(freedom.delay_s / pair.step_s, freedom.delay_share * event)))
    rows = np.stack([_slowed(pair, duration, limit) for duration in freedom.durations])
    # The lags asked for do not wrap around at the length of a row.
    points = 1 << (rows.shape[1] - 1).bit_length()
    spectrum = np.conj(np.fft.rfft(pair.reference, points))
    products = np.fft.irfft(np.fft.rfft(rows, points, axis=1) * spectrum, points, axis=1)[:, : 2 * limit + 1]
    sums = np.concatenate((np.zeros((len(rows), 1)), np.cumsum(rows**2, axis=1)), axis=1)
    under = sums[:, len(pair) :] - sums[:, : 2 * limit + 1]
    under = np.maximum(under, 1e-300)
    size = np.clip(products / under, 1 / freedom.size, freedom.size)
    return max(0.0, 1.0 + float((size**2 * under - 2 * size * products).min()) / energy)


def _slowed(pair: AlignedPair, duration: float, limit: int) -> Floats:
    """Return the candidate at another duration, with zeros for the delays on either side."""
    origin = max(0.0, float(pair.time[0]))
    padded = np.zeros(len(pair) + 2 * limit)
    padded[limit : limit + len(pair)] = np.interp(
        (pair.time - origin) / duration + origin, pair.time, pair.candidate, left=0.0, right=0.0
    )
    return padded


LEAST_UNDER: Final = 0.05
"""Least energy under the reference that counts, as a share of the largest."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """Best normalised correlation and where it lies.

    Attributes
    ----------
    correlation
        In [-1, 1], means not removed.
    delay
        Samples by which the second curve is late.
    """

    correlation: float
    delay: int


def likeness(reference: Floats, candidate: Floats, limit: int, *, ahead: int = 0) -> Likeness:
    r"""Correlate two curves over delays, both taken as zero beyond their ends.

    .. math:: \rho(m) = \frac{\sum_i r_i c_{i+m}}{\sqrt{\sum_i r_i^2 \sum_{i} c_{i+m}^2}}

    The second sum runs over the samples that lie under the reference.

    Parameters
    ----------
    reference, candidate
        Shapes ``(n,)`` and ``(k,)``.
    limit
        Largest delay, samples.
    ahead
        Samples that the candidate has before the first of the reference; negative when it starts later.

    Returns
    -------
    Likeness
        Correlation 0 where one of the curves is zero.

    References
    ----------
    .. [1] Normalised cross-correlation, common practice; without removing means, because zero is a fact here.

    Examples
    --------
    >>> import numpy as np
    >>> pulse = np.array([0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 0.0, 0.0])
    >>> late = likeness(pulse, -3 * np.roll(pulse, 2), 3)
    >>> likeness(pulse, 3 * np.roll(pulse, 2), 3).delay, round(late.correlation, 3) <= 0
    (2, True)
    """
    size = reference.size
    padded = np.zeros(size + 2 * limit)
    first = ahead - limit
    taken = candidate[max(first, 0) : max(first + padded.size, 0)]
    padded[max(-first, 0) : max(-first, 0) + taken.size] = taken
    points = 1 << (padded.size + size - 1).bit_length()
    spectrum = np.fft.rfft(padded, points) * np.conj(np.fft.rfft(reference, points))
    products = np.fft.irfft(spectrum, points)[: 2 * limit + 1]
    energy = np.concatenate(([0.0], np.cumsum(padded**2)))
    under = energy[size:] - energy[: 2 * limit + 1]
    # A window with next to nothing of the candidate in it is compared with nothing, not with noise.
    under = np.maximum(under, LEAST_UNDER * float(under.max()))
    norms = np.sqrt(float(reference @ reference) * under)
    if not norms.all():
        return Likeness(0.0, 0)
    values = products / norms
    best = int(values.argmax())
    return Likeness(float(values[best]), best - limit)


def size_ratio(reference: Floats, candidate: Floats) -> float:
    """Return the size of one curve over that of another: root mean squares, blind to timing.

    Examples
    --------
    >>> import numpy as np
    >>> size_ratio(np.array([0.0, 1.0]), np.array([-2.0, 0.0]))
    2.0
    """
    below, above = float(reference @ reference), float(candidate @ candidate)
    if below == 0.0:
        return math.inf if above else math.nan
    return math.sqrt(above / below)


LEAST_COVERED: Final = 0.6
"""Share of the interval that two moved signals must still cover to be rated on what is left of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A pair with everything that is needed to try a change on it.

    Attributes
    ----------
    reference, candidate
        As read, before any conditioning.
    recipe
        How they are compared.
    settings
        Of the rating.
    others
        Other axes of the candidate's sensor, as read, by name.
    treated_reference, treated_candidate
        Conditioned, not cut to the interval.
    pair
        Cut to the interval, or to what both cover of it; None where they cannot be paired.
    rating
        Of that pair.
    poor
        Squared error that a poor model's freedoms leave of it, over the squares of the reference; 1
        without a pair.
    extra
        What was changed before, part of every further change.
    """

    reference: Signal
    candidate: Signal
    recipe: Recipe
    settings: RatingSettings
    others: Mapping[str, Signal]
    treated_reference: Signal
    treated_candidate: Signal
    pair: AlignedPair | None
    rating: float | None
    poor: float
    extra: Mapping[str, float] = field(default_factory=dict)


def open_case(
    reference: Signal,
    candidate: Signal,
    recipe: Recipe,
    settings: RatingSettings | None,
    others: Mapping[str, Signal],
) -> Case:
    """Condition and rate a pair."""
    chosen = settings or RatingSettings()
    unit = recipe.unit or reference.unit
    treated = (
        condition(reference, recipe.for_reference(unit)),
        condition(candidate, recipe.for_candidate(unit)),
    )
    pair = paired(*treated, recipe)
    return Case(
        reference=reference,
        candidate=candidate,
        recipe=recipe,
        settings=chosen,
        others=others,
        treated_reference=treated[0],
        treated_candidate=treated[1],
        pair=pair,
        rating=rated(pair, chosen),
        poor=poor_error(pair, candidate.unit),
    )


def on_interval(case: Case, start_s: float, end_s: float) -> Case:
    """Return the case on another interval, everything else as it was."""
    recipe = replace(case.recipe, start_s=start_s, end_s=end_s)
    pair = paired(case.treated_reference, case.treated_candidate, recipe)
    extra = {"start_s": start_s, "end_s": end_s}
    return replace(
        case,
        recipe=recipe,
        pair=pair,
        rating=rated(pair, case.settings),
        poor=poor_error(pair, case.candidate.unit),
        extra=extra,
    )


def interval_of(test: Signal, recipe: Recipe) -> tuple[int, int]:
    """Return the first sample of a test in the interval of a recipe and the number of samples in it."""
    start_s = test.start_s if recipe.start_s is None else max(recipe.start_s, test.start_s)
    end_s = test.end_s if recipe.end_s is None else min(recipe.end_s, test.end_s)
    first, last = (round((time_s - test.start_s) / recipe.step_s) for time_s in (start_s, end_s))
    return first, last - first + 1


def paired(reference: Signal, candidate: Signal, recipe: Recipe) -> AlignedPair | None:
    """Pair two conditioned signals on the interval, or on most of it where one ends early."""
    shared = max(reference.start_s, candidate.start_s), min(reference.end_s, candidate.end_s)
    start_s = shared[0] if recipe.start_s is None else max(recipe.start_s, shared[0])
    end_s = shared[1] if recipe.end_s is None else min(recipe.end_s, shared[1])
    wanted = recipe.end_s - recipe.start_s if None not in {recipe.start_s, recipe.end_s} else 0.0  # type: ignore[operator]
    if end_s <= start_s or end_s - start_s < LEAST_COVERED * wanted:
        return None
    try:
        return pair_conditioned(reference, candidate, replace(recipe, start_s=start_s, end_s=end_s)).pair
    except SignalError:
        return None


def rated(pair: AlignedPair | None, settings: RatingSettings) -> float | None:
    """Return the overall rating of a pair."""
    return None if pair is None or not np.any(pair.reference) else rate(pair, settings).overall


def poor_error(pair: AlignedPair | None, unit: str) -> float:
    """Return the squared error that a poor model's freedoms leave of a pair, or a wrong unit would."""
    if pair is None:
        return 1.0
    left = error_left(pair, POOR)
    factor = nearest_factor(size_ratio(pair.reference, pair.candidate), factors_for(unit))
    # A wrong unit must not be taken for a wrong axis.
    return left if factor is None else min(left, error_left(scaled(pair, 1 / factor), MODERATE))


def scaled(pair: AlignedPair, factor: float) -> AlignedPair:
    """Return the pair with its candidate multiplied, which conditioning would do alike before or after."""
    return AlignedPair(time=pair.time, reference=pair.reference, candidate=factor * pair.candidate)
