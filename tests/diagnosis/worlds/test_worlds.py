"""The invented world: its mechanics are exact, its models honest, and its faults felt as they should be."""

from __future__ import annotations

import pickle
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.conditioning import filter_cfc
from correlate.metrics.iso18571 import rate
from correlate.pair import AlignedPair
from correlate.signal import Signal
from tests.diagnosis.worlds.__main__ import case_ratings
from tests.diagnosis.worlds.cases import (
    REPEATS,
    Systems,
    WorldCase,
    _felt,
    cases,
    draw_systems,
    filter_channels,
    losses,
    models,
    time_grid,
)
from tests.diagnosis.worlds.families import CFC, FAMILIES, SUBSTEPS, simulate
from tests.diagnosis.worlds.faults import KINDS, Fault, draw_fault, plant
from tests.diagnosis.worlds.mechanics import GRAVITY, SAMPLE_S

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NAMES = tuple(FAMILIES)
SIZE = 36


@cache
def systems(family: str) -> Systems:
    """Return some systems of a family."""
    return draw_systems(FAMILIES[family], SIZE, np.random.default_rng(5))


def nominal_with(family: str, parameter: str, factor: float) -> Floats:
    """Return the channels of the nominal systems with one parameter changed."""
    parameters = systems(family).nominal.copy()
    parameters[parameter] *= factor
    return simulate(FAMILIES[family], parameters)[:, : len(FAMILIES[family].channels)]


@pytest.mark.parametrize("family", NAMES)
def test_a_finer_step_changes_nothing_that_matters(family: str) -> None:
    """Half the step changes every channel by less than 0.5 % of its peak."""
    channels = len(FAMILIES[family].channels)
    coarse = simulate(FAMILIES[family], systems(family).nominal)[:, :channels]
    fine = simulate(FAMILIES[family], systems(family).nominal, 2 * SUBSTEPS)[:, :channels]
    change = np.abs(fine - coarse).max(axis=2) / np.abs(fine).max(axis=2)
    assert change.max() < 0.005


def test_energy_of_a_drop_is_kept_or_accounted_for() -> None:
    """Motion, springs (closed form), and what dashpots and friction took add up to the initial energy."""
    p = systems("drop").nominal.copy()
    p["skin_hysteresis"] = 0.0
    curves = simulate(FAMILIES["drop"], p, 40)
    force, (x, u, v, w) = curves[:, 1], np.moveaxis(curves[:, 3:], 1, 0)
    column = {name: p[name][:, np.newaxis] for name in FAMILIES["drop"].ranges}
    kinetic = 0.5 * (column["body_mass"] * v**2 + column["organ_mass"] * w**2)
    weight = -GRAVITY * (column["body_mass"] * x + column["organ_mass"] * u)
    pressed = np.maximum(x - column["cover_gap"], 0.0)
    strain, onset = pressed / column["skin_thickness"], column["skin_onset"]
    n, s = column["skin_exponent"], column["skin_steepness"]
    skin = column["skin_stiffness"] * column["skin_thickness"] ** 2
    skin = skin * (strain ** (n + 1) / (n + 1) + onset**2 / (s * (s + 1)) * (strain / onset) ** (s + 1))
    cover = 0.5 * column["cover_stiffness"] * np.maximum(x, 0.0) ** 2
    beyond = np.maximum(np.abs(u - x) - column["organ_gap"], 0.0)
    organ = 0.5 * (column["organ_stiffness"] * (u - x) ** 2 + column["wall_stiffness"] * beyond**2)
    rate = column["skin_rate"] * v
    friction = column["guide_friction"] * np.tanh(v / column["creep"]) * np.clip(x / 2e-3, 0.0, 1.0)
    lost = (
        force * rate / np.maximum(1.0 + rate, 0.1) * v + friction * v + column["organ_damping"] * (w - v) ** 2
    )
    dissipated = np.cumsum(lost, axis=1) * SAMPLE_S
    total = kinetic + weight + skin + cover + organ + dissipated
    before = 0.5 * (p["body_mass"] + p["organ_mass"]) * p["speed"] ** 2
    assert np.abs(total - before[:, np.newaxis]).max(axis=1) / before == pytest.approx(0.0, abs=0.01)
    assert (dissipated[:, -1] / before).min() > 0.1


def test_curves_are_filtered_as_a_campaign_filters_them() -> None:
    """The filter over many rows is `filter_cfc`."""
    family = FAMILIES["neck"]
    raw = np.random.default_rng(1).standard_normal((2, len(family.channels), 700))
    filtered = filter_channels(family, raw)
    for at, (name, quantity, unit) in enumerate(family.channels):
        signal = Signal(samples=raw[1, at], start_s=0.0, step_s=SAMPLE_S, unit=unit, channel=name)
        assert filtered[1, at] == pytest.approx(filter_cfc(signal, CFC[quantity]).samples, abs=1e-9)


@pytest.mark.parametrize("family", NAMES)
def test_honest_models_agree_well(family: str) -> None:
    """The median rating of a channel of a model without fault is at least 0.95, yet not perfect."""
    medians = np.median([case_ratings(case) for case in cases(family, 12, seed=3, faults=0)], axis=(0, 1))
    assert (medians >= 0.95).all()
    assert (medians < 0.998).all()


@pytest.mark.parametrize("family", NAMES)
def test_every_kind_of_fault_can_be_felt(family: str) -> None:
    """Each kind is planted in some system, and lowers the mean rating at one speed by 0.03 or more."""
    drawn, rows = systems(family), list(range(SIZE))
    before = losses(drawn, rows, models(drawn, rows, [() for _ in rows]))
    kinds = [KINDS[row % len(KINDS)] for row in rows]
    felt = _felt(drawn, rows, kinds, before, np.random.default_rng(8))
    assert {fault.kind for fault in felt.values()} == set(KINDS)
    for row, fault in felt.items():
        assert fault.kind == kinds[row]
        honest, faulty = models(drawn, [row], [()]), models(drawn, [row], [(fault,)])
        lost = [_mean_rating(drawn, row, honest, at) - _mean_rating(drawn, row, faulty, at) for at in (0, 1)]
        assert max(lost) >= 0.03


def _mean_rating(drawn: Systems, row: int, curves: tuple[Floats, Floats], at: int) -> float:
    """Return the mean rating of one system over the channels, one pair at a time."""
    means, model = drawn.tests[at][row].mean(axis=0), curves[at][0]
    return float(np.mean([
        rate(AlignedPair(time=time_grid(drawn.family), reference=test, candidate=curve)).overall
        for test, curve in zip(means, model, strict=True)
    ]))  # fmt: skip


@pytest.mark.parametrize(
    ("family", "parameter", "channel", "rises"),
    [
        ("chest", "rib_stiffness", 1, False), ("chest", "spine_mass", 2, False), ("chest", "speed", 0, True),
        ("neck", "neck_stiffness", 1, False), ("neck", "head_mass", 3, True), ("neck", "neck_play", 1, True),
        ("sled", "lap_stiffness", 4, False), ("sled", "thorax_mass", 3, True), ("sled", "lap_slack", 4, True),
        ("knee", "pad_stiffness", 1, True), ("knee", "thigh_friction", 2, False), ("knee", "speed", 1, True),
        ("drop", "skin_stiffness", 2, False), ("drop", "body_mass", 2, True), ("drop", "speed", 1, True),
    ],
)  # fmt: skip
def test_a_parameter_moves_a_peak_the_way_it_should(
    family: str, parameter: str, channel: int, *, rises: bool
) -> None:
    """The peak of a channel grows or falls in nearly all systems when a parameter grows by 30 %.

    Not in all: a stiffer pad may stop an impactor before it densifies, and lower the peak.
    """
    peaks = nominal_with(family, parameter, 1.0)[:, channel].max(axis=1)
    changed = nominal_with(family, parameter, 1.3)[:, channel].max(axis=1)
    assert np.mean((changed > peaks) == rises) > 0.8


@pytest.mark.parametrize(("family", "parameter"), [("chest", "rib_hysteresis"), ("drop", "skin_hysteresis")])
def test_hysteresis_acts_on_unloading_only(family: str, parameter: str) -> None:
    """Until the largest travel nothing changes; afterwards less comes back."""
    plain, lossy = nominal_with(family, parameter, 1.0), nominal_with(family, parameter, 1.4)
    travel = 1 if family == "chest" else 2
    for row in range(SIZE):
        # Before the spring in question unloads for the first time.
        last = int(np.argmax(np.diff(plain[row, travel]) < -1e-9)) if family == "drop" else 60
        assert lossy[row, 0, :last] == pytest.approx(plain[row, 0, :last], abs=1e-6)
    assert (np.abs(lossy - plain).max(axis=(1, 2)) > 0).all()


@pytest.mark.parametrize("family", NAMES)
def test_a_fault_goes_to_the_side_it_says(family: str) -> None:
    """More stiffness, mass, gap, share or friction is too much; a later onset is too little densification."""
    rng = np.random.default_rng(2)
    for kind in [kind for kind in KINDS if kind != "timing"] * 5:
        system = systems(family).nominal[:1].copy()
        fault = draw_fault(FAMILIES[family], kind, system[0], rng, more=bool(rng.integers(2)))
        if fault is None:
            continue
        before = system.copy()
        plant(fault, system)
        for name in fault.part.split("+"):
            more = bool(system[name][0] > before[name][0])
            assert more == (fault.side == ("too little" if kind == "densification" else "too much"))
        untouched = set(FAMILIES[family].ranges) - set(fault.part.split("+"))
        assert all(system[name][0] == before[name][0] for name in untouched)


def test_timing_moves_all_channels_together() -> None:
    """A model that is 5 ms late is the honest one, 50 samples later."""
    drawn = systems("knee")
    late = Fault(kind="timing", side="too much", part="time zero", amount=0.005)
    honest, moved = models(drawn, [0], [()]), models(drawn, [0], [(late,)])
    early = models(drawn, [0], [(replace(late, amount=-0.005, side="too little"),)])
    for one, after, before in zip(honest, moved, early, strict=True):
        peak = np.abs(one).max(axis=2, keepdims=True)
        assert after[..., 150:600] / peak == pytest.approx(one[..., 100:550] / peak, abs=2e-3)
        assert before[..., 100:550] / peak == pytest.approx(one[..., 150:600] / peak, abs=2e-3)


@pytest.mark.parametrize("family", NAMES)
def test_cases_have_two_speeds_and_repeats(family: str) -> None:
    """Low and high speed differ by 1.3 to 1.6; peaks rise with speed; three repeats scatter but little."""
    for case in cases(family, 4, seed=9, faults=0):
        low, high = case.load_cases
        assert 1.3 <= high.speed / low.speed <= 1.6
        for slow, fast in zip(low.channels, high.channels, strict=True):
            assert slow.tests.shape == (REPEATS, low.time.size)
            assert slow.model.shape == low.time.shape
            assert np.abs(fast.model).max() > np.abs(slow.model).max()
            peaks = np.abs(slow.tests).max(axis=1)
            assert 0.0 < np.ptp(peaks) / peaks.mean() < 0.3


def test_the_same_seed_gives_the_same_cases() -> None:
    """Cases are reproducible, can be sent to another process, and differ from seed to seed."""
    first, again, other = (cases("drop", 6, seed=seed) for seed in (1, 1, 2))
    assert [case.faults for case in first] == [case.faults for case in again]
    sent = pickle.loads(pickle.dumps(first[0]))  # noqa: S301 - our own bytes
    assert _model(first[0]).tobytes() == _model(again[0]).tobytes() == _model(sent).tobytes()
    assert _model(first[0]).tobytes() != _model(other[0]).tobytes()


def _model(case: WorldCase) -> Floats:
    return case.load_cases[0].channels[0].model


def test_two_faults_are_of_different_kinds() -> None:
    """Models with two faults have two kinds, neither of them timing."""
    for case in cases("drop", 10, seed=1, faults=2):
        kinds = {fault.kind for fault in case.faults}
        assert len(kinds) == 2
        assert "timing" not in kinds
