"""Hashes of files are kept between runs, and bytes are read again whenever they could have changed."""

from __future__ import annotations

import hashlib
import json
import os
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import CorrelateError
from correlate import file_hashes as module
from correlate.file_hashes import RECORDS_FILE, FileHashes, file_hashes
from correlate.plain_files import open_plain

LATER_NS = 10**10


class Files:
    """A project with one file and a private cache folder; opened files are listed."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.file = folder / "test.csv"
        self.file.write_bytes(b"time,force\n0,1\n")
        self.cache = folder / "cache"
        self.cache.mkdir(mode=0o700)
        self.read: list[Path] = []
        self._monkeypatch = monkeypatch
        monkeypatch.setattr(module, "open_plain", self._open)
        self.set_clock(LATER_NS)

    def set_clock(self, ahead_ns: int) -> None:
        """Let the program see a clock that is ahead of the time stamps of files written now."""
        clock = SimpleNamespace(time_ns=lambda: time.time_ns() + ahead_ns)
        self._monkeypatch.setattr(module, "time", clock)

    def run(self) -> FileHashes:
        """Return the hashes of a new run, after it hashed the file and saved the record."""
        hashes = FileHashes(self.cache)
        assert hashes.of(self.file) == hashlib.sha256(self.file.read_bytes()).hexdigest()
        hashes.save()
        return hashes

    def change_unnoticed(self) -> None:
        """Change a byte, and make the record look as if it were of the new file."""
        seen = self.file.stat()
        self.file.write_bytes(self.file.read_bytes().replace(b"1", b"2"))
        os.utime(self.file, ns=(seen.st_atime_ns, seen.st_mtime_ns))
        place = self.cache / RECORDS_FILE
        content = json.loads(place.read_text())
        content["files"][str(self.file)][2] = self.file.stat().st_ctime_ns
        place.write_text(json.dumps(content))

    def _open(self, path: Path) -> object:
        self.read.append(path)
        return open_plain(path)


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Files:
    """Make them."""
    return Files(tmp_path, monkeypatch)


def test_unchanged_bytes_are_read_once(files: Files) -> None:
    """The second run takes the hash from the record of the first."""
    files.run()
    files.run()
    assert files.read == [files.file]


def test_a_changed_file_is_read_again(files: Files) -> None:
    """Also where its size stays and its time of modification is set back, as copying programs do."""
    files.run()
    seen = files.file.stat()
    files.file.write_bytes(files.file.read_bytes().replace(b"1", b"2"))
    os.utime(files.file, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    files.run()
    other = files.file.with_name("other.csv")
    other.write_bytes(files.file.read_bytes().replace(b"2", b"3"))
    other.replace(files.file)
    files.run()
    assert len(files.read) == 3


@pytest.mark.parametrize("ahead_ns", [0, 10**9])
def test_a_file_changed_just_before_it_was_hashed_is_not_recorded(files: Files, ahead_ns: int) -> None:
    """A second change could leave it with the same time stamps."""
    files.set_clock(ahead_ns)
    files.run()
    files.run()
    assert len(files.read) == 2
    assert not (files.cache / RECORDS_FILE).exists()


def test_a_file_that_changes_while_it_is_hashed_is_not_recorded(
    files: Files, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was read may be partly the old content and partly the new."""

    def open_and_append(path: Path) -> object:
        with path.open("ab") as stream:
            stream.write(b"1,2\n")
        return open_plain(path)

    monkeypatch.setattr(module, "open_plain", open_and_append)
    files.run()
    assert not (files.cache / RECORDS_FILE).exists()


def test_verifying_reads_every_file_once_more_and_names_wrong_records(files: Files) -> None:
    """A record whose size, time and inode are right and whose hash is not is believed until then."""
    files.run()
    wrong = hashlib.sha256(files.file.read_bytes()).hexdigest()
    files.change_unnoticed()
    right = hashlib.sha256(files.file.read_bytes()).hexdigest()
    assert FileHashes(files.cache).of(files.file) == wrong
    hashes = FileHashes(files.cache)
    with hashes.verifying() as found:
        assert [hashes.of(files.file), hashes.of(files.file)] == [right, right]
    assert found == [files.file]
    assert hashes.is_verifying is False
    hashes.save()
    assert len(files.read) == 2
    files.run()
    assert len(files.read) == 2
    with hashes.verifying() as found:
        hashes.of(files.file)
    assert found == []


@pytest.mark.parametrize(
    "content",
    ["", "[]", "{", '{"files": []}', '{"files": {"%s": [1, 2, 3, 4]}}', '{"files": {"%s": null}}'],
    ids=["empty", "a list", "half", "no table", "a short record", "no record"],
)
def test_what_is_no_record_is_ignored_and_replaced(files: Files, content: str) -> None:
    """A damaged file of records costs time only."""
    (files.cache / RECORDS_FILE).write_text(content.replace("%s", str(files.file)))
    files.run()
    files.run()
    assert files.read == [files.file]


def test_records_that_others_can_write_are_ignored(files: Files) -> None:
    """Neither a file with such permissions nor a link is read."""
    files.run()
    (files.cache / RECORDS_FILE).chmod(0o666)
    files.run()
    place = files.cache / RECORDS_FILE
    place.replace(files.cache / "elsewhere.json")
    place.symlink_to(files.cache / "elsewhere.json")
    files.run()
    assert len(files.read) == 3


def test_without_a_folder_or_room_every_run_reads(files: Files, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing fails, and within a run a file is read once."""
    alone = FileHashes(None)
    assert alone.of(files.file) == alone.of(files.file)
    alone.save()
    assert len(files.read) == 1

    def full(path: Path, text: str) -> None:  # noqa: ARG001 - as the real one
        raise CorrelateError("no space left")

    monkeypatch.setattr(module, "write_text", full)
    files.run()
    files.run()
    assert len(files.read) == 3
    assert [*files.cache.iterdir()] == []


def test_the_number_of_records_is_bounded(files: Files, monkeypatch: pytest.MonkeyPatch) -> None:
    """Those that no run has used for the longest time are dropped."""
    monkeypatch.setattr(module, "MOST_RECORDS", 2)
    names = [files.file.with_name(f"{name}.csv") for name in "abc"]
    for one in names:
        one.write_text(one.name)
    for used in (names[:2], names[:1], names[2:]):
        hashes = FileHashes(files.cache)
        with hashes.verifying():
            for one in used:
                hashes.of(one)
        hashes.save()
    found = json.loads((files.cache / RECORDS_FILE).read_text())["files"]
    assert [Path(name).name for name in found] == ["a.csv", "c.csv"]


def test_two_programs_keep_the_records_of_each_other(files: Files) -> None:
    """The one that saves last adds to what the other has saved meanwhile."""
    other = files.file.with_name("other.csv")
    other.write_text("1")
    one, two = FileHashes(files.cache), FileHashes(files.cache)
    one.of(files.file)
    two.of(other)
    one.save()
    two.save()
    files.read.clear()
    last = FileHashes(files.cache)
    last.of(files.file)
    last.of(other)
    assert files.read == []


def test_a_project_has_one_object_in_a_process(tmp_path: Path) -> None:
    """Whoever asks for the hashes of a project shares what was hashed for others."""
    assert file_hashes(tmp_path) is file_hashes(tmp_path)
    assert file_hashes(tmp_path) is not file_hashes(tmp_path / "other")


@given(
    changes=st.lists(
        st.sampled_from(["none", "byte", "append", "replace", "set back", "new run"]), max_size=8
    )
)
def test_the_hash_is_always_that_of_the_present_bytes(
    tmp_path_factory: pytest.TempPathFactory, changes: list[str]
) -> None:
    """After any sequence of changes, and whatever a program did to the times of the file."""
    folder = tmp_path_factory.mktemp("changes")
    with pytest.MonkeyPatch.context() as monkeypatch:
        files = Files(folder, monkeypatch)
        hashes = files.run()
        for number, change in enumerate(changes):
            _change(files.file, change, number)
            if change == "new run":
                hashes.save()
                hashes = FileHashes(files.cache)
            assert hashes.of(files.file) == hashlib.sha256(files.file.read_bytes()).hexdigest()


def _change(file: Path, change: str, number: int) -> None:
    before = file.stat()
    _wait_for_the_next_time_stamp(file)
    content = bytearray(file.read_bytes())
    content[-1] = number
    if change in {"byte", "set back"}:
        file.write_bytes(content)
    elif change == "append":
        file.write_bytes(content + b"x")
    elif change == "replace":
        beside = file.with_suffix(".new")
        beside.write_bytes(content)
        beside.replace(file)
    if change in {"set back", "replace"}:
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))


def _wait_for_the_next_time_stamp(file: Path) -> None:
    """Write into another file until its time stamp is a later one: the clock of a file system has steps."""
    probe = file.with_name("probe")
    while not probe.exists() or probe.stat().st_ctime_ns <= file.stat().st_ctime_ns:
        probe.write_bytes(b"")
