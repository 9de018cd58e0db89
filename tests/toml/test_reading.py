"""Reading a TOML file into its table."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.evaluation.definition import load_campaign
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


CAMPAIGN = """\
[campaign]
titel = "Five rounds of mistakes"

[scoring]
main = "magnitude"

[regions]
head = 2
nck = 1

[[load_case]]
name = "push"
tests = ["push/*"]
interval_ms = [0, 60]
[[load_case.channel]]
test = "force"
region = "head"
cfc = "sixty"

[[load_case]]
name = "turn"
tests = ["turn/*"]
interval_ms = [60, 0]
[[load_case.channel]]
test = "force"
region = "head"

[[load_case]]
name = "pull"
tests = ["pull/*"]
interval_ms = [0, 60]
[[load_case.channel]]
test = "force"
region = "head"
[[load_case.channel]]
test = "force"
region = "head"
cfc = 61

[[release]]
name = "A1"
folder = "a"

[[release]]
name = "A1"
folder = 3
"""


def test_one_round_shows_every_mistake(tmp_path: Path) -> None:
    """Keys, types, values of other tables, checks within a table and between tables."""
    path = tmp_path / "campaign.toml"
    path.write_text(CAMPAIGN, encoding="utf-8")
    with pytest.raises(FormatError) as caught:
        load_campaign(path)
    said = str(caught.value).removeprefix(f"{path}: ").split("; line ")
    for part in (
        "campaign.title: this key is missing",
        "campaign.titel: there is no such key; did you mean 'title'?",
        "scoring: there is no metric 'magnitude'",
        "region 'nck' has a weight but no channel",
        "load_case.channel.cfc: input should be a valid integer",
        "0.06 s to 0 s is not an interval",
        "channel 'force' is listed twice",
        "there is no channel frequency class 61",
        "two entries of one release name: A1",
        "release.folder: input should be a valid string",
    ):
        assert any(part in one for one in said), (part, said)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"boards = {'9' * 5000}", "is not valid TOML: a number has thousands of digits; correct the line"),
        (f"boards = {'[' * 5000}", "is not valid TOML: its values are nested too deeply; correct the line"),
        ('boards = 3\ncolour = "a\\u0000b"', "line 2, colour: the text holds the control character U+0000"),
        ('"a\\u001bb" = 3', "the text holds the control character U+001B; remove it"),
    ],
    ids=["digits", "depth", "NUL", "escape"],
)
def test_what_the_parser_cannot_take(tmp_path: Path, text: str, words: str) -> None:
    """Limits of Python, and characters that no file name and no terminal can take."""
    path = tmp_path / "shelf.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FormatError, match=re.escape(words)):
        read_toml(path, Shelf, kind="a shelf file")


@pytest.mark.parametrize("name", ["a" * 300, "a\0b", ".", "a/" * 3000])
def test_odd_paths(tmp_path: Path, name: str) -> None:
    """Too long, with a NUL, a folder, too deep: none can be read."""
    with pytest.raises(FormatError, match=r"cannot be read \(.*\); name a shelf file"):
        read_toml(tmp_path / name, Shelf, kind="a shelf file")
