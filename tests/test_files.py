"""Files: refusals in one sentence, written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from correlate.errors import FormatError
from correlate.files import first_bytes, opened, whole_file, whole_folder, write_bytes


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """It replaces what was there, leaves nothing beside it, and names a folder that is absent."""
    target = tmp_path / "a.pdf"
    target.write_bytes(b"old")
    write_bytes(target, b"new")
    assert target.read_bytes() == b"new"
    assert [one.name for one in tmp_path.iterdir()] == ["a.pdf"]
    with pytest.raises(FormatError, match=r"absent/a\.pdf: this cannot be written"):
        write_bytes(tmp_path / "absent" / "a.pdf", b"new")


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (PermissionError(13, "Permission denied"), "there is no permission to read the file; ask its owner"),
        (
            OSError(5, "Input/output error"),
            r"this cannot be read \(Input/output error\); check the storage device",
        ),
    ],
)
def test_refusal_of_the_system_is_one_sentence(
    error: OSError, sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the system says becomes what, where and remedy."""

    def refused(*_: object, **__: object) -> None:
        raise error

    path = tmp_path / "run.csv"
    path.touch()
    monkeypatch.setattr("correlate.plain_files.os.open", refused)
    with pytest.raises(FormatError, match=rf"run\.csv: {sentence}"):
        first_bytes(path)


def test_missing_file_and_folder_are_told_apart(tmp_path: Path) -> None:
    """Each gets its own sentence."""
    with (
        pytest.raises(FormatError, match=r"none\.csv: there is no such file; check the path"),
        opened(tmp_path / "none.csv"),
    ):
        pass
    with pytest.raises(FormatError, match="this is a folder, not a file"), opened(tmp_path):
        pass


def test_file_appears_only_when_it_is_complete(tmp_path: Path) -> None:
    """A failure half-way leaves the older file as it was and nothing beside it."""
    path = tmp_path / "run.csv"
    path.write_text("old")
    with pytest.raises(ZeroDivisionError, match="by zero"), whole_file(path) as stream:
        stream.write(b"new %d" % (1 // 0))
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
    with whole_file(path) as stream:
        stream.write(b"new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_folder_appears_only_when_it_is_complete(tmp_path: Path) -> None:
    """A failure half-way leaves nothing; success leaves the folder alone."""
    path = tmp_path / "KM1"
    with pytest.raises(ZeroDivisionError, match="by zero"), whole_folder(path) as folder:
        (folder / "a").write_text(f"{1 // 0}")
    assert list(tmp_path.iterdir()) == []
    path.mkdir()
    with whole_folder(path) as folder:
        (folder / "a").touch()
    assert [entry.name for entry in path.iterdir()] == ["a"]
    assert list(tmp_path.iterdir()) == [path]


def test_folder_with_content_is_never_replaced(tmp_path: Path) -> None:
    """An existing test is not lost."""
    (tmp_path / "KM1").mkdir()
    (tmp_path / "KM1" / "a").touch()
    with (
        pytest.raises(FormatError, match="KM1: this already exists; choose another name"),
        whole_folder(tmp_path / "KM1"),
    ):
        pass
    assert (tmp_path / "KM1" / "a").exists()


def test_place_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    """A parent that is a file refuses in words."""
    (tmp_path / "file").touch()
    with (
        pytest.raises(FormatError, match=r"this cannot be written \(.+\); choose a folder that exists"),
        whole_file(tmp_path / "file" / "run.csv"),
    ):
        pass
    with (
        pytest.raises(FormatError, match=r"this cannot be written \(.+\); choose a folder that exists"),
        whole_folder(tmp_path / "file" / "KM1"),
    ):
        pass


def test_an_address_where_files_are_read_is_told_where_it_belongs() -> None:
    """A command that reads files only says that a campaign file may name objects."""
    with pytest.raises(FormatError, match=r"address in object storage, and only a campaign file .* 'tests'"):
        first_bytes(Path("s3://bucket/T1.csv"))
