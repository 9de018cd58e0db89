"""Commands on a project that may only be read: shown from what is saved, and nothing is written."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, load_campaign, open_store, score_into
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk
from tests.dashboard.project import write_project
from tests.dashboard.tuned_project import write_tuning
from tests.read_only import contents, read_only, run_bound

if TYPE_CHECKING:
    import subprocess
    from pathlib import Path

project = project_on_disk


@pytest.fixture
def archive(project: Path) -> Path:
    """Rate a project of two releases."""
    write_columns(
        project / "worse" / "push.csv",
        {"probe force [N]": -half_sine(14.0, 2500.0), "compression [m]": half_sine(8.0, 0.055)},
    )
    file = project / "campaign.toml"
    file.write_text(file.read_text() + '\n[[release]]\nname = "B2"\nfolder = "worse"\n', encoding="utf-8")
    campaign = load_campaign(project)
    with open_store(project / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(), workers=1)
    return project


def correlate(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run a command, bound by the permissions of files."""
    return run_bound("-m", "correlate", *arguments)


def test_the_permissions_bind_these_programs(archive: Path) -> None:
    """Otherwise none of these tests would prove anything."""
    with read_only(archive):
        done = run_bound("-c", f"open({str(archive / 'new')!r}, 'w')")
    assert "PermissionError" in done.stderr


@pytest.mark.parametrize(
    "command",
    [
        ("compare", "{}", "B1", "B2"),
        ("gate", "{}", "--release", "B1", "--min", 0.1),
        ("explain", "{}", "--release", "B2", "--json"),
        ("report", "{}", "--release", "B2", "--html", "{}-elsewhere.html"),
    ],
)
def test_a_command_reads_the_saved_ratings_and_writes_nothing(
    archive: Path, command: tuple[object, ...]
) -> None:
    """Each command succeeds, says where its numbers come from, and leaves names and bytes as they were."""
    before = contents(archive)
    with read_only(archive):
        done = correlate(*(str(one).format(archive) for one in command))
    assert done.returncode == 0, done.stderr
    assert "the project is read-only; the ratings shown were saved on 20" in done.stderr
    assert ", are complete and match the files." in done.stderr
    assert contents(archive) == before


def test_numbers_of_a_read_only_project_are_those_that_were_saved(archive: Path) -> None:
    """The same comparison, as JSON, of the project and of the project that may only be read."""
    command = "compare", archive, "B1", "B2", "--json"
    open_one = correlate(*command)
    with read_only(archive):
        closed = correlate(*command)
    assert json.loads(open_one.stdout)["changes"]
    assert closed.stdout == open_one.stdout


def test_a_read_only_project_exports_what_it_would_export_otherwise(archive: Path) -> None:
    """The same table of ratings, byte by byte, of all releases and of the last one."""
    for names in ((), ("--release", "B2")):
        tables = []
        for file in (archive.parent / "open.csv", archive.parent / "closed.csv"):
            command = "export", archive, *names, "--ratings", file
            if file.name == "open.csv":
                done = correlate(*command)
            else:
                with read_only(archive):
                    done = correlate(*command)
            assert done.returncode == 0, done.stderr
            tables.append(file.read_bytes())
        assert tables[0] == tables[1]


def test_stale_and_missing_ratings_are_counted_and_not_computed(archive: Path) -> None:
    """A result that changed since is stale, a channel that was added is not rated; nothing is rated now."""
    write_columns(
        archive / "model" / "push.csv",
        {"probe force [N]": -half_sine(6.0, 3000.0), "compression [m]": half_sine(8.0, 0.055)},
    )
    with read_only(archive):
        done = correlate("compare", archive, "B1", "B2")
    assert "read-only; the ratings shown were saved on" in done.stderr
    assert done.stderr.endswith("; 4 pairs are stale.\n")
    assert "B1: stale" in " ".join(done.stdout.split())
    added = (
        '\n[[load_case]]\nname = "pull"\ntests = ["tests/*.csv"]\ninterval_ms = [0, 50]\n'
        '[[load_case.channel]]\ntest = "force"\nmodel = "probe force"\nregion = "thorax"\n'
    )
    file = archive / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + added, encoding="utf-8")
    with read_only(archive):
        done = correlate("compare", archive, "B1", "B2")
    assert "; 4 pairs are stale, 4 pairs are not rated." in done.stderr


def test_the_gate_does_not_pass_stale_ratings_of_an_archive(archive: Path) -> None:
    """What is stale is no good news where it cannot be rated again."""
    write_columns(
        archive / "model" / "push.csv",
        {"probe force [N]": -half_sine(6.0, 3900.0), "compression [m]": half_sine(8.0, 0.06)},
    )
    with read_only(archive):
        done = correlate("gate", archive, "--release", "B1", "--min", 0.1)
    assert done.returncode == 1
    assert "does not pass" in done.stdout


def test_score_says_that_it_cannot_save_and_how_it_can(archive: Path) -> None:
    """One sentence, exit code 2; with a store elsewhere it rates."""
    before = contents(archive)
    elsewhere = archive.parent / f"{archive.name}-elsewhere.sqlite"
    with read_only(archive):
        refused = correlate("score", archive)
        rated = correlate("score", archive, "--store", elsewhere, "--workers", 1)
    assert refused.returncode == 2
    assert refused.stderr == (
        f"correlate: {archive}/ratings.sqlite: ratings cannot be saved here, because there is no permission "
        "to write; name another results store with --store FILE; compare and report show what is saved\n"
    )
    assert rated.returncode == 0, rated.stderr
    assert elsewhere.exists()
    assert contents(archive) == before


def test_a_project_that_was_never_rated_says_so(project: Path) -> None:
    """There is no store, and none is made."""
    before = contents(project)
    with read_only(project):
        for command in (("compare", project, "B1", "B1"), ("score", project)):
            done = correlate(*command)
            assert done.returncode == 2
            assert done.stderr == (
                f"correlate: {project}/ratings.sqlite: there are no saved ratings, and there is no "
                "permission to create this file; name another results store with --store FILE\n"
            )
    assert contents(project) == before


def test_a_store_that_somebody_else_writes_to_is_read_with_its_log(archive: Path) -> None:
    """What stands in the log and not in the file yet is read; log and index stay as they are."""
    with closing(sqlite3.connect(archive / "ratings.sqlite")) as writer:
        writer.execute("PRAGMA wal_autocheckpoint = 0")
        writer.execute("UPDATE runs SET started = '2031-05-06 00:00:00.000000'")
        writer.commit()
        before = contents(archive)
        assert "ratings.sqlite-wal" in before
        with read_only(archive):
            done = correlate("compare", archive, "B1", "B2")
        assert contents(archive) == before
    assert done.returncode == 0, done.stderr
    assert "the ratings shown were saved on 2031-05-06" in done.stderr


def test_a_copy_with_half_of_its_log_is_refused(
    archive: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Without its index the log cannot be read here, and without the log the numbers would be old."""
    copy = tmp_path_factory.mktemp("copied") / "project"
    with closing(sqlite3.connect(archive / "ratings.sqlite")) as writer:
        writer.execute("UPDATE runs SET who = 'somebody else'")
        writer.commit()
        shutil.copytree(archive, copy)
    (copy / "ratings.sqlite-shm").unlink()
    before = contents(copy)
    with read_only(copy):
        done = correlate("compare", copy, "B1", "B2")
    assert done.returncode == 2
    assert (
        "copied while a program wrote to it: the data in 'ratings.sqlite-wal' cannot be read" in done.stderr
    )
    assert contents(copy) == before


def test_a_fit_is_shown_and_not_saved(tmp_path: Path) -> None:
    """The surrogates are printed; that the page will not show them is said."""
    folder = write_tuning(write_project(tmp_path / "tuned"))
    before = contents(folder)
    with read_only(folder):
        done = correlate("tune", "fit", folder)
    assert done.returncode == 0, done.stderr
    assert "influenced by skin" in done.stdout
    assert "the project is read-only; this fit was not saved" in done.stdout
    assert contents(folder) == before
