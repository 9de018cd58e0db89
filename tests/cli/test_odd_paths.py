"""Odd paths: every command that takes one answers with a sentence and exit code 2."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
import pytest
from click.types import Path as PathType

from correlate.cli.entry import group

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.cli.conftest import Outcome

# No system passes a NUL to a program; in files it is refused by tests/toml.
ODD: Final = {
    "300 characters": "a" * 300,
    "10,000 characters": "a/" * 5000,
    "below a file": "file.txt/below",
    "a folder": "folder",
    "absent": "absent",
    "control characters": "a\x1b[2J\x07\r.csv",
    "no Unicode": os.fsdecode(b"a\xff.csv"),
    "a link to itself": "loop",
    "only spaces": " ",
    "a pipe": "pipe",
    "a device": "endless",
}

STARTS_A_PROGRAM: Final = {"serve", "account", "demo"}
"""Their options belong to other programs, or they work for minutes."""


def commands(found: click.Command = group, name: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the words of every command that takes a path."""
    if isinstance(found, click.Group):
        for word in found.list_commands(click.Context(found)):
            inner = found.get_command(click.Context(found), word)
            if inner is not None and word not in STARTS_A_PROGRAM:
                yield from commands(inner, (*name, word))
    elif any(isinstance(one.type, PathType) for one in found.params):
        yield name


def command_of(words: tuple[str, ...]) -> click.Command:
    """Return a command by its words."""
    found: click.Command = group
    for word in words:
        assert isinstance(found, click.Group)
        inner = found.get_command(click.Context(found), word)
        assert inner is not None
        found = inner
    return found


def arguments(command: click.Command, path: str) -> list[str]:
    """Give this path wherever the command needs one, and something plausible for all else it needs.

    A command that needs none gets it as its first option that takes one.
    """
    given: list[str] = []
    for one in command.params:
        value = path if isinstance(one.type, PathType) else "word"
        if isinstance(one.type, click.IntRange | click.types.IntParamType):
            value = "1"
        elif isinstance(one.type, click.Choice):
            value = str(one.type.choices[0])
        if isinstance(one, click.Argument):
            given += [value] * max(1, one.nargs) if one.required else []
        elif one.required:
            given += [one.opts[0], value]
    if path not in given:
        given += [next(one.opts[0] for one in command.params if isinstance(one.type, PathType)), path]
    return given


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("words", [*commands()], ids=" ".join)
def test_odd_paths_are_answered_in_a_sentence(
    correlate: Callable[..., Outcome],
    words: tuple[str, ...],
    kind: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No traceback, nothing written, and no character that a terminal would obey."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CORRELATE_KEY_PASSPHRASE", "a passphrase of a laboratory")
    Path("file.txt").touch()
    Path("folder").mkdir()
    Path("loop").symlink_to("loop")
    Path("endless").symlink_to("/dev/zero")
    os.mkfifo("pipe")
    before = sorted(Path().rglob("*"))
    outcome = correlate(*words, *arguments(command_of(words), ODD[kind]))
    if (words, kind) == (("key",), "absent"):
        assert outcome.code == 0  # a good name for a new key
        return
    assert outcome.code == 2, outcome
    assert outcome.err.startswith(("correlate: ", "Usage: ")), outcome
    assert not {"\x1b", "\x07", "\r", "\0"} & set(outcome.out + outcome.err)
    assert sorted(Path().rglob("*")) == before
