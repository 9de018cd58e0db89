"""The band limit before a coarser grid."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.conditioning import filter_cfc
from correlate.conditioning.resampling import is_band_limited, limit_band
from tests.conditioning.signals import measured_tone, names, signal_of, tone

if TYPE_CHECKING:
    from correlate.signal import Signal


def amplitude(frequency_hz: float, *, step_s: float, new_step_s: float) -> float:
    """Return what is left of a tone."""
    limited = limit_band(tone(frequency_hz, length_s=0.1, step_s=step_s), new_step_s)
    return measured_tone(limited, frequency_hz, margin_s=0.03)[0]


@pytest.mark.parametrize("frequency_hz", [500.0, 1000.0, 2000.0, 3000.0, 4000.0, 5000.0])
def test_amplitude_is_the_butterworth_closed_form(frequency_hz: float) -> None:
    """Two passes of four poles leave 1/(1 + (tan(πfΔt)/tan(πf_cΔt))^8), the textbook form (bilinear)."""
    step_s = 5e-5
    ratio = np.tan(np.pi * frequency_hz * step_s) / np.tan(np.pi * 3000.0 * step_s)
    measured = amplitude(frequency_hz, step_s=step_s, new_step_s=1e-4)
    assert measured == pytest.approx(1 / (1 + ratio**8), abs=1e-9)


@pytest.mark.parametrize("step_s", [9e-5, 5e-5, 1e-5, 1e-6])
def test_amplitudes_promised_in_the_docstring(step_s: float) -> None:
    """At 0.3 of the new rate one half, at half of it 1.7 % or less, up to 0.16 of it 99 % or more."""
    assert amplitude(3000.0, step_s=step_s, new_step_s=1e-4) == pytest.approx(0.5, abs=1e-6)
    assert amplitude(4999.0, step_s=step_s, new_step_s=1e-4) <= 0.017
    assert amplitude(1600.0, step_s=step_s, new_step_s=1e-4) >= 0.99


def test_is_a_step_of_its_own() -> None:
    """The history gains corner, method and pad."""
    limited = limit_band(signal_of(np.ones(3000), step_s=1e-5), 1e-4)
    assert names(limited) == ["read", "anti-alias filter"]
    assert dict(limited.history[-1].settings) == {
        "minus_6_db_hz": 3000.0,
        "method": "four-pole Butterworth forward and backward",
        "pad_samples": 1000,
    }


RAW = signal_of(np.zeros(400), step_s=1e-5)


@pytest.mark.parametrize(
    ("signal", "step_s", "expected"),
    [
        (RAW, 1e-5, True),
        (RAW, 5e-6, True),
        (RAW, 1e-4, False),
        (filter_cfc(RAW, 1000), 1e-4, True),
        (filter_cfc(RAW, 1000), 2e-4, False),
        (filter_cfc(RAW, 600), 1 / 6000, True),
        (filter_cfc(RAW, 180), 5e-4, True),
        (filter_cfc(RAW, 180), 6e-4, False),
        (limit_band(RAW, 1e-4), 1e-4, True),
        (limit_band(RAW, 1e-4), 5e-5, True),
        (limit_band(RAW, 1e-4), 2e-4, False),
    ],
)
def test_who_needs_a_band_limit(signal: Signal, step_s: float, expected: bool) -> None:  # noqa: FBT001
    """A coarser grid needs a class that may be used at its rate, or an anti-alias filter for it."""
    assert is_band_limited(signal, step_s) is expected
