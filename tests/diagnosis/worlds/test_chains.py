"""Random rigs to learn from: deterministic, finely enough integrated, honest models honest, faults felt."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.diagnosis.hints.evidence import difference_size
from correlate.metrics.iso18571 import rate_many
from tests.diagnosis.worlds.cases import LEAST_GROWTH, draw_systems, losses, models
from tests.diagnosis.worlds.chains import (
    BODIES,
    DRIVES,
    GROUND,
    LAW,
    Element,
    Rig,
    chain_cases,
    draw_rig,
    family_of,
)
from tests.diagnosis.worlds.evidence import channels_of
from tests.diagnosis.worlds.families import SUBSTEPS, simulate
from tests.diagnosis.worlds.faults import KINDS, Fault

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.diagnosis.worlds.cases import WorldCase

    Floats = NDArray[np.float64]


def rig(seed: int) -> Rig:
    """Return a rig."""
    return draw_rig(np.random.default_rng(seed))


RIGS = tuple(range(8))


@cache
def faulty() -> list[WorldCase]:
    """Return some cases with a fault."""
    return chain_cases(12, 3, seed=5)


def test_the_same_seed_gives_the_same_rigs() -> None:
    """Rig for rig and sample for sample; another seed gives others."""
    assert rig(3) == rig(3) != rig(4)
    one, same, other = (chain_cases(2, 2, seed=seed) for seed in (5, 5, 6))
    assert [case.faults for case in one] == [case.faults for case in same]
    assert [_models(case).tolist() for case in one] == [_models(case).tolist() for case in same]
    assert [_models(case).tolist() for case in one] != [_models(case).tolist() for case in other]


def _models(case: WorldCase) -> Floats:
    return np.concatenate([channel.model for one in case.load_cases for channel in one.channels])


def test_every_drive_and_every_fault_occurs() -> None:
    """Struck, dropped, swung, stopped; one to three masses; a rig for each kind of fault but timing."""
    drawn = [rig(seed) for seed in range(60)]
    assert {one.drive for one in drawn} == set(DRIVES)
    parts = [family_of(one).parts for one in drawn]
    assert {kind for some in parts for kind in some} | {"speed", "timing"} == set(KINDS)
    for one in drawn:
        assert len(one.masses) == BODIES
        assert len(one.elements) >= 1
        assert {len(element.law) for element in one.elements} == {len(LAW)}
        assert len(one.sensors) == len(set(one.sensors)) >= 1
    assert {element.stop for one in drawn for element in one.elements} == {True, False}


def test_a_stop_is_met_beside_its_spring() -> None:
    """Between the same bodies, behind a gap, stiffer, and without a sensor of its own."""
    for one in (rig(seed) for seed in range(60)):
        springs = {(each.first, each.second): each for each in one.elements if not each.stop}
        for number, stop in enumerate(one.elements):
            if stop.stop:
                spring = springs[stop.first, stop.second]
                assert stop.law["stiffness"] > spring.law["stiffness"]
                assert stop.law["gap"] > 0.0
                assert f"element_{number}_force" not in {sensor[0] for sensor in one.sensors}


@pytest.mark.parametrize("seed", RIGS)
def test_half_the_step_changes_little(seed: int) -> None:
    """Less than 1 % of the peak of every channel."""
    family = family_of(rig(seed))
    nominal = draw_systems(family, 2, np.random.default_rng(seed)).nominal
    coarse, fine = (simulate(family, nominal, steps) for steps in (SUBSTEPS, 2 * SUBSTEPS))
    peaks = np.abs(fine).max(axis=2)
    change = np.abs(fine - coarse).max(axis=2) / np.maximum(peaks, 1e-9 * peaks.max())
    assert change.max() < 0.01


def test_a_linear_spring_gives_half_a_sine() -> None:
    """One mass on a spring without anything else: peak and duration as in closed form."""
    law = {**dict.fromkeys(LAW, 0.0), "stiffness": 8e4, "exponent": 1.0, "thickness": 10.0, "onset": 0.5}
    law |= {"steepness": 8.0}
    mass, speed = 20.0, 5.0
    plain = Rig(
        drive="struck",
        masses=(mass, 1.0, 1.0, 1.0),
        elements=(Element(first=0, second=GROUND, contact=True, law=law),),
        speed=speed,
        duration_s=0.05,
        travel=0.08,
        sensors=(("force", "force", "N", 2 * BODIES), ("acceleration", "acceleration", "m/s2", 0)),
    )
    family = family_of(plain)
    record = np.zeros(1, family.dtype)
    for name, limits in family.ranges.items():
        record[name] = np.sqrt(limits[0] * limits[1])
    for name in ("speed", "b0_mass", "e0_stiffness"):
        record[name] = {"speed": speed, "b0_mass": mass, "e0_stiffness": law["stiffness"]}[name]
    force, acceleration = simulate(family, record)[0]
    assert force.max() == pytest.approx(speed * np.sqrt(law["stiffness"] * mass), rel=0.02)
    assert -mass * acceleration == pytest.approx(force, rel=1e-9, abs=1e-6)


def test_what_is_struck_takes_up_what_the_striker_loses() -> None:
    """Momentum of striker and masses is kept where nothing holds them on the ground."""
    free = next(
        one
        for one in (rig(seed) for seed in range(200))
        if one.drive == "struck" and all(element.second != GROUND for element in one.elements)
    )
    every = tuple((f"body {body}", "acceleration", "m/s2", body) for body in range(BODIES))
    family = family_of(Rig(**{**vars(free), "sensors": every}))
    nominal = draw_systems(family, 1, np.random.default_rng(1)).nominal
    accelerations = simulate(family, nominal)[0]
    masses = np.array([float(nominal[f"b{body}_mass"][0]) for body in range(BODIES)])
    forces = masses[:, np.newaxis] * accelerations
    assert np.abs(forces.sum(axis=0)).max() < 1e-6 * np.abs(forces).max()


def test_honest_models_agree_well() -> None:
    """The median rating of a channel without fault is at least 0.95."""
    pairs = [channel.pair for case in chain_cases(12, 2, seed=5, faults=0) for channel in channels_of(case)]
    assert np.median([one.overall for one in rate_many(pairs)]) >= 0.95


def test_planted_faults_are_felt() -> None:
    """Each case has one fault, and its differences are larger than those of honest models."""
    assert len(faulty()) >= 18
    assert {len(case.faults) for case in faulty()} == {1}
    honest = [_size(case) for case in chain_cases(12, 2, seed=5, faults=0)]
    assert np.median([_size(case) for case in faulty()]) > 2.0 * np.median(honest)


def _size(case: WorldCase) -> float:
    return float(np.mean([difference_size(channel.pair) for channel in channels_of(case)]))


def test_two_faults_are_of_different_kinds() -> None:
    """None of them timing."""
    for case in chain_cases(6, 3, seed=5, faults=2):
        kinds = [fault.kind for fault in case.faults]
        assert len(set(kinds)) == 2
        assert "timing" not in kinds


def test_a_fault_that_is_large_costs_rating() -> None:
    """Twice the stiffness of some element is felt in most rigs."""
    assert sum(_most_lost(seed) >= LEAST_GROWTH for seed in RIGS) >= 6


def _most_lost(seed: int) -> float:
    """Return the largest loss of rating by an element of twice the stiffness."""
    family = family_of(rig(seed))
    drawn = draw_systems(family, 1, np.random.default_rng(seed))
    before = losses(drawn, [0], models(drawn, [0], [()]))
    faults = [
        Fault(kind="stiffness", side="too much", part=part, amount=2.0) for part in family.parts["stiffness"]
    ]
    return max(float((losses(drawn, [0], models(drawn, [0], [(one,)])) - before).max()) for one in faults)
