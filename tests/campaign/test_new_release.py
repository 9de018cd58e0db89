"""A new release: folder and line, or neither, and what an interrupted one left is removed by the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.campaign import load_campaign
from correlate.campaign.new_release import ARRIVING, new_release, remove_interrupted
from correlate.errors import FormatError
from correlate.evaluation.tables import Release

if TYPE_CHECKING:
    from pathlib import Path

B2 = Release(name="B2", folder="releases/B2")


def add(project: Path, release: Release = B2, text: str = "new") -> None:
    """Add a release with one file."""
    with new_release(project / "campaign.toml", release) as folder:
        (folder / "push.csv").write_text(text, encoding="utf-8")


def test_folder_and_line(project: Path) -> None:
    """Both are there, and nothing else."""
    add(project)
    assert load_campaign(project).release("B2").folder == "releases/B2"
    assert [path.name for path in (project / "releases/B2").iterdir()] == ["push.csv"]
    assert [path.name for path in (project / "releases").iterdir()] == ["B2"]


def test_what_an_interrupted_one_left_is_removed(project: Path) -> None:
    """Its folder is in place and not in the campaign file; the next release may have its name or another."""
    for name in ("B2", "B3"):
        (project / "releases" / name).mkdir(parents=True)
        (project / "releases" / name / ARRIVING).touch()
        (project / "releases" / name / "push.csv").write_text("old", encoding="utf-8")
    add(project)
    assert (project / "releases/B2/push.csv").read_text(encoding="utf-8") == "new"
    assert [path.name for path in (project / "releases").iterdir()] == ["B2"]


def test_a_release_that_the_campaign_names_stays(project: Path) -> None:
    """One that was interrupted after its line was written keeps its results and loses its mark."""
    add(project)
    (project / "releases/B2" / ARRIVING).touch()
    remove_interrupted(project / "campaign.toml", project / "releases")
    assert [path.name for path in (project / "releases/B2").iterdir()] == ["push.csv"]


def test_a_folder_that_holds_something_is_refused(project: Path) -> None:
    """It is left as it is, and so is the campaign file."""
    (project / "releases/B2").mkdir(parents=True)
    (project / "releases/B2/ours.txt").touch()
    before = (project / "campaign.toml").read_bytes()
    with pytest.raises(FormatError, match=r"releases/B2: this already exists; choose another name"):
        add(project)
    assert (project / "campaign.toml").read_bytes() == before
    assert [path.name for path in (project / "releases/B2").iterdir()] == ["ours.txt"]


def test_a_release_that_would_not_load_leaves_nothing(project: Path) -> None:
    """The folder goes again where the campaign refuses its line."""
    before = (project / "campaign.toml").read_bytes()
    with pytest.raises(FormatError, match="with the change"):
        add(project, Release(name="B1", folder="releases/B1"))
    assert (project / "campaign.toml").read_bytes() == before
    assert list((project / "releases").iterdir()) == []
