"""The table of formats, what reads a path, and the tests in a folder."""

from __future__ import annotations

import warnings
from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError, FormatError
from correlate.files import absent, first_bytes, unreadable
from correlate.formats import archive, delimited, iso13499
from correlate.formats.columns import layout_for, read_columns_so_far
from correlate.formats.recording import Format, FormatWarning
from correlate.formats.text import looks_like_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from correlate.formats.columns import ColumnLayout
    from correlate.formats.recording import Recording


GROUP: Final = "correlate.formats"
"""Entry-point group in which others offer a `Format`."""

FORMATS: Final[tuple[Format, ...]] = (archive.FORMAT, iso13499.FORMAT, delimited.FORMAT)
"""Built in. Delimited text comes last, because it recognises any text."""


def list_formats() -> tuple[Format, ...]:
    """Return all formats in the order in which they are asked whether they recognise a file.

    Returns
    -------
    tuple of Format
        Those others added come first: whoever installs one wants it used.

    Warns
    -----
    FormatWarning
        An added format cannot be loaded, is no `Format`, or has the name of another.

    Examples
    --------
    >>> list_formats()[-1].name
    'delimited text'
    """
    return (*_added_formats(), *FORMATS)


def read(path: str | Path, layouts: Iterable[ColumnLayout] = ()) -> Recording:
    """Read a file or test folder of any known format.

    Parameters
    ----------
    path
        File or folder.
    layouts
        Of text files that no format describes; the one that is for the name of the file is used. Test
        folders and files that are no text are read as what they are.

    Returns
    -------
    Recording

    Raises
    ------
    FormatError
        It is missing, empty, may not be read, is of no known format, or breaks the rules of its format.
    UnfinishedError
        By its layout, the run that wrote it is not finished.
    SettingsError
        Several layouts are for it.
    ChannelError, UnitError, SignalError
        See the formats.

    Warns
    -----
    FormatWarning
        A format that someone added fails to say whether it recognises the file.
    """
    return read_so_far(path, layouts).finished()


def read_so_far(path: str | Path, layouts: Iterable[ColumnLayout] = ()) -> Recording:
    """Read a file or test folder as `read` does, text as far as it is written."""
    path = Path(path)
    _check_readable(path)
    layout = layout_for(path, layouts) if path.is_file() and looks_like_text(first_bytes(path)) else None
    if layout is not None:
        return read_columns_so_far(path, layout)
    for candidate in list_formats():
        if _recognises(candidate, path):
            return _read_as(candidate, path)
    raise _unknown(path)


def _check_readable(path: Path) -> None:
    try:
        is_folder = path.is_dir()
        is_file = path.is_file()
        size = path.stat().st_size
    except OSError as error:
        raise unreadable(path, error) from error
    if is_folder:
        return
    if not is_file:
        raise _no_file(path)
    if size == 0:
        raise FormatError("the file is empty", where=str(path), remedy="export it again")
    first_bytes(path, 1)


def _no_file(path: Path) -> FormatError:
    return FormatError("this is neither a file nor a folder", where=str(path), remedy="name a file")


def _recognises(candidate: Format, path: Path) -> bool:
    try:
        return bool(candidate.recognises(path))
    except CorrelateError:
        raise
    except OSError as error:
        raise unreadable(path, error) from error
    except Exception as error:  # noqa: BLE001 - one broken addition must not stop the others
        _warn_about(candidate.name, error)
        return False


def _read_as(candidate: Format, path: Path) -> Recording:
    try:
        return candidate.read(path)
    except CorrelateError:
        raise
    except Exception as error:
        if candidate in FORMATS:
            raise
        raise FormatError(
            f"the added format '{candidate.name}' failed ({type(error).__name__}: {error})",
            where=str(path),
            remedy="tell its author, or remove it",
        ) from error


def _unknown(path: Path) -> FormatError:
    if path.is_dir():
        return FormatError(
            "this folder is not a test, because it has no .mme file",
            where=str(path),
            remedy="name the test folder, a zip file of it, or a text file",
        )
    kind = (
        "text of no known format" if looks_like_text(first_bytes(path)) else "binary and of no known format"
    )
    return FormatError(
        f"the file is {kind}", where=str(path), remedy="'correlate formats' lists what can be read"
    )


@lru_cache(maxsize=1)
def _added_formats() -> tuple[Format, ...]:
    """Load what others offer, once in the life of the process."""
    taken = {known.name for known in FORMATS}
    added: list[Format] = []
    for entry in entry_points(group=GROUP):
        loaded = _loaded(entry)
        if loaded is None:
            continue
        if loaded.name in taken:
            _warn_about(entry.name, ValueError(f"there is a format '{loaded.name}' already"))
            continue
        taken.add(loaded.name)
        added.append(loaded)
    return tuple(added)


def _loaded(entry: EntryPoint) -> Format | None:
    try:
        loaded = entry.load()
    except Exception as error:  # noqa: BLE001 - one broken addition must not stop the others
        _warn_about(entry.name, error)
        return None
    if not isinstance(loaded, Format):
        _warn_about(entry.name, TypeError(f"{entry.value} is not a correlate.formats.Format"))
        return None
    return loaded


def _warn_about(name: str, error: Exception) -> None:
    warnings.warn(
        f"the added format '{name}' does not work and is skipped ({type(error).__name__}: {error})",
        FormatWarning,
        stacklevel=2,
    )


DEEPEST: Final = 4
"""Folders below a named one that are looked into."""
_SUFFIXES: Final = frozenset({".csv", ".tsv", ".zip"})


def tests_in(
    paths: Iterable[Path],
    layouts: Sequence[ColumnLayout] = (),  # noqa: PT028 - no test, in spite of its name
) -> list[Path]:
    """Return the tests that paths stand for.

    Parameters
    ----------
    paths
        Files are taken as they are. A folder with an ``.mme`` file is a test; any other folder is searched
        for test folders and for ``.csv``, ``.tsv`` and ``.zip`` files.
    layouts
        Files in these folders that one of them names are tests too.

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
        tests = sorted(_search(path, DEEPEST, layouts)) if path.is_dir() else [path]
        if not path.exists():
            raise absent(path)
        if not (path.is_dir() or path.is_file()):
            raise _no_file(path)
        if not tests:
            raise FormatError(
                "there is no test in this folder",
                where=str(path),
                remedy="name a folder with an .mme file, a folder of such folders, or a text file",
            )
        found |= dict.fromkeys(tests)
    return list(found)


def _search(folder: Path, depth: int, layouts: Sequence[ColumnLayout]) -> Iterator[Path]:
    entries = [entry for entry in folder.iterdir() if not entry.name.startswith(".")]
    endings = {entry.suffix.lower() for entry in entries}
    if ".mme" in endings:
        yield folder
        return
    if ".chn" in endings:
        # Whoever reads it says that the .mme file of the test is missing.
        yield folder.parent if folder.name.lower() == "channel" else folder
        return
    for entry in entries:
        if entry.is_dir() and depth > 0:
            yield from _search(entry, depth - 1, layouts)
        elif entry.is_file() and (
            entry.suffix.lower() in _SUFFIXES or any(one.files and one.describes(entry) for one in layouts)
        ):
            yield entry
