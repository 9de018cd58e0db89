"""Text on disk: encodings, what looks like text, files that appear completely or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.formats.text_file import (
    decoded,
    encoded,
    first_bytes,
    looks_like_text,
    opened,
    shortened,
    text_lines,
    whole_file,
    whole_folder,
)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"angle [\xb0]", "angle [°]"),
        (b"angle [\xc2\xb0]", "angle [°]"),
        (b"\xef\xbb\xbfangle [\xc2\xb0]", "angle [°]"),
        (b"", ""),
    ],
    ids=["ISO 8859-1", "UTF-8", "UTF-8 with mark", "empty"],
)
def test_bytes_become_the_same_text_in_every_encoding(data: bytes, text: str) -> None:
    """The degree sign is read in all three encodings."""
    assert decoded(data) == text


@given(st.text(st.characters(exclude_categories=["Cs"])).filter(lambda text: not text.startswith("\ufeff")))
def test_any_text_is_written_and_read_back(text: str) -> None:
    """Whatever encoding is chosen, reading gives the text again."""
    assert decoded(encoded(text)) == text


def test_text_that_only_looks_like_utf8_is_written_in_utf8() -> None:
    """Two letters whose ISO 8859-1 bytes are one letter in UTF-8 do not become that letter."""
    assert encoded("Â°") == "Â°".encode()
    assert encoded("°") == b"\xb0"


@pytest.mark.parametrize(
    ("data", "verdict"),
    [
        (b"a;b\r\n\t1", True),
        ("µ".encode("latin-1"), True),
        (b"", False),
        (b"a\0b", False),
        (b"\x7fELF", False),
    ],
)
def test_text_is_told_from_binary(data: bytes, verdict: bool) -> None:  # noqa: FBT001 - a case of the table
    """Control characters other than tab and line ends mean binary."""
    assert looks_like_text(data) is verdict


def test_lines_end_in_two_ways_only() -> None:
    """Unicode's rarer line ends stay within the line."""
    assert text_lines("a\r\nb\x85c\u2028d\n\ne") == ["a", "b\x85c\u2028d", "", "e"]
    assert text_lines("") == []


def test_long_or_odd_text_is_quoted_on_one_short_line() -> None:
    """Quotes in messages stay readable."""
    assert shortened("  ab\0c\n") == "ab·c"
    assert shortened("x" * 50) == "x" * 40 + "…"


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
    monkeypatch.setattr(Path, "open", refused)
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
        pytest.raises(FormatError, match=r"this cannot be written \(.+\); choose another folder"),
        whole_file(tmp_path / "file" / "run.csv"),
    ):
        pass
    with (
        pytest.raises(FormatError, match=r"this cannot be written \(.+\); choose another folder"),
        whole_folder(tmp_path / "file" / "KM1"),
    ):
        pass
