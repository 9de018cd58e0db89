"""What a number stands on: which changes of files and settings make it stale, and plain values and back."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.evaluation import CaseEvidence, ChannelEvidence, inputs_state
from correlate.evaluation.evidence import channels_of_plain, state_of_tests

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def state(folder: Path) -> str:
    """Return the state of the only load case and release."""
    campaign = load_campaign(folder)
    return inputs_state(campaign, campaign.releases[0], campaign.load_cases[0])


def edit(old: str, new: str) -> Callable[[Path], None]:
    """Return a change of the campaign file."""

    def change(folder: Path) -> None:
        file = folder / "campaign.toml"
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), encoding="utf-8")

    return change


def more(name: str) -> Callable[[Path], None]:
    """Return one byte more in a file."""

    def change(folder: Path) -> None:
        with (folder / name).open("a", encoding="utf-8") as file:
            file.write("\n")

    return change


@pytest.mark.parametrize(
    "change",
    [
        more("tests/R1.csv"),
        more("model/push.csv"),
        lambda folder: (folder / "model" / "push.csv").unlink(),
        lambda folder: (folder / "tests" / "R1.csv").rename(folder / "tests" / "R0.csv"),
        edit("cfc = 180", "cfc = 60"),
        edit("interval_ms = [0, 50]", "interval_ms = [0, 40]"),
        edit("model_sign = -1", "model_sign = 1"),
        edit("[[load_case]]", '[scoring]\nrepeats = "mean curve"\n\n[[load_case]]'),
        edit("[[load_case]]", "[rating]\nwarping_band = 0.05\n\n[[load_case]]"),
    ],
)
def test_what_changes_a_rating_changes_the_state(project: Path, change: Callable[[Path], None]) -> None:
    """Bytes, names of repeats, conditioning, the rating, and how repeats are taken together."""
    before = state(project)
    change(project)
    assert state(project) != before


@pytest.mark.parametrize(
    "change",
    [
        edit('title = "sternum deflection"', 'title = "chest"'),
        edit('region = "thorax"', 'region = "thorax"\nweight = 3.0'),
        edit('name = "push"', 'name = "push"\nheld_out = true\nexpected_repeats = 7'),
        edit('title = "Two repeats"', 'title = "Two repeats"\ndevice = "KELP-M"'),
        lambda folder: (folder / "notes.txt").write_text("lunch", encoding="utf-8"),
    ],
)
def test_what_changes_no_rating_leaves_the_state(project: Path, change: Callable[[Path], object]) -> None:
    """Words, weights and files beside."""
    before = state(project)
    change(project)
    assert state(project) == before


def test_a_copy_of_the_project_is_in_the_same_state(project: Path, tmp_path: Path) -> None:
    """Where the folder lies and when its files were written says nothing."""
    copy = tmp_path / "elsewhere"
    shutil.copytree(project, copy)
    assert state(copy) == state(project)
    campaign, other = load_campaign(project), load_campaign(copy)
    assert state_of_tests(campaign, campaign.load_cases[0]) == state_of_tests(other, other.load_cases[0])


def test_evidence_comes_back_from_json() -> None:
    """Plain values and back are the same evidence, and completeness follows from it."""
    found = ChannelEvidence(
        channel="force",
        expected=3,
        found=("R1", "R2"),
        rated=("R1",),
        missing={"R2": "too short", "R3": "R3.csv: empty"},
        pairs=("R1",),
        flags={"interval mostly quiet": 1},
    )
    case = CaseEvidence(campaign="c", release="B1", load_case="push", state="s", channels=(found,))
    assert channels_of_plain(json.loads(json.dumps(case.as_plain()))) == (found,)
    assert not found.is_complete
