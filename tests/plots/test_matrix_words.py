"""The sentences of the matrix."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate import MatrixCell, ReleaseMatrix, load_campaign
from correlate.campaign import Change
from correlate.plots import STATE_MARKS, ceilings_sentence, cell_sentence, matrix_title, states_sentence
from correlate.statistics import Estimate
from tests.campaign.matrix_cells import PLAIN
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign
    from correlate.campaign.matrix import CellState

METRIC = "weighted-integrated-factor"

CELL = replace(PLAIN, channel="D0HEAD0000KMACXP", words="head acceleration X", rating=0.8125)


def moved(difference: float) -> Change:
    """Return a change of a rating of 0.8125 that is far beyond its scatter."""
    return Change(
        kind="channel",
        place=("drop",),
        words="",
        before=0.8125 - difference,
        after=0.8125,
        estimate=Estimate(value=difference, standard_error=1e-4, degrees=4, count=5),
        held_out=False,
        marks=("A1: stale",),
    )


def matrix(*cells: MatrixCell, against: str | None = "A1") -> ReleaseMatrix:
    """Return a matrix of one release."""
    return ReleaseMatrix(releases=("A2",), against={"A2": against}, cells=cells)


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    """Return a campaign that combines the rating."""
    return load_campaign(write_project(tmp_path_factory.mktemp("words")))


def test_the_title_counts_what_moved() -> None:
    """Worse first; none is a word; the first release is compared with nothing."""
    worse, better = replace(CELL, change=moved(-0.1)), replace(CELL, change=moved(0.1))
    assert (
        matrix_title(matrix(worse, better, better), "A2") == "Release A2: 1 channel worse than A1, 2 better"
    )
    assert matrix_title(matrix(CELL, CELL), "A2") == "Release A2: no channel worse than A1, none better"
    first = matrix_title(matrix(CELL, against=None), "A2")
    assert first == "Release A2: 1 channel, nothing to compare with"


@pytest.mark.parametrize("state", ["not rated", "data error", "stale", "repeats missing"])
def test_the_title_says_when_the_evidence_is_incomplete(state: CellState) -> None:
    """One cell is enough; a finding that is no error, or is waived, is not."""
    bad = replace(CELL, states={state: ("why",)})
    assert matrix_title(matrix(CELL, bad), "A2").endswith(", on incomplete evidence")
    fine = replace(CELL, states={"data finding": ("why",), "waived finding": ("why",)})
    assert "incomplete" not in matrix_title(matrix(CELL, fine), "A2")


def test_states_are_counted_worst_first() -> None:
    """Every cell is counted once, by its worst state."""
    stale = replace(CELL, load_case="sled", states={"stale": ("a",), "data finding": ("b",)})
    assert (
        states_sentence(matrix(CELL, stale), "A2") == "2 channels in 2 load cases: 1 stale, 1 with sound data"
    )


def test_a_cell_says_everything() -> None:
    """Place, rating, ceiling, loss, change with its verdict and marks, states with their reasons."""
    cell = replace(
        CELL, change=moved(-0.1), states={"stale": ("files differ",), "data finding": ("a spike",)}
    )
    assert cell_sentence(cell, case_title="Drop", against="A1") == (
        "Head acceleration X, Drop, A2: 0.812 good. Ceiling 0.950, 0.137 lost beyond scatter. "
        "Against A1: −0.100, worse (A1: stale). Stale: files differ. Data finding: a spike."
    )


def test_a_ceiling_of_faulty_tests_says_so() -> None:
    """No loss is computed from it."""
    cell = replace(CELL, ceiling=0.5, states={"data error": ("polarity: turned",)})
    said = cell_sentence(cell, case_title="Drop", against=None)
    assert "Ceiling 0.500, of tests with errors or not checked. Data error: polarity: turned." in said
    assert "lost" not in said


def test_a_cell_without_numbers_says_so() -> None:
    """Nothing is invented for what is not known; a rating of before is no rating."""
    gone = replace(moved(0.1), after=None, marks=())
    cell = replace(
        CELL, rating=None, grade=None, ceiling=None, change=gone, states={"not rated": ("no file",)}
    )
    assert cell_sentence(cell, case_title="Drop", against="A1") == (
        "Head acceleration X, Drop, A2: not rated. Ceiling not known. Against A1: rated in one release only. "
        "Not rated: no file."
    )


def test_missing_ceilings_name_their_command(campaign: Campaign, tmp_path: Path) -> None:
    """None missing: nothing to say; some; all; and a campaign that combines another metric."""
    without = replace(CELL, ceiling=None)
    assert ceilings_sentence(campaign, matrix(CELL), "A2") == ""
    some = ceilings_sentence(campaign, matrix(CELL, without), "A2")
    assert some.startswith("1 of 2 channels without a ceiling, sorted as if it were 1")
    every = ceilings_sentence(campaign, matrix(without), "A2")
    assert every.startswith("No ceiling is known")
    assert all(said.endswith(f"run correlate ceiling {campaign.folder}.") for said in (some, every))
    text = campaign.path.read_text(encoding="utf-8")
    folder = write_project(tmp_path)
    (folder / "campaign.toml").write_text(f'[scoring]\nmain = "{METRIC}"\n{text}', encoding="utf-8")
    assert ceilings_sentence(load_campaign(folder), matrix(without), "A2") == (
        f"Ceilings exist for the ISO/TS 18571 rating only; this campaign combines {METRIC}."
    )


def test_every_state_but_the_plain_ones_has_a_letter_of_its_own() -> None:
    """What is not rated says so in words, what is rated needs none."""
    assert len(set(STATE_MARKS.values())) == len(STATE_MARKS) == 5
    assert all(re.fullmatch("[A-Z]", letter) for letter in STATE_MARKS.values())
