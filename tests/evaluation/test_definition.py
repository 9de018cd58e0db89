"""The campaign file: what it means and what it refuses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.errors import FormatError, SettingsError

if TYPE_CHECKING:
    from pathlib import Path


def test_a_campaign_says_what_is_compared_and_how(project: Path) -> None:
    """Load cases, channels, releases and recipes come out as written; times are in seconds inside."""
    campaign = load_campaign(project)
    push = campaign.load_case("push")
    force, deflection = push.channel
    assert [path.name for path in campaign.test_paths(push)] == ["R1.csv", "R2.csv"]
    assert campaign.model_path(campaign.release("B1"), push) == project / "model" / "push.csv"
    recipe = push.recipe(force)
    assert (recipe.start_s, recipe.end_s, recipe.step_s) == (0.0, 0.05, 1e-4)
    assert (recipe.cfc, recipe.candidate_sign, recipe.reference_sign) == (180, -1, 1)
    assert push.recipe(deflection).cfc is None
    assert (force.words, deflection.words) == ("force", "sternum deflection")


def edit(project: Path, old: str, new: str) -> Path:
    """Change the campaign file."""
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    return file


def test_all_mistakes_are_reported_at_once(project: Path) -> None:
    """A misspelt key, a wrong type and a missing key are in one message."""
    edit(project, 'folder = "model"', 'folderr = "model"')
    edit(project, "interval_ms = [0, 50]", 'interval_ms = ["a", 50]')
    with pytest.raises(FormatError, match="3 mistakes") as caught:
        load_campaign(project)
    message = str(caught.value)
    assert "line 8, load_case.interval_ms: " in message
    assert "line 25, release.folderr: there is no such key; did you mean 'folder'?" in message
    assert "line 23, release.folder: this key is missing" in message


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("cfc = 180", "cfc = 200", "200"),
        ("interval_ms = [0, 50]", "interval_ms = [50, 0]", "line 5, load_case: .*not an interval"),
        ("model_sign = -1", "model_sign = 3", "line 15, load_case.channel.model_sign: "),
        ('test = "deflection"', 'test = "force"', "listed twice"),
        ('title = "Two repeats"', 'title = "Two repeats"\n[rating]\nphase_tie = "never"', "phase_tie"),
    ],
)
def test_settings_that_cannot_be_used_are_refused_on_reading(
    project: Path, old: str, new: str, message: str
) -> None:
    """A frequency class, an interval, a sign or a setting that no pair could use is found at once."""
    edit(project, old, new)
    with pytest.raises(FormatError, match=message):
        load_campaign(project)


def test_settings_of_the_rating_are_taken_over(project: Path) -> None:
    """A setting in the file replaces the published one and leaves the rest."""
    edit(project, 'title = "Two repeats"', 'title = "Two repeats"\n[rating]\nouter_half_width = 0.4')
    settings = load_campaign(project).settings
    assert (settings.outer_half_width, settings.inner_half_width) == (0.4, 0.05)


def test_names_that_are_not_in_the_file_are_listed(project: Path) -> None:
    """An unknown load case or release is refused with what there is."""
    campaign = load_campaign(project)
    with pytest.raises(SettingsError, match=r"no load case 'pull'.*push"):
        campaign.load_case("pull")
    with pytest.raises(SettingsError, match=r"no release 'B2'.*B1"):
        campaign.release("B2")


def test_a_pattern_without_tests_is_refused(project: Path) -> None:
    """Tests that are not there are named, not skipped."""
    edit(project, "tests/*.csv", "lab/*.csv")
    campaign = load_campaign(project)
    with pytest.raises(FormatError, match=r"no test matches 'lab/\*\.csv'"):
        campaign.test_paths(campaign.load_case("push"))


def test_a_file_that_is_absent_or_no_toml(tmp_path: Path) -> None:
    """Both are one sentence with the file in it."""
    with pytest.raises(FormatError, match=r"campaign\.toml: cannot be read"):
        load_campaign(tmp_path)
    (tmp_path / "campaign.toml").write_text("title = [", encoding="utf-8")
    with pytest.raises(FormatError, match=r"campaign\.toml: is not valid TOML"):
        load_campaign(tmp_path)
