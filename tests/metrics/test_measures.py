"""The measures beside the main rating: published pair, closed forms, literal twins, refusals."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import AlignedPair
from correlate.errors import SignalError
from correlate.metrics import METRICS, measure
from correlate.metrics.classic import (
    cross_correlation,
    knowles_gear,
    normalised_rms,
    pearson,
    residual,
    russell,
    sprague_geers,
    theil,
    weighted_integrated_factor,
)
from correlate.metrics.inner_products import inner_products
from tests.metrics.curves import grid, noisy_pairs, pair_of, pulse
from tests.oracles import measures_literal as literal

if TYPE_CHECKING:
    from numpy.typing import NDArray

PUBLISHED = Path(__file__).parent.parent / "published" / "measures" / "decaying_sinusoid.toml"
CASES = tomllib.loads(PUBLISHED.read_text(encoding="utf-8"))["case"]
LITERAL = (
    "sprague-geers",
    "russell",
    "knowles-gear",
    "theil",
    "weighted-integrated-factor",
    "normalised-rms",
    "pearson",
    "cross-correlation",
    "residual",
)


def decaying(time: NDArray[np.float64], arrival: float, amplitude: float) -> NDArray[np.float64]:
    """Return the decaying sinusoid that begins at its arrival."""
    since = time - arrival
    return np.where(since >= 0, amplitude * np.exp(-since) * np.sin(2 * np.pi * since), 0.0)


def sines(phase: float, factor: float = 1.0) -> AlignedPair:
    """Return a whole number of periods of a sine, and a shifted and scaled copy."""
    angle = 2 * np.pi * np.arange(1000) / 200
    return pair_of(np.sin(angle), factor * np.sin(angle - phase))


# ------------------------------------------------------------------------------- published, from memory


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['measure']}, {case['words']}")
def test_the_decaying_sinusoid_of_the_literature(case: dict[str, Any]) -> None:
    """20 % more magnitude, 20 % late and 20 % early give the values that the papers report."""
    time = np.arange(0.0, 2.0 + 1e-9, 0.02)
    pair = AlignedPair(
        time=time,
        reference=decaying(time, 0.14, 1.0),
        candidate=decaying(time, case["arrival"], case["amplitude"]),
    )
    parts = measure(case["measure"]).evaluate(pair).parts
    for name, value in case["values"].items():
        assert parts[name] == pytest.approx(value, abs=case["tolerance"]), name


# --------------------------------------------------------------------------------- closed forms (derived)


@given(pair=noisy_pairs(), factor=st.floats(0.1, 10.0))
def test_a_scaled_copy_has_magnitude_alone(pair: AlignedPair, factor: float) -> None:
    """M = k - 1 and P = 0; Russell's m is k - 1/k; Theil's U is |k-1| / (k+1); the factor is min(k, 1/k)."""
    scaled = pair_of(pair.reference, factor * pair.reference)
    geers, other = sprague_geers(scaled), russell(scaled)
    assert geers.magnitude == pytest.approx(factor - 1, abs=1e-12)
    assert geers.phase == pytest.approx(0.0, abs=1e-12)
    assert abs(other.magnitude) == pytest.approx(math.log10(1 + abs(factor - 1 / factor)), abs=1e-12)
    assert math.copysign(1, other.magnitude) == math.copysign(1, factor - 1)
    assert theil(scaled).inequality == pytest.approx(abs(factor - 1) / (factor + 1), abs=1e-12)
    found = weighted_integrated_factor(scaled).factor
    assert found == pytest.approx(min(factor, 1 / factor), abs=1e-12)
    assert pearson(scaled).correlation == pytest.approx(1.0, abs=1e-12)
    assert cross_correlation(scaled).correlation == pytest.approx(1.0, abs=1e-12)


@given(phase=st.floats(0.0, math.pi))
def test_shifted_sines_have_phase_alone(phase: float) -> None:
    """P = φ/π and M = 0 for Sprague and Geers and for Russell; Pearson is cos φ; Theil's U is sin(φ/2)."""
    pair = sines(phase)
    for found in (sprague_geers(pair), russell(pair)):
        assert found.phase == pytest.approx(phase / math.pi, abs=1e-9)
        assert found.magnitude == pytest.approx(0.0, abs=1e-9)
    assert pearson(pair).correlation == pytest.approx(math.cos(phase), abs=1e-9)
    assert theil(pair).inequality == pytest.approx(math.sin(phase / 2), abs=1e-9)
    error = math.sqrt(2.0) * math.sin(phase / 2)
    assert normalised_rms(pair).root_mean_square == pytest.approx(error, abs=1e-9)


def test_comprehensive_errors_combine_their_parts() -> None:
    """C² = M² + P² after Sprague and Geers, C² = π/4 (M² + P²) after Russell."""
    pair = sines(0.7, factor=1.3)
    geers, other = sprague_geers(pair), russell(pair)
    assert geers.comprehensive**2 == pytest.approx(0.3**2 + (0.7 / math.pi) ** 2, abs=1e-9)
    magnitude = math.log10(1 + 1.3 - 1 / 1.3)
    assert other.comprehensive**2 == pytest.approx(
        math.pi / 4 * (magnitude**2 + (0.7 / math.pi) ** 2), abs=1e-9
    )


@pytest.mark.parametrize("delay", [-60, -1, 0, 7, 90])
def test_a_moved_pulse_correlates_fully_at_its_delay(delay: int) -> None:
    """The largest cross-correlation is 1 at the delay, whatever the size."""
    pair = pair_of(pulse(500, start=200, length=100), 3.0 * pulse(500, start=200 + delay, length=100))
    found = cross_correlation(pair)
    assert found.correlation == pytest.approx(1.0, abs=1e-12)
    assert found.delay_samples == delay
    assert found.delay_s == pytest.approx(delay * 1e-4)


@pytest.mark.parametrize(("places", "delay"), [((40, 70), -10), ((20, 60), 10), ((40, 60), 10)])
def test_of_equal_correlations_the_smallest_shift_counts_then_the_late_one(
    places: tuple[int, int], delay: int
) -> None:
    """A spike against two equal ones: the nearer one, and of two equally near ones the later."""
    reference, candidate = np.zeros(100), np.zeros(100)
    reference[50], candidate[list(places)] = 1.0, 1.0
    assert cross_correlation(pair_of(reference, candidate)).delay_samples == delay


def test_a_turned_sign_is_the_worst_of_its_kind() -> None:
    """A mirrored curve has P = 1, U = 1, factor 0 and correlation -1."""
    curve = pulse(300, start=50, length=100)
    pair = pair_of(curve, -curve)
    assert sprague_geers(pair).phase == pytest.approx(1.0, abs=1e-12)
    assert theil(pair).inequality == pytest.approx(1.0, abs=1e-12)
    assert weighted_integrated_factor(pair).factor == pytest.approx(0.0, abs=1e-12)
    assert pearson(pair).correlation == pytest.approx(-1.0, abs=1e-12)


def test_an_offset_moves_the_mean_residual_alone() -> None:
    """A constant offset of 7 % of the peak is a mean of 0.07 and no deviation; Pearson does not see it."""
    curve = pulse(400, start=100, length=150, height=50.0)
    pair = pair_of(curve, curve + 0.07 * curve.max())
    found = residual(pair)
    assert found.mean == pytest.approx(0.07, abs=1e-12)
    assert found.deviation == pytest.approx(0.0, abs=1e-12)
    assert pearson(pair).correlation == pytest.approx(1.0, abs=1e-12)


def test_an_alternating_residual_has_its_sample_deviation() -> None:
    """A residual of ±q of the peak has mean 0 and deviation q·sqrt(n / (n - 1))."""
    curve = pulse(200, start=50, length=100)
    peak = float(curve.max())
    pair = pair_of(curve, curve + 0.1 * peak * np.where(np.arange(200) % 2, 1.0, -1.0))
    found = residual(pair)
    assert found.mean == pytest.approx(0.0, abs=1e-12)
    assert found.deviation == pytest.approx(0.1 * math.sqrt(200 / 199), abs=1e-12)


def test_a_late_ramp_arrives_late() -> None:
    """A trapezoid 20 ms late arrives 20 ms late; size alone is left once both arrive together."""
    time = grid(2000)
    early = np.clip((time - 0.05) / 0.01, 0, 1) * np.clip((0.12 - time) / 0.01, 0, 1)
    late = np.clip((time - 0.07) / 0.01, 0, 1) * np.clip((0.14 - time) / 0.01, 0, 1)
    found = knowles_gear(pair_of(early, 1.5 * late))
    assert found.reference_arrival_s == pytest.approx(0.0505, abs=1e-9)
    assert found.candidate_arrival_s == pytest.approx(0.0705, abs=1e-9)
    assert found.arrival == pytest.approx(0.02 / 0.0505, abs=1e-9)
    assert found.magnitude == pytest.approx(0.5, abs=1e-6)
    expected = math.sqrt((10 * 0.25 + 2 * (0.02 / 0.0505) ** 2) / 12)
    assert found.combined == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("factor", "accepted"), [(1.0, True), (1.39, True), (1.41, False), (0.61, True), (0.59, False)]
)
def test_sprague_geers_acceptance_ends_at_forty_percent(factor: float, *, accepted: bool) -> None:
    """Roadside-safety practice accepts errors of up to 40 % (NCHRP Web-Only Document 179, from memory)."""
    curve = pulse(300, start=50, length=100)
    assert sprague_geers(pair_of(curve, factor * curve)).accepted is accepted


@pytest.mark.parametrize(
    ("offset", "noise", "accepted"),
    [
        (0.049, 0.0, True),
        (0.051, 0.0, False),
        (-0.051, 0.0, False),
        (0.0, 0.34, True),
        (0.0, 0.36, False),
    ],
)
def test_residual_acceptance_ends_at_its_levels(offset: float, noise: float, *, accepted: bool) -> None:
    """A mean of up to 5 % and a deviation of up to 35 % are accepted (same source, from memory)."""
    curve = pulse(400, start=100, length=150)
    wobble = np.where(np.arange(400) % 2, 1.0, -1.0)
    assert residual(pair_of(curve, curve + offset + noise * wobble)).accepted is accepted


# -------------------------------------------------------------------------------------- second opinions


@pytest.mark.parametrize("name", LITERAL)
@given(pair=noisy_pairs(most=80))
def test_every_measure_equals_its_literal_twin(name: str, pair: AlignedPair) -> None:
    """The loop written from the paper gives the same numbers."""
    padded = pair_of(
        np.concatenate([np.zeros(5), pair.reference]), np.concatenate([np.zeros(5), pair.candidate])
    )
    twin = getattr(literal, METRICS[name].function)
    expected = twin(padded.reference.tolist(), padded.candidate.tolist())
    parts = METRICS[name].evaluate(padded).parts
    for key, value in expected.items():
        # The arc cosine of the twin loses half of its digits near 0.
        assert parts[key] == pytest.approx(value, rel=1e-7, abs=1e-7), key


@given(pair=noisy_pairs())
def test_correlations_equal_those_of_numpy(pair: AlignedPair) -> None:
    """Correlation matrix and full correlation of numpy agree."""
    assert pearson(pair).correlation == pytest.approx(
        np.corrcoef(pair.reference, pair.candidate)[0, 1], abs=1e-10
    )
    full = np.correlate(pair.candidate, pair.reference, mode="full")
    scale = np.linalg.norm(pair.reference) * np.linalg.norm(pair.candidate)
    assert cross_correlation(pair).correlation == pytest.approx(float(full.max() / scale), abs=1e-10)


@given(pair=noisy_pairs())
def test_the_angle_is_the_arc_cosine_of_the_dot_product(pair: AlignedPair) -> None:
    """The stable formula equals the textbook one where that keeps its digits."""
    found = inner_products(pair)
    cosine = pair.reference @ pair.candidate
    cosine /= np.linalg.norm(pair.reference) * np.linalg.norm(pair.candidate)
    assert math.cos(found.angle) == pytest.approx(float(cosine), abs=1e-12)


# ---------------------------------------------------------------------------------------------- refusals

FLAT = np.full(50, 2.0)
ZERO = np.zeros(50)
CURVE = pulse(50, start=10, length=30)


@pytest.mark.parametrize(
    ("name", "reference", "candidate", "message"),
    [
        ("sprague-geers", ZERO, CURVE, "reference is zero throughout"),
        ("sprague-geers", CURVE, ZERO, "candidate is zero throughout"),
        ("russell", CURVE, ZERO, "candidate is zero throughout"),
        ("knowles-gear", ZERO, CURVE, "reference is zero throughout"),
        ("knowles-gear", CURVE, ZERO, "candidate is zero throughout, so it never arrives"),
        ("knowles-gear", FLAT, CURVE, "arrived in its first sample"),
        ("theil", ZERO, CURVE, "reference is zero throughout"),
        ("weighted-integrated-factor", ZERO, CURVE, "reference is zero throughout"),
        ("normalised-rms", FLAT, CURVE, "reference is constant"),
        ("pearson", FLAT, CURVE, "reference is constant"),
        ("pearson", CURVE, FLAT, "candidate is constant"),
        ("cross-correlation", CURVE, ZERO, "candidate is zero throughout"),
        ("residual", ZERO, CURVE, "reference is zero throughout"),
        ("area", ZERO, CURVE, "repeats are zero throughout"),
        ("confidence-interval", CURVE, CURVE, "too few for a confidence interval; give 3 or more"),
    ],
)
def test_what_cannot_be_measured_is_refused(
    name: str, reference: NDArray[np.float64], candidate: NDArray[np.float64], message: str
) -> None:
    """A measure says in words why it refuses two curves."""
    with pytest.raises(SignalError, match=message):
        measure(name).evaluate(pair_of(reference, candidate))


@given(start=st.integers(1, 90), late=st.integers(1, 98))
def test_spikes_of_any_place_are_compared(start: int, late: int) -> None:
    """However late the candidate, the sample with which the reference arrives is still compared."""
    reference, candidate = np.zeros(100), np.zeros(100)
    reference[start], candidate[late] = 1.0, 0.5
    assert knowles_gear(pair_of(reference, candidate)).magnitude == pytest.approx(0.5, abs=1e-9)
