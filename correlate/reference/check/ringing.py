"""A mount that rings: a narrow band that begins with the event and that the other repeats do not show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from correlate.reference.check.spectra import cell_edges_hz, cell_middles_hz
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.spectra import EnergySpectrum
    from correlate.reference.check.trials import Trials

    Floats = NDArray[np.float64]


REACH: Final = 5
"""Cells on either side over which the largest value of the other repeats counts."""
TIMES: Final = 6.0
"""The band must hold so many times the energy density of the other repeats …"""
STANDS_OUT: Final = 4.0
"""… and of its own surroundings."""
WIDTH: Final = 2
"""Cells on either side that belong to the band."""
AWAY: Final = (6, 12)
"""Cells on either side that are its surroundings."""
LEAST_ENERGY: Final = 5e-3
"""Smallest energy of the band, as a share of that of the channel."""
BEFORE: Final = 0.25
"""Largest share of the band that may be there before the event: more is hum."""


@dataclass(frozen=True, slots=True)
class _Band:
    """A band that only one repeat shows."""

    frequency_hz: float
    energy_share: float
    times: float


def examine_ringing(trials: Trials, index: int, names: Sequence[str]) -> Iterator[Finding]:
    """Compare the spectrum of a channel with those of its repeats, cell by cell.

    References
    ----------
    .. [1] Criterion derived here.
    """
    for name in names:
        others = trials.others(index, name)
        facts = trials.trials[index].facts[name]
        if len(others) < 2 or facts.is_minor or not facts.has_quiet:
            continue
        whole, *rest = [trials.trials[number].spectrum(name) for number in (index, *others)]
        after, *left = trials.tail_spectra(index, others, name)
        band = _band(whole, rest, whole) or _band(after, left, whole)
        if band is not None:
            yield Finding(
                kind="loose mount",
                severity="error",
                file=facts.file,
                channel=name,
                what=f"the channel rings at {band.frequency_hz:.3g} Hz from the event on, with "
                f"{band.times:.2g} times the energy of the other repeats there",
                remedy="look for a loose transducer or mount; repeat the test",
                evidence={
                    "frequency_hz": round(band.frequency_hz, 1),
                    "share_of_energy": band.energy_share,
                    "times": round(band.times, 2),
                },
                start_s=facts.onset_s,
                end_s=facts.signal.end_s,
            )


def _band(own: EnergySpectrum, others: Sequence[EnergySpectrum], whole: EnergySpectrum) -> _Band | None:
    """Return the strongest band that stands out from the other repeats and from its surroundings."""
    cells = min(own.density.size, *(other.density.size for other in others))
    if cells <= 2 * AWAY[1]:
        return None
    width_hz = np.diff(cell_edges_hz(cells))
    mine = own.density[:cells] * width_hz
    usual = np.median([_largest_near(other.density[:cells]) for other in others], axis=0) * width_hz
    usual = np.maximum(usual, 1e-300)
    excess = np.where(mine > TIMES * usual, mine - usual, 0.0)
    centre = int(excess.argmax())
    if excess[centre] == 0 or not AWAY[1] <= centre < cells - AWAY[1]:
        return None
    band = slice(centre - WIDTH, centre + WIDTH + 1)
    energy = float(mine[band].sum())
    times = mine / usual
    around = float(
        max(
            times[centre - AWAY[1] : centre - AWAY[0]].max(), times[centre + AWAY[0] : centre + AWAY[1]].max()
        )
    )
    share = energy / float((whole.density[:cells] * width_hz).sum())
    hum = float((own.quiet[:cells] * width_hz)[band].sum())
    if share < LEAST_ENERGY or times[centre] < STANDS_OUT * around or hum > BEFORE * energy:
        return None
    return _Band(float(cell_middles_hz(cells)[centre]), share, float(times[centre]))


def _largest_near(density: Floats) -> Floats:
    padded = np.pad(density, REACH, mode="edge")
    return np.asarray(sliding_window_view(padded, 2 * REACH + 1).max(axis=1))
