"""The channel frequency class filter against its closed form, the published table and a literal loop."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfiltfilt

from correlate.conditioning import FREQUENCY_CLASSES, cfc_amplitude, cfc_coefficients, filter_cfc
from correlate.conditioning.filters import forward_and_backward
from correlate.errors import SettingsError, SignalError
from correlate.signal import Signal
from tests.conditioning.signals import measured_tone, names, sample_rows, signal_of, tone
from tests.oracles.cfc_loop import cfc_by_loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

TABLE: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[1] / "published" / "cfc" / "classes.toml").read_text(encoding="utf-8")
)
CLASSES = [60, 180, 600, 1000]
MARGIN_S = 0.15
"""After this time the slowest filter has forgotten its start to 1e-30."""


def decibels(frequency_hz: float, cfc: int) -> float:
    """Return the measured amplitude of a filtered tone, sampled at 100 kHz, in dB."""
    filtered = filter_cfc(tone(frequency_hz, length_s=0.4, step_s=1e-5), cfc)
    return float(20 * np.log10(measured_tone(filtered, frequency_hz, margin_s=MARGIN_S)[0]))


@pytest.mark.parametrize("step_s", [1e-4, 5e-5])
@pytest.mark.parametrize("cfc", CLASSES)
def test_amplitude_and_phase_of_thirty_tones(cfc: int, step_s: float) -> None:
    """Thirty tones from 2 Hz to near half the sample rate have the closed form's amplitude and no phase."""
    for frequency_hz in np.geomspace(2.0, 0.45 / step_s, 30):
        filtered = filter_cfc(tone(frequency_hz, length_s=0.5, step_s=step_s), cfc)
        in_phase, quadrature = measured_tone(filtered, frequency_hz, margin_s=MARGIN_S)
        assert in_phase == pytest.approx(float(cfc_amplitude(frequency_hz, cfc, step_s)), abs=1e-9)
        assert quadrature == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("row", TABLE["class"], ids=lambda row: str(row["cfc"]))
def test_published_corner(row: dict[str, float]) -> None:
    """At the published corner the measured amplitude is −3 dB, within the rounding of the table."""
    measured = decibels(row["corner_hz"], int(row["cfc"]))
    assert measured == pytest.approx(TABLE["corner_db"], abs=TABLE["corner_tolerance_db"])
    low, high = TABLE["band_at_corner_db"]
    assert low <= measured <= high


@pytest.mark.parametrize("row", TABLE["class"], ids=lambda row: str(row["cfc"]))
def test_published_pass_limit(row: dict[str, float]) -> None:
    """At the published pass limit the measured amplitude is within the published band."""
    low, high = TABLE["band_at_pass_limit_db"]
    assert low <= decibels(row["pass_limit_hz"], int(row["cfc"])) <= high


@pytest.mark.parametrize("row", TABLE["class"], ids=lambda row: str(row["cfc"]))
def test_table_of_classes_is_the_published_one(row: dict[str, float]) -> None:
    """Corner and lowest sample rate of each class are those of the published table."""
    ours = FREQUENCY_CLASSES[int(row["cfc"])]
    assert (ours.corner_hz, ours.lowest_rate_hz) == (row["corner_hz"], row["lowest_rate_hz"])


@pytest.mark.parametrize("cfc", CLASSES)
def test_half_amplitude_at_the_design_frequency(cfc: int) -> None:
    """Two passes of −3 dB each leave half the amplitude at 2.0775 Hz for each unit of the class."""
    assert decibels(2.0775 * cfc, cfc) == pytest.approx(20 * np.log10(0.5), abs=1e-7)


@given(rows=sample_rows(), cfc=st.sampled_from(CLASSES), step_s=st.sampled_from([1e-4, 5e-5, 2e-5]))
def test_equals_the_literal_loop(rows: NDArray[np.float64], cfc: int, step_s: float) -> None:
    """Random samples, also fewer than the pad, come out as from the difference equation run in a loop."""
    filtered = filter_cfc(signal_of(rows, step_s=step_s), cfc)
    pad = min(round(0.010 / step_s), rows.size - 1)
    assert filtered.history[-1].settings["pad_samples"] == pad
    expected = cfc_by_loop(rows.tolist(), cfc, step_s, pad)
    np.testing.assert_allclose(filtered.samples, expected, rtol=0, atol=1e-9)


@given(
    rows=sample_rows(least=50),
    seed=st.integers(0, 1000),
    factor=st.floats(-5, 5),
    cfc=st.sampled_from(CLASSES),
)
def test_is_linear(rows: NDArray[np.float64], seed: int, factor: float, cfc: int) -> None:
    """The filtered sum is the sum of the filtered."""
    other = np.random.default_rng(seed).uniform(-100, 100, rows.size)
    together = filter_cfc(signal_of(rows + factor * other), cfc).samples
    apart = filter_cfc(signal_of(rows), cfc).samples + factor * filter_cfc(signal_of(other), cfc).samples
    np.testing.assert_allclose(together, apart, rtol=0, atol=1e-9)


@given(level=st.floats(-1e6, 1e6), count=st.integers(2, 400), cfc=st.sampled_from(CLASSES))
def test_constant_passes_unchanged(level: float, count: int, cfc: int) -> None:
    """A constant stays as it is up to its very ends."""
    filtered = filter_cfc(signal_of(np.full(count, level)), cfc)
    np.testing.assert_allclose(filtered.samples, level, rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize("cfc", CLASSES)
def test_symmetric_pulse_stays_symmetric(cfc: int) -> None:
    """Without phase, a pulse keeps its centre and its symmetry."""
    time = np.arange(-2000, 2001) * 5e-5
    filtered = filter_cfc(signal_of(np.exp(-((time / 0.004) ** 2)), step_s=5e-5), cfc).samples
    np.testing.assert_allclose(filtered, filtered[::-1], atol=1e-12)
    assert np.argmax(filtered) == 2000


def test_records_the_step_and_keeps_the_rest() -> None:
    """The history gains the class, the method and the pad; grid, unit and input stay."""
    raw = signal_of(np.arange(500.0), start_s=-0.01, step_s=5e-5)
    filtered = filter_cfc(raw, 180)
    assert names(filtered) == ["read", "filter"]
    assert dict(filtered.history[-1].settings) == {
        "cfc": 180,
        "method": "two-pole low-pass forward and backward",
        "pad_samples": 200,
    }
    assert (filtered.start_s, filtered.step_s, filtered.unit) == (raw.start_s, raw.step_s, raw.unit)
    np.testing.assert_array_equal(raw.samples, np.arange(500.0))


@pytest.mark.parametrize("cfc", CLASSES)
def test_lowest_sample_rate(cfc: int) -> None:
    """The lowest sample rate of the class is accepted; 1 % below it is refused with channel and rates."""
    lowest_hz = FREQUENCY_CLASSES[cfc].lowest_rate_hz
    assert len(filter_cfc(signal_of(np.zeros(50), step_s=1 / lowest_hz), cfc)) == 50
    with pytest.raises(
        SignalError,
        match=rf"channel 'head ax': .* samples a second are too few for CFC {cfc}, .*{lowest_hz:.0f}",
    ):
        filter_cfc(signal_of(np.zeros(50), step_s=1.01 / lowest_hz), cfc)


@pytest.mark.parametrize("cfc", [0, 61, -180, True, "180"])
def test_unknown_class_is_refused(cfc: Any) -> None:
    """A class that is not in the table is refused with those that are."""
    with pytest.raises(
        SettingsError, match=r"no channel frequency class .*; choose one of 60, 180, 600, 1000"
    ):
        filter_cfc(signal_of([0, 1, 2]), cfc)


@pytest.mark.parametrize("step_s", [0.0, -1e-4, 1.1e-4, float("nan")])
def test_coefficients_need_a_suitable_step(step_s: float) -> None:
    """Coefficients for an impossible sampling interval are refused."""
    with pytest.raises(SettingsError, match="does not suit CFC 1000"):
        cfc_coefficients(1000, step_s)


@settings(max_examples=30)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(30, 400), poles=st.integers(1, 8))
def test_two_ways_through_a_cascade_equal_a_general_library(seed: int, count: int, poles: int) -> None:
    """Any cascade of sections, its resting state included, gives what the general filter of scipy gives."""
    random = np.random.default_rng(seed)
    signal = Signal(
        samples=random.standard_normal(count), start_s=0.0, step_s=1e-4, unit="g", channel="head ax"
    )
    sections = butter(poles, random.uniform(0.05, 0.9), output="sos")
    expected = sosfiltfilt(sections, np.array(signal.samples), padtype="odd", padlen=20)
    assert forward_and_backward(sections, signal, 20) == pytest.approx(expected, rel=1e-9, abs=1e-12)
