"""The folder for the state of programs, outside every project and private to the user who runs them.

A project may come from somebody else, with whatever they put into it. What decides what a program does, such
as the jobs of a server, therefore lies elsewhere, in a folder that only this user can change.
"""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterator

STATE_VARIABLE: Final = "XDG_STATE_HOME"
"""Variable of the environment that names the folder for the state of programs."""
CACHE_VARIABLE: Final = "XDG_CACHE_HOME"
"""The same for what can be deleted at any time, because it can be computed again."""

_OTHERS_WRITE: Final = stat.S_IWGRP | stat.S_IWOTH
_MOST_STEPS: Final = 1000
"""On the way to a folder, links included; more is a circle of links."""


def project_state_folder(project: Path, purpose: str) -> Path:
    """Return where the state of a project lies: a different folder for each absolute path of a project.

    Parameters
    ----------
    project
        Its folder.
    purpose
        As for :func:`state_folder`.
    """
    return state_folder(str(project.resolve()), purpose)


def state_folder(owner: str, purpose: str) -> Path:
    """Return where the state of something lies, by the XDG Base Directory Specification; nothing is created.

    Parameters
    ----------
    owner
        Whose state it is; each has another place.
    purpose
        What is kept there, such as ``jobs``.

    Returns
    -------
    Path

    Raises
    ------
    CorrelateError
        This user has no home folder.
    """
    return _base(STATE_VARIABLE, ".local/state") / purpose / _name_of(owner)


def project_cache_folder(project: Path) -> Path | None:
    """Return the folder for what is computed once for a project and can be deleted at any time.

    It is created where it is absent. A project may come from somebody else, with forged results of a
    computation in it, so the folder is never inside the project.

    Parameters
    ----------
    project
        Its folder.

    Returns
    -------
    Path or None
        None where there is no folder that only this user can change: the program then works without.
    """
    try:
        folder = _base(CACHE_VARIABLE, ".cache") / _name_of(str(project.resolve()))
        refuse_inside(folder, project)
        private_folder(folder)
    except (CorrelateError, OSError):
        return None
    return folder


def cache_folder(purpose: str) -> Path:
    """Return the private folder for what is kept for all projects of a user; it is created where absent.

    Parameters
    ----------
    purpose
        What is kept there, such as ``objects``.

    Raises
    ------
    CorrelateError
        There is no folder that only this user can change.
    """
    folder = _base(CACHE_VARIABLE, ".cache") / purpose
    private_folder(folder)
    return folder


def _base(variable: str, usual: str) -> Path:
    """Return the folder of this program that the environment names, or the default."""
    named = os.environ.get(variable, "")
    try:
        # The specification: a path that is not absolute is ignored.
        base = Path(named) if Path(named).is_absolute() else Path.home() / usual
    except RuntimeError as error:
        raise CorrelateError(
            "this user has no home folder", remedy=f"set {variable} to a folder of this user"
        ) from error
    return base / "correlate"


def _name_of(owner: str) -> str:
    return hashlib.sha256(os.fsencode(owner)).hexdigest()[:32]


def refuse_inside(folder: Path, project: Path) -> None:
    """Refuse a folder that lies inside a project, by whatever path."""
    if folder.resolve().is_relative_to(project.resolve()):
        raise CorrelateError(
            "this folder is inside the project, and a project may come from somebody else",
            where=str(folder),
            remedy=f"choose a folder outside of {project}",
        )


def private_folder(folder: Path) -> None:
    """Create a folder that only this user can read, or check that nobody else can change the present one.

    Raises
    ------
    CorrelateError
        It cannot be created; it belongs to somebody else, or others can write to it; others can replace it or
        a link on the way to it.
    """
    try:
        for missing in [one for one in reversed([folder, *folder.parents]) if not one.exists()]:
            missing.mkdir(mode=0o700, exist_ok=True)
        if os.name == "posix":
            check_own(folder)
            _check_way(folder)
    except OSError as error:
        raise CorrelateError(
            f"this folder cannot be used ({error.strerror})",
            where=str(folder),
            remedy="choose another one, or ask for write permission",
        ) from error


def check_own(path: Path) -> None:
    """Refuse a file or folder of another user, or that others can write to; a file must be no link.

    A file that is not there is accepted; on Windows, permissions are not looked at.
    """
    if os.name != "posix":
        return
    try:
        seen = path.stat() if path.is_dir() else path.lstat()
    except FileNotFoundError:
        return
    if not (stat.S_ISREG(seen.st_mode) or stat.S_ISDIR(seen.st_mode)):
        raise CorrelateError(
            "this is a link or a device, not a file", where=str(path), remedy="delete it; it is created again"
        )
    if seen.st_uid != os.geteuid():
        raise CorrelateError(
            "this belongs to another user of this machine",
            where=str(path),
            remedy="choose another folder, or have its owner delete it",
        )
    if seen.st_mode & _OTHERS_WRITE:
        raise CorrelateError(
            "other users of this machine can write to this",
            where=str(path),
            remedy=f"run: chmod go-w '{path}'",
        )


def _check_way(folder: Path) -> None:
    """Refuse a path on which others could replace a folder."""
    trusted = {0, os.geteuid()}
    for step in _way(folder):
        seen = step.lstat()
        if stat.S_ISLNK(seen.st_mode):
            if seen.st_uid not in trusted:
                raise CorrelateError(
                    f"'{step}' is a link that belongs to another user",
                    where=str(folder),
                    remedy="choose another folder, or name the folder without the link",
                )
        # In a folder with this bit, such as /tmp, only the owner of an entry can replace it.
        elif seen.st_mode & stat.S_IWOTH and not seen.st_mode & stat.S_ISVTX:
            raise CorrelateError(
                f"every user of this machine can replace what is in '{step}'",
                where=str(folder),
                remedy=f"choose another folder, or run: chmod o-w '{step}'",
            )


def _way(folder: Path) -> Iterator[Path]:
    """Yield every folder and link that the system passes on the way to a folder, itself included."""
    folder = folder.absolute()
    at, left = Path(folder.anchor), [*reversed(folder.parts[1:])]
    for _ in range(_MOST_STEPS):
        yield at
        if not left:
            return
        part = left.pop()
        step = at.parent if part == ".." else at / part
        if step.is_symlink():
            yield step
            target = step.readlink()
            at = Path(target.anchor) if target.is_absolute() else at
            left += reversed(target.parts[1:] if target.is_absolute() else target.parts)
        else:
            at = step
    raise CorrelateError("the links in this path form a loop", where=str(folder), remedy="correct them")
