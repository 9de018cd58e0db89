"""Reading a TOML file into its table."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.toml import Table, read_toml

if TYPE_CHECKING:
    from pathlib import Path


class Shelf(Table):
    """A table for the test."""

    boards: int
    colour: str = "white"


def test_a_file_becomes_its_table_and_hash(tmp_path: Path) -> None:
    """A byte order mark is no part of the content, but of the bytes that are hashed."""
    raw = "\ufeffboards = 3\n".encode()
    (tmp_path / "shelf.toml").write_bytes(raw)
    found = read_toml(tmp_path / "shelf.toml", Shelf, kind="a shelf file")
    assert (found.table.boards, found.table.colour) == (3, "white")
    assert found.sha256 == hashlib.sha256(raw).hexdigest()


def test_what_is_wrong_is_said_in_one_sentence(tmp_path: Path) -> None:
    """Absent, no TOML, no text, and two mistakes at once in the order of the file."""
    path = tmp_path / "shelf.toml"
    with pytest.raises(FormatError, match=r"shelf\.toml: cannot be read .*; name a shelf file"):
        read_toml(path, Shelf, kind="a shelf file")
    path.write_text("boards = ", encoding="utf-8")
    with pytest.raises(FormatError, match=r"shelf\.toml: is not valid TOML"):
        read_toml(path, Shelf, kind="a shelf file")
    path.write_bytes(b"colour = '\xff'")
    with pytest.raises(FormatError, match=r"shelf\.toml: is not valid TOML"):
        read_toml(path, Shelf, kind="a shelf file")
    path.write_text("color = 'red'\nboards = 'three'\n", encoding="utf-8")
    message = r"2 mistakes: line 1, color: there is no such key; did you mean 'colour'\?; line 2, boards: "
    with pytest.raises(FormatError, match=message):
        read_toml(path, Shelf, kind="a shelf file")
