"""Which tests a path stands for: a file, a test folder, or a folder that holds tests."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

DEEPEST: Final = 4
"""Folders below a named one that are looked into."""
_SUFFIXES: Final = frozenset({".csv", ".tsv", ".zip"})


def tests_in(paths: Iterable[Path]) -> list[Path]:
    """Return the tests that paths stand for.

    Parameters
    ----------
    paths
        Files are taken as they are. A folder with an ``.mme`` file is a test; any other folder is searched
        for test folders and for ``.csv``, ``.tsv`` and ``.zip`` files.

    Returns
    -------
    list of Path
        Sorted within each path, each once.

    Raises
    ------
    FormatError
        A path is not there, or a folder holds no test.
    """
    found: dict[Path, None] = {}
    for path in paths:
        tests = sorted(_search(path, DEEPEST)) if path.is_dir() else [path]
        if not path.exists():
            raise FormatError("there is no such file", where=str(path), remedy="check the path")
        if not tests:
            raise FormatError(
                "there is no test in this folder",
                where=str(path),
                remedy="name a folder with an .mme file, a folder of such folders, or a text file",
            )
        found |= dict.fromkeys(tests)
    return list(found)


def _search(folder: Path, depth: int) -> Iterator[Path]:
    entries = [entry for entry in folder.iterdir() if not entry.name.startswith(".")]
    if any(entry.suffix.lower() == ".mme" for entry in entries):
        yield folder
        return
    for entry in entries:
        if entry.is_dir() and depth > 0:
            yield from _search(entry, depth - 1)
        elif entry.is_file() and entry.suffix.lower() in _SUFFIXES:
            yield entry
