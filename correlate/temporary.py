"""Temporary files and folders beside their target, and the removal of those that killed programs left.

A program locks each of its temporary files and folders while it works on it, and a lock ends with its
program, however that ends. What nobody locks was left behind: the next program that writes into the same
folder removes it. Where folders cannot be locked, as on Windows, nothing is removed.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import uuid
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from filelock import lock_descriptor

if TYPE_CHECKING:
    from collections.abc import Iterator

_NAME: Final = re.compile(r"\..+\.[0-9a-f]{12}\.part", re.DOTALL)
_CAN_LOCK: Final = os.name == "posix"


@contextmanager
def temporary_file(path: Path) -> Iterator[tuple[Path, BinaryIO]]:
    """Create a file beside a path, open for writing; if it is still there at the end, it is removed.

    Parameters
    ----------
    path
        Of the file that it is to replace.

    Yields
    ------
    tuple
        Its path, and the open file.

    Raises
    ------
    OSError
        The system refuses.
    """
    remove_abandoned(path.parent)
    while True:
        beside = _beside(path)
        try:
            with beside.open("xb") as stream, _held(stream.fileno()) as held:
                if _is_ours(beside, held):
                    yield beside, stream
                    return
        finally:
            with suppress(OSError):
                beside.unlink(missing_ok=True)


@contextmanager
def temporary_folder(path: Path) -> Iterator[Path]:
    """Create a folder beside a path; it is removed at the end, if it is still there.

    Parameters
    ----------
    path
        Of the folder that it is to become, or that it is for.

    Yields
    ------
    Path
        Of the new, empty folder.

    Raises
    ------
    OSError
        The system refuses.
    """
    remove_abandoned(path.parent)
    while True:
        beside = _beside(path)
        beside.mkdir(parents=True)
        try:
            descriptor = os.open(beside, os.O_RDONLY) if _CAN_LOCK else None
        except FileNotFoundError:
            continue
        try:
            if _is_ours(beside, descriptor):
                yield beside
                return
        finally:
            shutil.rmtree(beside, ignore_errors=True)
            if descriptor is not None:
                os.close(descriptor)


def remove_abandoned(folder: Path) -> None:
    """Remove temporary files and folders that no program works on any more; what cannot be removed stays."""
    if not _CAN_LOCK:
        return
    with suppress(OSError), os.scandir(folder) as entries:
        found = [Path(entry.path) for entry in entries if _NAME.fullmatch(entry.name)]
        for one in found:
            with suppress(OSError):
                _remove_unless_held(one)


def _remove_unless_held(path: Path) -> None:
    # Neither through a link nor waiting for the other end of a pipe.
    descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    try:
        kind = os.fstat(descriptor).st_mode
        if not (stat.S_ISREG(kind) or stat.S_ISDIR(kind)) or not lock_descriptor(descriptor, blocking=False):
            return
        if stat.S_ISDIR(kind):
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink()
    finally:
        os.close(descriptor)


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")


@contextmanager
def _held(descriptor: int) -> Iterator[int | None]:
    """Keep an open file beyond its end for Python, as its lock must outlast the renaming; not on Windows."""
    if not _CAN_LOCK:
        yield None
        return
    held = os.dup(descriptor)
    try:
        yield held
    finally:
        os.close(held)


def _is_ours(path: Path, descriptor: int | None) -> bool:
    """Lock what was just created; say whether nobody removed it before that."""
    if descriptor is None:
        return True
    try:
        if not lock_descriptor(descriptor, blocking=False):
            return False
    except OSError:
        # A file system without locks: others cannot lock it either, and leave it alone.
        return True
    try:
        return os.path.samestat(os.fstat(descriptor), path.stat())
    except FileNotFoundError:
        return False
