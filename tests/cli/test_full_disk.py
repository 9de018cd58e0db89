"""Commands that write, on a disk that is full or read-only: one sentence, exit code 2, nothing half written.

The disk is a real file system in memory; where it may not be mounted, the tests are skipped, and the words of
each error are tested alone.
"""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.cli import entry
from correlate.errors import FormatError
from correlate.files import unusable, unwritable, whole_file
from tests.dashboard.project import write_project
from tests.dashboard.test_shown_paths import sound

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

MOST_BYTES = 4_000_000


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project and rate it, on an ordinary disk."""
    folder = write_project(tmp_path_factory.mktemp("rated") / "kelp")
    sound(folder)
    return folder


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a small disk."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = shutil.which("mount")
    options = ["-t", "tmpfs", "-o", f"size={MOST_BYTES}", "tmpfs", str(place)]
    if mount is None or subprocess.run([mount, *options], check=False, capture_output=True).returncode:
        pytest.skip("a file system may not be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def full(disk: Path) -> str:
    """Fill the disk to the last byte, and return what is said of it."""
    with (disk / "filler").open("wb", buffering=0) as stream, suppress(OSError):
        while True:
            stream.write(b"x" * 65_536)
    with (disk / "filler").open("ab", buffering=0) as stream, suppress(OSError):
        while True:
            stream.write(b"x")
    return "No space left on device|the disk is full"


def read_only(disk: Path) -> str:
    """Forbid writing to the disk, and return what is said of it."""
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    return "Read-only file system|read-only|no permission to write|no permission to create"


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file but those that a database has beside it while it is open."""
    return {
        str(file): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and not file.name.endswith(("-wal", "-shm"))
    }


COMMANDS: dict[str, list[str]] = {
    "convert to an archive": ["convert", "{p}/laboratory/drop/D01.csv", "{p}/a.h5"],
    "convert to a folder": ["convert", "{p}/laboratory/drop/D01.csv", "{p}/iso"],
    "sign": ["sign", "{p}", "A2", "--as", "lab", "--who", "me", "--scope", "x"],
    "score": ["score", "{p}", "--workers", "1"],
    "check": [
        "check",
        "{p}/laboratory/drop/D01.csv",
        "{p}/laboratory/drop/D02.csv",
        "--html",
        "{p}/check.html",
    ],
    "pack to a zip file": [
        "pack",
        "{p}/laboratory/drop/D01.csv",
        "--out",
        "{p}/bag.zip",
        "--checked-by",
        "me",
    ],
    "pack to a folder": ["pack", "{p}/laboratory/drop/D01.csv", "--out", "{p}/bag", "--checked-by", "me"],
    "key": ["key", "{p}/my.key", "--name", "x", "--organisation", "y", "--no-passphrase"],
}


@pytest.mark.parametrize("state", [full, read_only])
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_says_it_and_leaves_nothing(  # noqa: PLR0917 - fixtures
    disk: Path,
    rated: Path,
    name: str,
    state: Callable[[Path], str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One sentence that names the file, exit code 2, and every file as it was."""
    project = Path(shutil.copytree(rated, disk / "kelp"))
    # A rating that is there is not computed again.
    if name == "score":
        (project / "ratings.sqlite").unlink()
    words = state(disk)
    before = contents(project)
    monkeypatch.setattr(
        sys, "argv", ["correlate", *(word.replace("{p}", str(project)) for word in COMMANDS[name])]
    )
    with pytest.raises(SystemExit) as ended:
        entry.run()
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert ended.value.code == 2
    assert said.startswith("correlate: ")
    assert str(disk) in said
    assert any(word in said for word in words.split("|")), said
    assert "; " in said
    # SQLite creates an empty file before it finds no space for the first page.
    assert {file: data for file, data in contents(project).items() if data} == before


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "No space left on device); free some space"),
        (errno.EDQUOT, "Disk quota exceeded); free some space"),
        (errno.EROFS, "Read-only file system); choose a folder on a disk that is not read-only"),
        (errno.EFBIG, "File too large); choose a disk that takes files of this size"),
    ],
)
def test_the_words_of_each_error(number: int, words: str) -> None:
    """Whether the system names the file, as when it is opened, or does not, as when bytes are written."""
    error = OSError(number, os.strerror(number))
    assert f"a.csv: this cannot be written ({words}" in str(unwritable(Path("a.csv"), error))
    assert f"this cannot be written ({words}" in str(unusable(error))
    assert f"b.csv: this cannot be written ({words}" in str(
        unusable(OSError(number, os.strerror(number), "b.csv"))
    )


def test_a_quota_that_ends_in_the_middle_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    """A write that fails half way through changes nothing, and removes what it began."""
    file = tmp_path / "kept.csv"
    file.write_text("before")

    def write() -> None:
        with whole_file(file) as stream:
            stream.write(b"half")
            raise OSError(errno.EDQUOT, "Disk quota exceeded")

    with pytest.raises(FormatError, match="Disk quota exceeded"):
        write()
    assert [path.name for path in tmp_path.iterdir()] == ["kept.csv"]
    assert file.read_text() == "before"
