"""The tuning file: what it means and what it refuses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError
from correlate.tuning.definition import load_tuning
from tests.tuning.project import TUNING, tuning_project

if TYPE_CHECKING:
    from pathlib import Path


def test_a_file_says_what_is_tuned_and_what_for(tmp_path: Path) -> None:
    """Parameters in order, the goal with its defaults, and the places beside the file."""
    tuning = tuning_project(tmp_path, [2.0])
    assert tuning.space.names == ("gain", "delay")
    assert tuning.goal.train == ("push",)
    assert tuning.goal.outcomes == ("train",)
    assert tuning.goal.largest_held_out_loss == 0.02
    assert tuning.goal.windows_stay_met
    assert tuning.output_folder("p1") == tmp_path / "runs" / "p1" / "output"


def test_a_loss_of_one_is_no_limit(tmp_path: Path) -> None:
    """A rating can lose no more than 1, so nothing is held back."""
    text = TUNING.replace("[goal]", "[goal]\nlargest_held_out_loss = 1")
    assert tuning_project(tmp_path, [2.0], text=text).goal.largest_held_out_loss is None


def test_objectives_become_outcomes(tmp_path: Path) -> None:
    """The worst channel is one outcome; several are named."""
    worst = TUNING.replace("[goal]", '[goal]\nobjective = "worst channel"')
    assert tuning_project(tmp_path, [2.0], text=worst).goal.outcomes == ("worst channel",)
    several = TUNING.replace(
        "[goal]", '[goal]\nobjective = "several"\noutcomes = ["train", "load case/push"]'
    )
    assert tuning_project(tmp_path, [2.0], text=several).goal.outcomes == ("train", "load case/push")


def test_all_mistakes_are_reported_at_once(tmp_path: Path) -> None:
    """A misspelt key, a missing key and an empty range are in one message, each with its line."""
    text = TUNING.replace("timeout_s = 20", "timeout = 20").replace("upper = 10", "upper = 0.5")
    (tmp_path / "tuning.toml").write_text(text, encoding="utf-8")
    with pytest.raises(FormatError, match="3 mistakes") as caught:
        load_tuning(tmp_path)
    message = str(caught.value)
    lines = text.splitlines()
    assert f"line {lines.index('timeout = 20') + 1}, run.timeout: there is no such key" in message
    assert "did you mean 'timeout_s'?" in message
    assert "run.timeout_s: this key is missing" in message
    assert f"line {lines.index('[[parameter]]') + 1}, parameter: " in message
    assert "the lower bound 1 is not below the upper bound 0.5" in message


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('held_out = ["pull"]', 'held_out = ["push"]', "'push' is both a training and a held-out load case"),
        ('"{deck}"', '"{dek}"', r"nothing stands for '\{dek\}'"),
        ('template = "model.template"', "", "'template' names a file when the way is 'template'"),
        ('file = "model.deck"', 'file = "record.json"', "'record.json' is reserved"),
        ("[goal]", '[goal]\nobjective = "several"', "'outcomes' names two or more"),
        ('name = "delay"', 'name = "gain"', "'gain' occurs twice"),
        ('name = "gain"', 'name = "the gain"', "line .*, parameter.name: "),
    ],
)
def test_what_cannot_be_used_is_refused_on_reading(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Each rule speaks in its own words."""
    assert old in TUNING
    with pytest.raises(FormatError, match=message):
        tuning_project(tmp_path, [2.0], text=TUNING.replace(old, new))


def test_files_that_are_named_must_be_there(tmp_path: Path) -> None:
    """The template and the campaign file."""
    (tmp_path / "tuning.toml").write_text(TUNING, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"there is no template 'model\.template'"):
        load_tuning(tmp_path)
    (tmp_path / "model.template").touch()
    with pytest.raises(SettingsError, match=r"there is no campaign 'campaign\.toml'"):
        load_tuning(tmp_path)


def test_a_file_that_is_absent_is_named(tmp_path: Path) -> None:
    """One sentence with the file in it."""
    with pytest.raises(FormatError, match=r"tuning\.toml: cannot be read .*; name a tuning file"):
        load_tuning(tmp_path)
