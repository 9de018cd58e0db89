"""Energy spectra in cells of a share of an octave."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.reference.check.spectra import cell_edges_hz, cell_middles_hz, energy_spectrum
from tests.reference.check.by_hand import facts

STEP_S = 1e-4
TIME = np.arange(2048) * STEP_S


def test_cells_share_an_octave() -> None:
    """Twenty-four from 20 to 40 Hz."""
    edges = cell_edges_hz(48)
    assert (edges[0], edges[24], edges[48]) == pytest.approx((20.0, 40.0, 80.0))
    assert np.allclose(cell_middles_hz(48) ** 2, edges[1:] * edges[:-1])


def test_energy_is_that_of_the_samples() -> None:
    """By Parseval's theorem the energy of a burst in the middle is twice the integral over its cells."""
    burst = np.exp(-(((TIME - 0.1) / 0.02) ** 2)) * np.sin(2 * np.pi * 300 * TIME)
    found = energy_spectrum(facts(burst, unit="m/s^2"))
    cells = found.density.size
    energy = 2 * float(found.density @ np.diff(cell_edges_hz(cells)))
    assert energy == pytest.approx(float(burst @ burst) * STEP_S, rel=0.01)
    assert cell_middles_hz(cells)[int(found.density.argmax())] == pytest.approx(300, rel=0.03)


def test_units_and_baseline() -> None:
    """In SI, without the baseline."""
    burst = np.exp(-(((TIME - 0.1) / 0.02) ** 2)) * np.sin(2 * np.pi * 300 * TIME)
    plain = energy_spectrum(facts(burst, unit="m/s^2"))
    large = energy_spectrum(facts(burst + 7.0, unit="g", baseline=7.0))
    assert np.allclose(large.density[24:], 9.80665**2 * plain.density[24:], rtol=1e-6)


def test_from_a_time_on() -> None:
    """What was before does not count."""
    burst = np.exp(-(((TIME - 0.05) / 0.005) ** 2)) * np.sin(2 * np.pi * 300 * TIME)
    assert (
        energy_spectrum(facts(burst), 0.1).density.max() < 1e-12 * energy_spectrum(facts(burst)).density.max()
    )


def test_the_quiet_stretch_is_scaled_to_the_record() -> None:
    """A hum of the whole record shows the same energy in both."""
    hum = np.sin(2 * np.pi * 400 * TIME)
    found = energy_spectrum(facts(hum, quiet=1024))
    near = slice(int(np.log2(380 / 20) * 24), int(np.log2(420 / 20) * 24))
    assert found.quiet[near].sum() == pytest.approx(found.density[near].sum(), rel=0.15)
    assert not energy_spectrum(facts(hum)).quiet.any()


def test_the_floor_of_rounding() -> None:
    """A twelfth of the square of a count, for every sample."""
    found = energy_spectrum(facts(np.zeros(1000), unit="m/s^2", resolution=0.6))
    assert found.floor == pytest.approx(0.6**2 / 12 * 1000 * STEP_S**2)
