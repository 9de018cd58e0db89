"""Files of settings that are meant to keep the reader busy are refused at once, in one sentence."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import load_campaign
from correlate.errors import FormatError
from correlate.toml import MOST_MISTAKES, Table, parse_toml, read_toml

if TYPE_CHECKING:
    from pathlib import Path


class Empty(Table):
    """A file without keys."""


EXCESS = {
    "arrays in arrays": ("a = " + "[" * 100_000, "nested too deeply"),
    "tables in tables": ("a = " + "{a=" * 100_000, "nested too deeply"),
    "parts of a key": ("a" + ".a" * 1_000_000 + " = 1", r"a key has more than 16 parts \(at line 1\)"),
    "parts of a header": ("\n[a" + '."b"' * 1_000_000 + "]", r"a key has more than 16 parts \(at line 2\)"),
    "parts in a value": ("b = {a" + " . 'c'" * 500_000 + " = 1}", "a key has more than 16 parts"),
    "keys": ("".join(f"k{number}=1\n" for number in range(300_000)), "more than 200,000 lines and values"),
    "values": ("a = [" + "1," * 300_000 + "]", "more than 200,000 lines and values"),
    "bytes": ("# " + "a" * 2**22, "it is larger than 4 MiB"),
    "digits": ("a = " + "9" * 5000, "a number has thousands of digits"),
    "NUL": ("a = '\0'", "is not valid TOML"),
}


@pytest.mark.parametrize("kind", EXCESS)
def test_excess_is_refused(kind: str, tmp_path: Path) -> None:
    """The sentence names the file, and the line where there is one."""
    path = tmp_path / "a.toml"
    path.write_text(EXCESS[kind][0], encoding="utf-8")
    with pytest.raises(FormatError, match=rf"a\.toml: .*{EXCESS[kind][1]}") as caught:
        parse_toml(path, kind="settings")
    assert len(str(caught.value)) < 500


def test_ordinary_texts_with_dots_pass(tmp_path: Path) -> None:
    """Points in texts and comments, keys of a few parts, long lists."""
    path = tmp_path / "a.toml"
    points = "# " + ". " * 100 + "\nb = 'a, b. c. d. " + "e. " * 10 + "'\nc.d.'e f'.\"g\" = 1\n"
    path.write_text(points + f"d = [{'1.5, ' * 10_000}]\n", encoding="utf-8")
    assert set(parse_toml(path, kind="settings").content) == {"b", "c", "d"}


def test_of_many_mistakes_the_first_are_listed(tmp_path: Path) -> None:
    """Listing and comparing all would take hours."""
    path = tmp_path / "a.toml"
    path.write_text("".join(f"k{number} = 1\n" for number in range(50_000)), encoding="utf-8")
    with pytest.raises(FormatError, match="49,950 more mistakes are not listed") as caught:
        read_toml(path, Empty, kind="settings")
    assert str(caught.value).count("there is no such key") == MOST_MISTAKES


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices in folders are those of Unix")
@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_settings_are_no_pipe_and_no_device(kind: str, tmp_path: Path) -> None:
    """Nobody waits for what is written into a pipe, or reads what never ends."""
    path = tmp_path / "a.toml"
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(FormatError, match=r"a\.toml: cannot be read \(this is a pipe or a device, not a"):
        parse_toml(path, kind="settings")


def test_many_included_files_are_refused(tmp_path: Path) -> None:
    """In one list, or one in the other."""
    path = tmp_path / "campaign.toml"
    path.write_text("include = [" + "'none.toml'," * 5000 + "]", encoding="utf-8")
    with pytest.raises(FormatError, match="more than 200 files are included, or more than 20 deep"):
        load_campaign(path)
    path.write_text("include = ['0.toml']", encoding="utf-8")
    for number in range(2000):
        (tmp_path / f"{number}.toml").write_text(f"include = ['{number + 1}.toml']", encoding="utf-8")
    with pytest.raises(FormatError, match="more than 200 files are included, or more than 20 deep"):
        load_campaign(path)
