"""The problems that tuning is measured on, and the searches it is compared with."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.campaign import campaign_ceilings, ceiling_scores
from correlate.evaluation.definition import load_campaign
from correlate.tuning.runs import TRAIN
from demo_pairs.solver.deck import Materials, read_deck
from demo_pairs.solver.run import LOAD_CASES
from tests.benchmarks.tuning import spill, two_masses
from tests.benchmarks.tuning.demo_steps import compiled_steps
from tests.benchmarks.tuning.invented import deck_values
from tests.benchmarks.tuning.kept import run_search, search_kept
from tests.benchmarks.tuning.problem import Problem, ProblemKind, fingerprint_of
from tests.benchmarks.tuning.product import emulator_runs
from tests.benchmarks.tuning.report import report
from tests.benchmarks.tuning.searches import RIVALS

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from tests.benchmarks.tuning.searches import Search

    Floats = NDArray[np.float64]

KINDS = pytest.mark.parametrize("kind", [two_masses.KIND, spill.KIND], ids=lambda kind: kind.name)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder that the problems share."""
    return tmp_path_factory.mktemp("kept")


# The spill -------------------------------------------------------------------------------------------


def test_concentration_of_one_spill_is_the_value_by_hand() -> None:
    """10 / sqrt(4 pi 0.07 · 10) exp(−1 / 2.8) is 2.3591, computed by hand."""
    found = spill.concentration(
        1.0, np.array([10.0]), mass=10.0, diffusion=0.07, other_place=1.5, delay=30.15
    )
    assert found[0] == pytest.approx(2.3591, abs=1e-4)


@pytest.mark.parametrize(("time", "spills"), [(20.0, 1), (40.0, 2)])
def test_no_mass_is_lost_along_the_channel(time: float, spills: int) -> None:
    """The concentration, summed over an endless channel, is the mass of the spills so far."""
    places = np.linspace(-40.0, 40.0, 4001)
    along = [
        spill.concentration(place, np.array([time]), mass=9.0, diffusion=0.1, other_place=1.5, delay=30.15)[0]
        for place in places.tolist()
    ]
    assert np.trapezoid(along, places) == pytest.approx(9.0 * spills, rel=1e-6)


# The two masses ----------------------------------------------------------------------------------------


def test_energy_is_kept_where_nothing_takes_it() -> None:
    """Without dampers and friction, with rubber that never relaxes, motion and springs hold the energy."""
    foam, densification, spring, rubber, exponent = 2.2, 0.5, 0.1, 0.15, 6.0
    without_loss = {
        "foam_damping": 0.0,
        "spring_damping": 0.0,
        "rubber_time": 1e12,
        "rubber_stiffness": rubber,
    }
    card = two_masses.card_of(
        two_masses.MODEL
        | without_loss
        | {"foam_stiffness": foam, "foam_densification_strain": densification, "spring_stiffness": spring}
    )
    states = two_masses.integrated(card, 5.0)
    masses = np.array([two_masses.IMPACTOR, two_masses.MASS_1, two_masses.MASS_2])
    strain = np.maximum(states[:, 0] - states[:, 1], 0.0) / two_masses.THICKNESS
    crushed = strain**2 / 2 + strain ** (exponent + 2) / (exponent + 2) / densification**exponent
    deflection = states[:, 1] - states[:, 2]
    held = foam * two_masses.THICKNESS * crushed
    held += spring * (deflection**2 / 2 + deflection**4 / 4 / two_masses.HARDENING**2)
    held += (two_masses.MOUNT + rubber) * states[:, 2] ** 2 / 2
    energy = held + 0.5 * states[:, 3:6] ** 2 @ masses
    assert held.max() > 0.5 * energy[0]
    assert energy == pytest.approx(np.full(energy.size, 125.0), rel=0.01)


def test_a_damped_impact_loses_energy() -> None:
    """The check above would notice a force that takes energy."""
    states = two_masses.integrated(two_masses.card_of(two_masses.HARDWARE), 5.0)
    masses = np.array([two_masses.IMPACTOR, two_masses.MASS_1, two_masses.MASS_2])
    assert 0.5 * states[-1, 3:6] ** 2 @ masses < 0.5 * 125.0


# The projects ------------------------------------------------------------------------------------------


@KINDS
def test_tests_are_the_same_every_time(kind: ProblemKind, kept: Path, tmp_path: Path) -> None:
    """Building twice gives the same tests, to the byte."""
    kind.build(tmp_path / "again")
    assert fingerprint_of(Problem(kind, kept).folder / "project") == fingerprint_of(tmp_path / "again")


@KINDS
def test_tests_agree_with_each_other_better_than_the_start_does(kind: ProblemKind, kept: Path) -> None:
    """The repeats, rated against each other, are far above the start, so there is something to tune."""
    problem = Problem(kind, kept)
    campaign = load_campaign(problem.tuning.campaign_file)
    ceiling = ceiling_scores(campaign, campaign_ceilings(campaign))
    assert ceiling is not None
    assert ceiling.training.overall is not None
    start = problem(problem.space.start_point)[TRAIN]
    assert 0.4 < start < 0.8
    assert ceiling.training.overall > 0.9


def test_no_card_of_the_two_masses_matches_the_tests(kept: Path) -> None:
    """The hardware's own numbers in the simpler model stay below the agreement of the tests."""
    problem = Problem(two_masses.KIND, kept)
    campaign = load_campaign(problem.tuning.campaign_file)
    ceiling = ceiling_scores(campaign, campaign_ceilings(campaign))
    assert ceiling is not None
    assert ceiling.training.overall is not None
    rated = problem(problem.space.as_point({name: two_masses.HARDWARE[name] for name in two_masses.CARDS}))
    assert 0.85 < rated[TRAIN] < ceiling.training.overall


def test_a_deck_that_was_rated_is_not_run_again(tmp_path: Path) -> None:
    """Another process finds the rating in the file, also behind a line that was cut short."""
    first = Problem(spill.KIND, tmp_path)
    rated = first(first.space.start_point)
    lines = first.folder / "ratings.jsonl"
    lines.write_bytes(b'["cut sh\n' + lines.read_bytes())

    def refuse(deck: str, output: Path) -> None:
        raise AssertionError(f"run again: {deck}, {output}")

    again = Problem(ProblemKind(name="spill", build=spill.build, solve=refuse), tmp_path)
    assert again(again.space.start_point) == rated


def test_a_run_that_fails_has_no_outcomes(tmp_path: Path) -> None:
    """A solver that stops gives a failed run and nothing to count."""

    def stop(_deck: str, _output: Path) -> None:
        raise ArithmeticError("it did not stay finite")

    problem = Problem(ProblemKind(name="spill", build=spill.build, solve=stop), tmp_path)
    assert math.isnan(problem.worth(problem.start))
    assert problem.table(problem.space.start_point[None, :], [0]).status == ("failed",)


def test_a_deck_is_read_with_its_comments() -> None:
    """Lines without a value and what stands behind the mark are passed over."""
    assert deck_values("# point p000; kN\nmass = 7.5 # kg\n\n") == {"mass": 7.5}


# The demo's solver in compiled code --------------------------------------------------------------------


def test_compiled_steps_of_the_demo_write_the_same_results(tmp_path: Path) -> None:
    """One load case of each model, with a card off the beaten track: the files are the same, to the byte."""
    deck = read_deck(_demo_deck(tmp_path), tuple(LOAD_CASES))
    assert isinstance(deck.materials, Materials)
    for case in ("head-drop", "neck-flexion", "thorax-impact", "knee-impact", "seat-drop"):
        with compiled_steps():
            quick = LOAD_CASES[case](deck.materials).text()
        assert quick == LOAD_CASES[case](deck.materials).text(), case


def _demo_deck(folder: Path) -> Path:
    from demo_pairs.build import DECKS  # noqa: PLC0415

    text = (DECKS / "A1.deck").read_text(encoding="utf-8")
    changed = text.replace("rib_damping = 330", "rib_damping = 200")
    assert changed != text
    (folder / "changed.deck").write_text(changed, encoding="utf-8")
    return folder / "changed.deck"


# The searches ------------------------------------------------------------------------------------------


def hill(point: Floats) -> float:
    """Return a worth with its peak at 0.7; a fifth of the cube fails."""
    return math.nan if point[0] > 0.8 else 1.0 - float(np.sum((point - 0.7) ** 2))


@pytest.mark.parametrize("search", RIVALS.values(), ids=RIVALS.keys())
def test_searches_begin_at_the_start_and_keep_to_the_runs(search: Search) -> None:
    """Every rival tries the start first, as many points as told, all in the cube, the same for one seed."""
    start = np.array([0.1, 0.2, 0.3])
    tried: list[Floats] = []

    def worth(point: Floats) -> float:
        tried.append(point)
        return hill(point)

    points = search(worth, start, 40, 3)
    assert points.shape == (40, 3)
    assert np.array_equal(points, np.array(tried))
    assert points[0] == pytest.approx(start)
    assert points.min() >= 0.0
    assert points.max() <= 1.0
    assert np.array_equal(points, search(hill, start, 40, 3))
    assert not np.array_equal(points, search(hill, start, 40, 4))


@pytest.mark.parametrize("name", [name for name in RIVALS if name != "random"])
def test_searches_learn(name: str) -> None:
    """Over a few seeds, what a rival tries last is better than what it tried first."""
    start = np.array([0.1, 0.2, 0.3])
    gains = []
    for seed in range(3):
        worths = np.array([hill(point) for point in RIVALS[name](hill, start, 60, seed)])
        gains.append(np.nanmean(worths[-20:]) - np.nanmean(worths[:20]))
    assert np.median(gains) > 0.05


def test_predictions_stand_beside_what_was_rated(kept: Path) -> None:
    """Every proposed run has its prediction with an interval, and its true rating; the last batch is cut."""
    problem = Problem(spill.KIND, kept)
    runs = emulator_runs(problem, 10, 3, 15, 0)
    assert runs.rounds == [0] * 10 + [1] * 3 + [2] * 2
    assert [one.row for one in runs.predictions] == list(range(10, 15))
    for one in runs.predictions:
        assert one.low < one.mean < one.high
        assert one.rated == problem(runs.points[one.row])[TRAIN]


def test_a_search_is_kept_and_reported(kept: Path) -> None:
    """What was run is found again, and the report tells its best run; on other tests it does not count."""
    problem = Problem(spill.KIND, kept)
    assert search_kept(problem, "random", 5) is None
    runs = run_search(problem, "random", 5)
    again = search_kept(problem, "random", 5)
    assert again is not None
    assert np.array_equal(again.points, runs.points)
    best = max(problem(point)[TRAIN] for point in runs.points[:26])
    lines = list(report(problem, [5]))
    assert any(line.startswith(f"| random | 1 | 26 | {best:.4f}") for line in lines)
    problem.fingerprint = "that of other tests"
    assert search_kept(problem, "random", 5) is None
