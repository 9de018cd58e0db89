"""Suspects in the filter class, and the spectra that show them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from correlate.conditioning import FREQUENCY_CLASSES, cfc_amplitude, condition
from correlate.conditioning.filters import FILTER_STEP
from correlate.diagnosis.suspects.case import Suspect, paired, rated
from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.diagnosis.suspects.case import Case, Kind
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


SEGMENT_S: Final = 0.04
"""Length of a stretch whose spectrum is taken, s: a bin every 25 Hz."""
HOP: Final = 4
"""A new stretch begins every so many parts of a length."""
QUIET_SHARE: Final = 0.34
"""Share of the stretches, the quietest ones, that are averaged."""
HIGHEST_HZ: Final = 4000.0
"""Above it a recorder's own low-pass filter acts."""
SLOPES: Final = (2, 4, 6, 8)
"""Powers by which the spectrum of a smooth movement may fall."""
CERTAIN: Final[dict[int, float]] = {60: 20.0, 180: 60.0, 600: 60.0, 1000: 60.0}
"""Gain in log-likelihood from which a class is the better explanation: the higher, the more bins tell."""
MOST_SCATTER: Final = 0.85
"""Standard deviation of the logarithm of spectrum over fit that a good fit may have."""
LEAST_NOISE: Final = 3e-4
"""Noise below this share of the peak is rounding."""
ROUNDING: Final = 1e-16
"""Power below this share of the largest is rounding."""
ITERATIONS: Final = 100
"""Of the multiplicative update, which never lowers the likelihood."""


@dataclass(frozen=True, slots=True)
class Band:
    """What the noise of a signal says.

    Attributes
    ----------
    cfc
        The class it has been through; None where none is seen.
    noisy
        Whether there is noise enough to say that it has been through none.
    source
        ``history`` or ``noise``.
    noise
        Root mean square of the noise that would be there without a filter, over the peak.
    """

    cfc: int | None
    noisy: bool
    source: str
    noise: float = 0.0


def band_of(signal: Signal) -> Band:
    r"""Tell the class that a signal has been through from its history, else from its noise.

    The spectrum of the quietest stretches is fitted by a sum with no negative part of power laws, white noise
    and rounding, :math:`S(f) = \left(\sum_p a_p f^{-p} + b\right) |H(f)|^2 + c`, once for each class and once
    without a filter (Whittle's likelihood). A sum of power laws is convex on double logarithmic paper, a
    filter makes a knee: that is how the two are told apart.

    References
    ----------
    .. [1] Whittle, "Estimation and information in stationary time series", Arkiv för Matematik 2 (1953).
    .. [2] Févotte, Bertin, Durrieu, "Nonnegative matrix factorization with the Itakura-Saito divergence",
       Neural Computation 21 (2009), for the update that maximises it, from memory.
    .. [3] Welch, "The use of fast Fourier transform for the estimation of power spectra", IEEE
       Transactions on Audio and Electroacoustics 15 (1967), for the averaging over stretches.
    """
    for step in reversed(signal.history):
        if step.name == FILTER_STEP and "cfc" in step.settings:
            return Band(int(step.settings["cfc"]), noisy=True, source="history")
    measured = _quiet_spectrum(signal)
    if measured is None:
        return Band(None, noisy=False, source="noise")
    frequency, power, weight = measured
    fits = {cfc: _fitted(frequency, power, weight, signal, cfc) for cfc in (None, *_usable(signal))}
    best = max(fits, key=lambda cfc: fits[cfc].likelihood)
    peak = float(np.abs(signal.samples - np.median(signal.samples)).max())
    level = fits[best].noise(signal.step_s) / peak if peak else 0.0
    if best is None or fits[best].likelihood - fits[None].likelihood < CERTAIN[best]:
        plain = fits[None]
        level = plain.noise(signal.step_s) / peak if peak else 0.0
        return Band(None, noisy=level > LEAST_NOISE, source="noise", noise=level)
    if fits[best].scatter > MOST_SCATTER or level < LEAST_NOISE:
        return Band(None, noisy=False, source="noise", noise=level)
    return Band(best, noisy=True, source="noise", noise=level)


@dataclass(frozen=True, slots=True)
class _Fit:
    """A fitted spectrum: its log-likelihood, scatter about it, and density of the white noise."""

    likelihood: float
    scatter: float
    white: float

    def noise(self, step_s: float) -> float:
        """Return the root mean square of white noise of that density over the whole band."""
        return float(np.sqrt(self.white * 0.5 / step_s))


def _usable(signal: Signal) -> list[int]:
    return [
        cfc
        for cfc, row in FREQUENCY_CLASSES.items()
        if signal.sample_rate_hz >= row.lowest_rate_hz * (1 - 1e-6)
    ]


def _quiet_spectrum(signal: Signal) -> tuple[Floats, Floats, float] | None:
    """Return frequencies, one-sided power density and the number of independent stretches behind it."""
    length = round(SEGMENT_S / signal.step_s)
    if len(signal) < 2 * length or length < 2 * HOP:
        return None
    rows = sliding_window_view(signal.samples, length)[:: length // HOP]
    index = np.arange(length) - (length - 1) / 2
    rest = rows - rows.mean(axis=1, keepdims=True)
    rest = rest - np.outer(rest @ index / (index @ index), index)
    taper = np.hanning(length + 2)[1:-1]
    taper = taper / np.sqrt(taper @ taper)
    power = 2 * signal.step_s * np.abs(np.fft.rfft(rest * taper, axis=1)) ** 2
    count = max(1, round(QUIET_SHARE * len(rows)))
    quiet = np.argsort(power.sum(axis=1))[:count]
    frequency = np.asarray(np.fft.rfftfreq(length, signal.step_s), dtype=np.float64)
    kept = (frequency > 1.5 / SEGMENT_S) & (frequency < min(HIGHEST_HZ, 0.45 / signal.step_s))
    mean = power[quiet].mean(axis=0)[kept]
    # Overlapping, tapered stretches and neighbouring bins tell partly the same (a hanning taper: two thirds).
    weight = 2 / 3 * max(1.0, count * 2 / HOP)
    mean = np.maximum(mean, ROUNDING * float(mean.max()))
    return (frequency[kept], mean, weight) if mean.any() else None


def _fitted(frequency: Floats, power: Floats, weight: float, signal: Signal, cfc: int | None) -> _Fit:
    gain = np.ones_like(frequency) if cfc is None else cfc_amplitude(frequency, cfc, signal.step_s) ** 2
    laws = [(frequency / frequency[0]) ** -slope * gain for slope in SLOPES]
    columns = [gain, *laws] if cfc is None else [gain, *laws, np.ones_like(gain)]
    matrix = np.stack(columns)
    share = np.array([float(np.median(power / column)) for column in matrix])
    for _ in range(ITERATIONS):
        fit = share @ matrix
        share *= np.sqrt((matrix @ (power / fit**2)) / (matrix @ (1 / fit)))
    fit = share @ matrix
    return _Fit(
        likelihood=-weight * float((np.log(fit) + power / fit).sum()),
        scatter=float(np.std(np.log(power / fit))),
        white=float(share[0]),
    )


Side = Literal["reference", "candidate"]
WORDS: Final[dict[Side, str]] = {"reference": "test", "candidate": "model"}
WEIGHT: Final = 0.3
"""Weight: it rarely costs much, so whatever wins a lot comes first."""


EXCELLENT: Final = 0.94
"""A pair that is rated above this needs no explanation (grade of ISO/TS 18571)."""
MOST_WORSE: Final = 0.005
"""Giving the class to both sides must not lower the rating by more than this (choice made here)."""


def wrong_filter(case: Case) -> Iterator[Suspect]:
    """Compare the classes that both sides have been through before with that of the recipe.

    References
    ----------
    .. [1] Criterion derived here.
    """
    bands: dict[Side, Band] = {"reference": band_of(case.reference), "candidate": band_of(case.candidate)}
    one, other = bands["reference"].cfc, bands["candidate"].cfc
    if one == other:
        return
    if case.recipe.cfc is None:
        yield from _without_class(case, bands)
        return
    side: Side = "reference" if other is None or (one is not None and one < other) else "candidate"
    before = bands[side].cfc
    if before is None or before > case.recipe.cfc:
        return
    kind: Kind = "filtered twice" if before == case.recipe.cfc else "other filter class"
    classes: dict[Side, int | None] = {"reference": before, "candidate": before, side: None}
    yield from _suspect(case, kind, side, bands[side], classes)


def _without_class(case: Case, bands: dict[Side, Band]) -> Iterator[Suspect]:
    found = {side: band for side, band in bands.items() if band.cfc is not None}
    lower = min(found, key=lambda side: found[side].cfc or 0)
    before = found[lower].cfc or 0
    higher: Side = "candidate" if lower == "reference" else "reference"
    if len(found) == 1 and not bands[higher].noisy:
        return
    kind: Kind = "not filtered" if len(found) == 1 else "other filter class"
    classes: dict[Side, int | None] = {lower: None, higher: before}
    yield from _suspect(case, kind, lower, found[lower], classes)


def _suspect(
    case: Case, kind: Kind, side: Side, band: Band, classes: dict[Side, int | None]
) -> Iterator[Suspect]:
    before, after = band.cfc, _after(case, classes)
    doubtful = kind == "other filter class" and case.recipe.cfc is None and band.source == "noise"
    if after is None or (doubtful and _explains_nothing(case.rating, after)):
        return
    how = "its history says" if band.source == "history" else "the spectrum of its noise shows the knee"
    recipe = (
        "the recipe has no class"
        if case.recipe.cfc is None
        else f"the recipe filters with CFC {case.recipe.cfc}"
    )
    other = WORDS["candidate" if side == "reference" else "reference"]
    yield Suspect(
        kind=kind,
        channel=case.reference.channel,
        evidence=f"the {WORDS[side]} has been through CFC {before} already ({how}), the {other} has not, "
        f"and {recipe}",
        fix=f"give the {WORDS[side]} unfiltered, or filter the {other} alone with CFC {before} and "
        "leave cfc out",
        rating_before=case.rating,
        rating_after=after,
        change={"reference_cfc": classes["reference"], "candidate_cfc": classes["candidate"], **case.extra},
        weight=WEIGHT,
    )


def _explains_nothing(before: float | None, after: float) -> bool:
    """Say whether another class, which smooth curves can feign, explains no poor rating."""
    return before is not None and (before > EXCELLENT or after < before - MOST_WORSE)


def _after(case: Case, classes: dict[Side, int | None]) -> float | None:
    unit = case.recipe.unit or case.reference.unit
    try:
        reference = condition(
            case.reference, replace(case.recipe.for_reference(unit), cfc=classes["reference"])
        )
        candidate = condition(
            case.candidate, replace(case.recipe.for_candidate(unit), cfc=classes["candidate"])
        )
    except CorrelateError:
        return None
    return rated(paired(reference, candidate, case.recipe), case.settings)
