"""A channel that was filtered with a lower class than the other repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import FREQUENCY_CLASSES, cfc_amplitude
from correlate.reference.check.frequency import declared_class
from correlate.reference.check.spectra import CELLS_PER_OCTAVE, cell_middles_hz
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.spectra import EnergySpectrum
    from correlate.reference.check.trials import Trials

    Floats = NDArray[np.float64]


CELLS: Final = CELLS_PER_OCTAVE // 4
"""Cells that are put together before spectra are compared: a quarter of an octave."""
EXPLAINED: Final = 0.3
"""The filter must leave no more than this share of the squared difference of the levels."""
LEAST_FALL: Final = 0.3
"""Root mean square difference of the levels, in powers of ten, that needs an explanation."""
CAPPED: Final = 3.0
"""A difference of levels counts no more than this, in powers of ten."""


def examine_roll_off(trials: Trials, index: int, names: Sequence[str]) -> Iterator[Finding]:
    r"""Compare the levels of the spectrum with those of the repeats times the response of every lower class.

    .. math:: S(f) = |H_c(f)|^2\, S_r(f) + F

    with the floor :math:`F` of rounding.

    References
    ----------
    .. [1] Response: SAE J211-1 as in ``correlate.conditioning``. Limits: chosen here.
    """
    for name in names:
        others = trials.others(index, name)
        if len(others) < 2:
            continue
        facts = trials.trials[index].facts[name]
        found = _lower_class(
            trials.trials[index].spectrum(name),
            [trials.trials[other].spectrum(name) for other in others],
            declared_class(facts),
            facts.signal.step_s,
        )
        if found is None:
            continue
        cfc, before, left = found
        yield Finding(
            kind="filter class",
            severity="warning",
            file=facts.file,
            channel=name,
            what=f"the spectrum falls off from CFC {cfc} on, against the other repeats",
            remedy="filter the raw channel with the declared class",
            evidence={
                "looks_like": f"CFC {cfc}",
                "levels_apart": round(before, 3),
                "levels_left": round(left, 3),
            },
            start_s=facts.onset_s,
            end_s=facts.signal.end_s,
        )


def _lower_class(
    own: EnergySpectrum, others: Sequence[EnergySpectrum], declared: int | None, step_s: float
) -> tuple[int, float, float] | None:
    """Return the class that explains the fall, and the difference of levels without and with it."""
    cells = min(own.density.size, *(other.density.size for other in others)) // CELLS * CELLS
    frequency = cell_middles_hz(cells).reshape(-1, CELLS)
    floor = max(own.floor, 1e-300)
    mine = np.log10(_together(own.density[:cells]) + floor)
    levels = [np.log10(_together(other.density[:cells]) + floor) for other in others]
    usual = 10 ** np.median(levels, axis=0) - floor
    apart = {}
    for cfc, row in FREQUENCY_CLASSES.items():
        if (declared is None or cfc < declared) and row.lowest_rate_hz * step_s <= 1 + 1e-6:
            passed = (cfc_amplitude(frequency, cfc, step_s) ** 2).mean(axis=1)
            apart[cfc] = _apart(mine, np.log10(usual * passed + floor), frequency[:, 0] > 0.5 * cfc)
    if not apart:
        return None
    plain = {cfc: _apart(mine, np.log10(usual + floor), frequency[:, 0] > 0.5 * cfc) for cfc in apart}
    best = min(apart, key=lambda cfc: apart[cfc] / max(plain[cfc], 1e-9))
    if plain[best] < LEAST_FALL or apart[best] ** 2 > EXPLAINED * plain[best] ** 2:
        return None
    return best, plain[best], apart[best]


def _together(density: Floats) -> Floats:
    return np.asarray(density.reshape(-1, CELLS).mean(axis=1))


def _apart(mine: Floats, expected: Floats, used: NDArray[np.bool_]) -> float:
    difference = np.clip(mine - expected, -CAPPED, CAPPED)[used]
    return float(np.sqrt(np.mean(difference**2))) if difference.size else 0.0
