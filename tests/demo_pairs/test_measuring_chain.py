"""The measuring chain: closed forms of its filters, exact time shift, honest counts."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from demo_pairs.laboratory import measuring_chain as chain
from demo_pairs.laboratory.measuring_chain import FIRST_TIME, SAMPLES, SAMPLING_STEP
from demo_pairs.laboratory.scatter import generator

SENSOR = chain.Sensor(
    quantity="x", code="D0HEAD0000KMACXP", description="head", unit="m/s^2", full_scale=1000.0
)
SAMPLED = FIRST_TIME + SAMPLING_STEP * np.arange(SAMPLES)
MIDDLE = slice(1000, 4000)


def tone(frequency: float) -> NDArray[np.float64]:
    """Give a cosine of amplitude 100 on the simulation grid, faded in and out: its ends are quiet."""
    time = chain.grid()
    fade = np.clip((time - time[0]) / 0.02, 0.0, 1.0) * np.clip((time[-1] - time) / 0.02, 0.0, 1.0)
    return np.asarray(100.0 * np.cos(2.0 * np.pi * frequency * time) * fade, dtype=np.float64)


def test_mount_at_rest_and_at_resonance() -> None:
    """A mount passes slow motion unchanged and enlarges its resonance by 1/(2 zeta), a quarter turn late."""
    response = chain.mount_response(np.array([0.0, 3000.0]), 3000.0, 0.05)
    assert response[0] == pytest.approx(1.0)
    assert response[1] == pytest.approx(-10.0j)


@pytest.mark.parametrize("ratio", [0.25, 0.5, 1.0, 2.0, 4.0])
def test_anti_alias_filter_is_a_four_pole_butterworth(ratio: float) -> None:
    """Its amplitude is 1/sqrt(1 + (f/fc)^8), the textbook form: -3 dB at the corner."""
    response = chain.anti_alias_response(np.array([ratio * 4000.0]), 4000.0)
    assert abs(response[0]) == pytest.approx(1.0 / np.sqrt(1.0 + ratio**8), rel=1e-12)


@settings(max_examples=25)
@given(jitter=st.floats(-5e-4, 5e-4))
def test_trigger_delay_moves_the_record_by_exactly_that(jitter: float) -> None:
    """A 50 Hz tone comes out undamped, late by the filter's delay and early by that of the trigger."""
    frequency = 50.0
    response = chain.anti_alias_response(np.array([frequency]), chain.ANTI_ALIAS_FREQUENCY)[0]
    delay = -np.angle(response) / (2.0 * np.pi * frequency)
    measured = chain.analogue(tone(frequency), SENSOR, jitter)
    expected = 100.0 * np.cos(2.0 * np.pi * frequency * (SAMPLED + jitter - delay))
    assert measured[MIDDLE] == pytest.approx(expected[MIDDLE], abs=2e-3)


def test_resonance_of_the_mount_is_in_the_record() -> None:
    """A tone at the resonance of the mount comes out ten times enlarged, less what the filter takes."""
    sensor = replace(SENSOR, mount_frequency=2000.0, mount_damping=0.05)
    filtered = abs(chain.anti_alias_response(np.array([2000.0]), chain.ANTI_ALIAS_FREQUENCY)[0])
    measured = chain.analogue(tone(2000.0), sensor, 0.0)
    amplitude = np.sqrt(2.0) * measured[MIDDLE].std()
    assert amplitude == pytest.approx(1000.0 * filtered, rel=0.01)


def test_aliases_are_kept_out() -> None:
    """A tone of 15 kHz, above half the sampling rate, is down by at least 40 dB."""
    measured = chain.analogue(tone(15_000.0), SENSOR, 0.0)
    assert np.abs(measured[MIDDLE]).max() < 1.0


def test_constant_survives() -> None:
    """A constant quantity is recorded as that constant."""
    measured = chain.analogue(np.full(chain.GRID_POINTS, 42.0), SENSOR, 3e-4)
    assert measured == pytest.approx(np.full(SAMPLES, 42.0), abs=1e-9)


@given(value=st.floats(-3000.0, 3000.0))
def test_counts_are_whole_and_clip_at_full_scale(value: float) -> None:
    """Digitising gives whole 16-bit counts, half a count away at most, and never more than full scale."""
    (got,) = chain.digitise(np.array([value]), SENSOR)
    count = got / SENSOR.resolution
    assert count == round(count)
    assert -32768 <= count <= 32767
    if abs(value) < 999.0:
        assert abs(got - value) <= 0.5 * SENSOR.resolution


def test_errors_are_as_announced() -> None:
    """Gain spreads about 1 %, offset and noise are thousandths of full scale, jitter stays within 0.5 ms."""
    random = generator(7, 1, 1)
    errors = [chain.draw_errors(random, SENSOR) for _ in range(400)]
    gains = np.array([error.gain for error in errors])
    offsets = np.array([error.offset for error in errors])
    jitters = np.array([chain.trigger_jitter(random) for _ in range(400)])
    assert np.abs(gains - 1.0).max() <= 0.02
    assert gains.std() == pytest.approx(0.009, abs=0.0015)
    assert np.abs(offsets).max() <= 2e-3 * SENSOR.full_scale
    assert np.abs(jitters).max() <= 5e-4
    assert np.abs(jitters).max() > 3e-4


def test_noise_of_a_still_channel() -> None:
    """A channel at rest shows its offset and noise of the announced size, in counts."""
    samples = chain.measure(np.zeros(chain.GRID_POINTS), SENSOR, jitter=0.0, random=generator(7, 2, 1))
    assert samples.std() == pytest.approx(2e-4 * SENSOR.full_scale, rel=0.05)
    assert abs(samples.mean()) <= 2.1e-3 * SENSOR.full_scale
