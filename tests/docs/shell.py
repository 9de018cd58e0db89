"""Runs the commands of a block: ``correlate`` inside the test, so that no program is started for it."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import click

from correlate.cli import main
from correlate.cli.entry import group

if TYPE_CHECKING:
    from tests.docs.blocks import Block

OTHERS = frozenset({"cp", "mkdir", "sed"})
"""Programs of the system that a block may call."""


def commands(block: Block) -> list[list[str]]:
    """Return the words of each command, the reader's own replaced."""
    words = replacements(block.marks.get("where", ""))
    joined = re.sub(r"\\\n\s*", " ", block.text)
    found = []
    for line in joined.splitlines():
        for part in line.split(" && "):
            split = [words.get(word, word) for word in shlex.split(part, comments=True)]
            if split:
                found.append(split)
    return found


def replacements(mark: str) -> dict[str, str]:
    """Take ``WORD = VALUE, …`` apart."""
    return dict(pair.split(" = ", 1) for pair in mark.split(", ")) if mark else {}


def run(block: Block, folder: Path) -> str:
    """Run a block and return what it prints.

    Parameters
    ----------
    block
        Of shell commands.
    folder
        To be in.

    Returns
    -------
    str
        Standard output of all its commands.

    Raises
    ------
    AssertionError
        A command ends with another exit code than 0, or the last one with another than the mark says.
    """
    printed = ""
    todo = commands(block)
    for number, words in enumerate(todo, start=1):
        if words[0] == "cd":
            folder = folder / words[1]
            continue
        code, out, err = _one(_expanded(words, folder), folder)
        expected = int(block.marks.get("exit code", "0")) if number == len(todo) else 0
        assert code == expected, f"{block.place}: {' '.join(words)} ended with {code}\n{err[-2000:]}"
        printed += out
    return printed


def _expanded(words: list[str], folder: Path) -> list[str]:
    """Put the files of a pattern in its place, as a shell does."""
    found: list[str] = []
    for word in words:
        matches = sorted(str(path.relative_to(folder)) for path in folder.glob(word)) if "*" in word else []
        found += matches or [word]
    return found


def _one(words: list[str], folder: Path) -> tuple[int, str, str]:
    program = Path(words[0]).name
    if program == "correlate":
        return _correlate(words[1:], folder)
    if program == "python":
        words = [sys.executable, *words[1:]]
    elif program not in OTHERS:
        raise AssertionError(f"a block calls '{program}', which this test does not run; mark the block")
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def _correlate(arguments: list[str], folder: Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["correlate", *arguments]),
        # One process: starting others costs more than the little that is rated here.
        mock.patch("os.cpu_count", return_value=1),
        contextlib.chdir(folder),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as stop:
            return int(stop.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def unknown_options(words: list[str]) -> list[str]:
    """Return what a ``correlate`` command says that the program does not know: the command, or options of it.

    Parameters
    ----------
    words
        Of the command, ``correlate`` left out.

    Returns
    -------
    list of str
    """
    command: click.Command = group
    rest = list(words)
    while isinstance(command, click.Group) and rest and not rest[0].startswith("-"):
        found = command.get_command(click.Context(command), rest[0])
        if found is None:
            return [rest[0]]
        command = found
        rest = rest[1:]
    if command.context_settings.get("ignore_unknown_options"):
        # It hands everything on to a separate program, which knows its options.
        return []
    known = {name for option in command.params for name in (*option.opts, *option.secondary_opts)}
    known |= {"--help", "-h", "--version"}
    return [word for word in rest if word.startswith("--") and word.split("=")[0] not in known]
