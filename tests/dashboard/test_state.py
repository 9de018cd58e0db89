"""What the server keeps: recordings until their files change."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

import pytest

from correlate import CorrelateError, RunInfo, load_campaign, open_store, score_into
from correlate import file_hashes as file_hashes_module
from correlate.file_hashes import RECORDS_FILE, file_hashes
from dashboard import state
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.selection import Address, selected
from dashboard.state import Project
from tests.campaign.test_unfinished import LAYOUT
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from pathlib import Path


def rated(project: Project, address: Address) -> float:
    """Rate what an address names."""
    campaign = project.campaign()
    selection = selected(campaign, address)
    return PairAnalysis(project).rated(campaign, selection).rating.overall


def test_a_better_release_is_rated_better(project: Project) -> None:
    """The release with the smaller shift and the nearer height has the higher rating."""
    assert rated(project, Address(release="A2")) > rated(project, Address(release="A1"))


def test_files_are_read_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second rating opens no recording again."""
    project = Project(folder)
    opened: list[str] = []
    genuine = os.open

    def note(path: object, *rest: Any, **named: Any) -> int:
        opened.append(str(path))
        return genuine(path, *rest, **named)  # type: ignore[arg-type]

    monkeypatch.setattr("os.open", note)
    first = rated(project, Address())
    assert any("D01.csv" in file for file in opened)
    opened.clear()
    assert rated(project, Address()) == first
    assert [file for file in opened if file.endswith(".csv")] == []


def test_recordings_make_room_for_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory does not grow with the load cases that were viewed; the recordings of one page are kept."""
    project = Project(folder)
    campaign = project.campaign()
    drop, impact = (campaign.load_case(name) for name in ("drop", "impact"))
    first = project.tests(campaign, drop)
    assert project.tests(campaign, impact) == project.tests(campaign, impact)
    assert all(one is other for one, other in zip(first, project.tests(campaign, drop), strict=True))
    monkeypatch.setattr(state, "MOST_BYTES", 0)
    assert all(one is other for one, other in zip(first, project.tests(campaign, drop), strict=True))
    rated(project, Address(release="A2", case="drop"))
    kept = project._reader.recordings
    assert not {*campaign.test_paths(impact)} & kept.keys()
    assert {*campaign.test_paths(drop)} <= kept.keys()


def test_hashes_of_files_are_saved_for_the_next_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page that compares ratings with the present files does not read their bytes again."""
    monkeypatch.setattr(file_hashes_module, "RACY_NS", 0)
    folder = write_project(tmp_path / "small")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(who="analyst"), workers=1)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    file_hashes.cache_clear()
    project = Project(folder)
    project.numbers(campaign, release="A1")
    (place,) = (tmp_path / "cache").rglob(RECORDS_FILE)
    saved = json.loads(place.read_text(encoding="utf-8"))["files"]
    wanted = {*campaign.test_paths(campaign.load_case("drop")), folder / "releases/A1/drop.csv"}
    assert {str(path) for path in wanted} <= saved.keys()
    assert not any("releases/A2" in name for name in saved)
    with project.results(campaign) as results:
        results.trend()
    saved = json.loads(place.read_text(encoding="utf-8"))["files"]
    assert any("releases/A2" in name for name in saved)
    file_hashes.cache_clear()


def test_a_changed_file_is_read_again(tmp_path: Path) -> None:
    """A new result of the model in the place of the old one is rated, not the old one."""
    project = Project(write_project(tmp_path))
    before = rated(project, Address(release="A1"))
    better = (tmp_path / "releases/A2/drop.csv").read_text(encoding="utf-8")
    (tmp_path / "releases/A1/drop.csv").write_text(better, encoding="utf-8")
    after = rated(project, Address(release="A1"))
    assert after == rated(project, Address(release="A2"))
    assert after > before


def test_a_corrected_campaign_is_read_again(tmp_path: Path) -> None:
    """The page follows the campaign file without a restart, also where size and time stay the same."""
    project = Project(write_project(tmp_path))
    file = tmp_path / "campaign.toml"
    assert selected(project.campaign(), Address()).recipe.end_s == pytest.approx(0.04)
    seen = file.stat()
    file.write_text(file.read_text(encoding="utf-8").replace("[0, 40]", "[0, 30]"), encoding="utf-8")
    os.utime(file, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    assert selected(project.campaign(), Address()).recipe.end_s == pytest.approx(0.03)
    file.unlink()
    with pytest.raises(CorrelateError, match="cannot be read"):
        project.campaign()


def test_an_unchanged_campaign_is_read_once(tmp_path: Path) -> None:
    """Large campaign files take long to validate; an included file that changes counts as a change."""
    project = Project(write_project(tmp_path))
    file, book = tmp_path / "campaign.toml", tmp_path / "book.toml"
    book.write_text("[regions]\nhead = 1\n", encoding="utf-8")
    file.write_text('include = ["book.toml"]\n' + file.read_text(encoding="utf-8"), encoding="utf-8")
    known = project.campaign()
    assert project.campaign() is known
    book.write_text("[regions]\nhead = 2\n", encoding="utf-8")
    again = project.campaign()
    assert again is not known
    assert again.sha256 != known.sha256


def test_a_campaign_with_layouts_in_files_is_always_read(tmp_path: Path) -> None:
    """It is not compared whether these have changed."""
    project = Project(write_project(tmp_path))
    file = tmp_path / "campaign.toml"
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts/rig.toml").write_text(LAYOUT, encoding="utf-8")
    text = file.read_text(encoding="utf-8").replace(
        'name = "drop"\n', 'name = "drop"\ntest_layout = "rig"\n', 1
    )
    file.write_text(text, encoding="utf-8")
    assert project.campaign() is not project.campaign()


def test_a_missing_result_is_named(tmp_path: Path) -> None:
    """A release without the file of a load case gives one sentence with the path."""
    project = Project(write_project(tmp_path))
    (tmp_path / "releases/A1/drop.csv").unlink()
    with pytest.raises(CorrelateError, match=r"releases/A1/drop\.csv"):
        rated(project, Address(release="A1"))


def test_the_newest_rated_release_is_the_last_with_ratings(tmp_path: Path) -> None:
    """In the order of the campaign file; without ratings, or with a store that is none, the last one."""
    folder = write_project(tmp_path)
    project, campaign = Project(folder), load_campaign(folder)
    assert project.newest_rated(campaign) == "A2"
    assert not list(folder.glob("*.sqlite*"))
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, ["A1"], run=RunInfo.now(who="analyst"), workers=1)
    assert project.newest_rated(campaign) == "A1"
    (folder / "ratings.sqlite").write_bytes(b"no store")
    assert project.newest_rated(campaign) == "A2"


def test_paths_are_shown_without_the_project_folder(project: Project) -> None:
    """The page shows the path inside the project."""
    assert project.shown_path(f"{project.folder}/laboratory/x.csv") == "laboratory/x.csv"
    assert project.shown_path("computed") == "computed"
