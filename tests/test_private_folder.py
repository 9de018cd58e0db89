"""The folder of the jobs: outside the project, and of this user alone."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from correlate import CorrelateError
from correlate.private_folder import (
    private_folder,
    project_cache_folder,
    project_state_folder,
    refuse_inside,
)
from dashboard.jobs.table import FILE, JobTable

SOMEBODY = 12345
as_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root gives a file to another user")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a folder of jobs with its table."""
    JobTable(tmp_path / "state/jobs")
    return tmp_path / "state/jobs"


def test_each_project_has_its_own_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By its absolute path, below the folder that the environment names; links lead to the same one."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "one").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "one")
    one, other = (project_state_folder(tmp_path / name, "jobs") for name in ("one", "other"))
    assert one.parent == other.parent == tmp_path / "state/correlate/jobs"
    assert one != other
    assert project_state_folder(tmp_path / "link", "jobs") == one
    monkeypatch.chdir(tmp_path)
    assert project_state_folder(Path("one"), "jobs") == one


@pytest.mark.parametrize("named", ["", "relative/state"])
def test_without_a_named_folder_it_is_in_the_home_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, named: str
) -> None:
    """A relative path is ignored, as the specification of the variable wants it."""
    monkeypatch.setenv("XDG_STATE_HOME", named)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert project_state_folder(tmp_path / "one", "jobs").parent == tmp_path / ".local/state/correlate/jobs"


def test_a_new_folder_is_closed_to_others(tmp_path: Path) -> None:
    """With every folder above it that had to be made, whatever the program is told to allow."""
    before = os.umask(0)
    try:
        private_folder(tmp_path / "a/b/c")
    finally:
        os.umask(before)
    assert [(tmp_path / name).stat().st_mode & 0o777 for name in ("a", "a/b", "a/b/c")] == [0o700] * 3


@pytest.mark.parametrize("mode", [0o720, 0o702])
@pytest.mark.parametrize("name", ["", FILE, f"{FILE}-journal", f"{FILE}-wal"])
def test_what_others_can_write_is_not_opened(folder: Path, name: str, mode: int) -> None:
    """The folder, its table, and what SQLite would read beside it."""
    (folder / name).touch()
    (folder / name).chmod(mode)
    with pytest.raises(
        CorrelateError, match=r"other users of this machine can write to this; run: chmod go-w"
    ):
        JobTable(folder)


@as_root
@pytest.mark.parametrize("name", ["", FILE])
def test_what_belongs_to_somebody_else_is_not_opened(folder: Path, name: str) -> None:
    """A folder or a table that another user has put there."""
    os.chown(folder / name, SOMEBODY, SOMEBODY)
    with pytest.raises(CorrelateError, match="this belongs to another user of this machine"):
        JobTable(folder)


def test_a_table_that_is_a_link_is_not_opened(folder: Path, tmp_path: Path) -> None:
    """It could lead to a table inside a project."""
    (folder / FILE).rename(tmp_path / "planted.sqlite")
    (folder / FILE).symlink_to(tmp_path / "planted.sqlite")
    with pytest.raises(CorrelateError, match="this is a link or a device, not a file"):
        JobTable(folder)


@as_root
def test_a_link_of_somebody_else_on_the_way_is_not_followed(folder: Path, tmp_path: Path) -> None:
    """Nor one that a link of one's own leads to; one's own links are followed."""
    (tmp_path / "theirs").symlink_to(folder.parent)
    (tmp_path / "mine").symlink_to("theirs")
    JobTable(tmp_path / "mine/jobs")
    os.chown(tmp_path / "theirs", SOMEBODY, SOMEBODY, follow_symlinks=False)
    for way in ("theirs", "mine"):
        with pytest.raises(CorrelateError, match="theirs' is a link that belongs to another user"):
            JobTable(tmp_path / way / "jobs")


def test_a_folder_that_everybody_can_replace_is_not_used(folder: Path) -> None:
    """Unless only the owners of its entries can, as in /tmp."""
    folder.parent.chmod(0o777)
    with pytest.raises(CorrelateError, match=r"every user of this machine can replace what is in '.*state'"):
        JobTable(folder)
    folder.parent.chmod(0o1777)
    JobTable(folder)


def test_links_in_a_circle_are_refused(tmp_path: Path) -> None:
    """With a sentence and not for ever."""
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises(CorrelateError, match="this folder cannot be used"):
        private_folder(tmp_path / "a/jobs")


def test_a_folder_inside_the_project_is_refused(tmp_path: Path) -> None:
    """By its own path or through a link; a neighbour with a longer name is outside."""
    project = tmp_path / "kelp"
    (project / "inner").mkdir(parents=True)
    (tmp_path / "link").symlink_to(project / "inner")
    for inside in (project / "jobs", tmp_path / "link/jobs", project):
        with pytest.raises(CorrelateError, match="this folder is inside the project"):
            refuse_inside(inside, project)
    refuse_inside(tmp_path / "kelp-jobs", project)


def test_the_cache_of_a_project_is_outside_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One private folder for each project, below the folder that the environment names or in the home."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    one, other = (project_cache_folder(tmp_path / name) for name in ("one", "other"))
    assert one is not None
    assert other is not None
    assert one.parent == other.parent == tmp_path / "cache/correlate"
    assert one != other
    assert one.stat().st_mode & 0o777 == 0o700
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setenv("HOME", str(tmp_path))
    at_home = project_cache_folder(tmp_path / "one")
    assert at_home == tmp_path / ".cache/correlate" / one.name


def test_without_a_private_cache_folder_there_is_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder inside the project, a file in its place, or one that others can write to is not used."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "project/.cache"))
    assert project_cache_folder(tmp_path / "project") is None
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert project_cache_folder(tmp_path / "project") is None
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = project_cache_folder(tmp_path / "project")
    assert folder is not None
    folder.chmod(0o777)
    assert project_cache_folder(tmp_path / "project") is None
