"""Energy spectra of whole channels in cells of a constant share of an octave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.units import parse_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.reference.check.statistics import ChannelStatistics

    Floats = NDArray[np.float64]


CELLS_PER_OCTAVE: Final = 24
"""Cells of the spectrum in an octave: each is 2.9 % wide."""
LOWEST_HZ: Final = 20.0
"""Lower edge of the first cell, Hz."""
HIGHEST_SHARE: Final = 0.4
"""Upper edge of the last cell, as a share of the sample rate."""
TAPERED: Final = 0.05
"""Share of the record at either end that a taper brings to zero."""


@dataclass(frozen=True, slots=True, eq=False)
class EnergySpectrum:
    r"""Energy of a channel by frequency.

    Attributes
    ----------
    density
        Shape ``(m,)``: mean of :math:`|X(f)|^2` over each cell, with the transform in SI times seconds; cell
        ``i`` begins at ``LOWEST_HZ * 2**(i / CELLS_PER_OCTAVE)``.
    quiet
        Shape ``(m,)``: what the noise before the event leads one to expect over the whole record; zero
        where it is unknown.
    floor
        Density that rounding and the taper leave in any case.
    """

    density: Floats
    quiet: Floats
    floor: float


def cell_edges_hz(cells: int) -> Floats:
    """Return the edges of so many cells, shape ``(cells + 1,)``, Hz."""
    return np.asarray(LOWEST_HZ * 2.0 ** (np.arange(cells + 1) / CELLS_PER_OCTAVE))


def cell_middles_hz(cells: int) -> Floats:
    """Return the middle of so many cells, Hz."""
    return np.asarray(LOWEST_HZ * 2.0 ** ((np.arange(cells) + 0.5) / CELLS_PER_OCTAVE))


def energy_spectrum(facts: ChannelStatistics, start_s: float = -math.inf) -> EnergySpectrum:
    """Return the spectrum of a channel from a time on, without its baseline."""
    signal, factor = facts.signal, parse_unit(facts.signal.unit).factor
    cells = max(0, int(math.log2(HIGHEST_SHARE / signal.step_s / LOWEST_HZ) * CELLS_PER_OCTAVE))
    first = (
        int(np.clip(math.ceil((start_s - signal.start_s) / signal.step_s), 0, len(signal) - 1))
        if start_s > signal.start_s
        else 0
    )
    values = (signal.samples[first:] - facts.baseline) * factor
    density = _density(values, signal.step_s, cells)
    quiet = np.zeros(cells)
    if facts.has_quiet:
        calm = (signal.samples[facts.quiet] - facts.baseline) * factor
        quiet = _density(calm, signal.step_s, cells) * (values.size / calm.size)
    rounding = (facts.resolution * factor) ** 2 / 12 * values.size * signal.step_s**2
    return EnergySpectrum(density, quiet, max(rounding, FLOOR * float(density.max(initial=0.0))))


FLOOR: Final = 1e-12
"""What the taper lets through, as a share of the largest density."""


def _density(values: Floats, step_s: float, cells: int) -> Floats:
    """Return the mean energy density of each cell; the line between the two ends is taken out."""
    ends = max(1, round(TAPERED * values.size))
    rest = values - np.linspace(values[:ends].mean(), values[-ends:].mean(), values.size)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ends) + 0.5) / ends)
    rest[:ends] *= ramp
    rest[-ends:] *= ramp[::-1]
    size = 1 << (rest.size - 1).bit_length()
    power = np.abs(np.fft.rfft(rest, size)) ** 2 * step_s**2
    total = np.concatenate(([0.0], np.cumsum(power)))
    # each line of the spectrum stands for the frequencies around it
    places = cell_edges_hz(cells) * size * step_s + 0.5
    return np.asarray(np.diff(np.interp(places, np.arange(total.size), total)) / np.diff(places))
