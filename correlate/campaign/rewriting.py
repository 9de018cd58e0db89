"""Change a campaign file: locked, validated, atomic."""

from __future__ import annotations

import fcntl
import os
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import tomli_w

from correlate.campaign.acceptance import accept
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.evaluation.definition import Campaign, load_campaign

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate.campaign.proposals import Proposal
    from correlate.evaluation.tables import Release


def rewrite_campaign(path: Path, change: Callable[[str], str]) -> Campaign:
    """Change the text of a campaign file.

    Parameters
    ----------
    path
        The file.
    change
        Text as it is now to text as it shall be. Others who change the file through this function wait
        meanwhile.

    Returns
    -------
    Campaign
        As it is then.

    Raises
    ------
    CorrelateError
        The change is refused, the changed file would hold mistakes, or it cannot be written. The file is as
        it was.
    """
    with _alone(path.parent):
        text = change(_text(path))
        try:
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        except OSError as error:
            raise _unwritable(path, error) from error
        beside = Path(name)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(text)
            _checked(beside, path)
            beside.chmod(path.stat().st_mode & 0o777)
            beside.replace(path)
        except OSError as error:
            raise _unwritable(path, error) from error
        finally:
            beside.unlink(missing_ok=True)
    return load_campaign(path)


def accept_partner(path: Path, load_case: str, proposal: Proposal) -> Campaign:
    """Write an accepted partner of a test channel into a campaign file.

    Parameters
    ----------
    path
        The file.
    load_case
        Name of the load case.
    proposal
        What was accepted.

    Returns
    -------
    Campaign
        As it is then.

    Raises
    ------
    CorrelateError
        The load case is not in the file, the channel already has a model, or the file cannot be written.
    """
    try:
        return rewrite_campaign(path, lambda text: accept(text, load_case, proposal))
    except SettingsError as error:
        raise error.located(str(path)) from error


def add_release(path: Path, release: Release) -> Campaign:
    """Write a release at the end of a campaign file; the rest of it stays.

    Parameters
    ----------
    path
        The file.
    release
        The new one.

    Returns
    -------
    Campaign
        As it is then.

    Raises
    ------
    CorrelateError
        As of :func:`rewrite_campaign`.
    """
    words = {"name": release.name, "folder": release.folder, "layout": release.layout, "note": release.note}
    entry = tomli_w.dumps({key: value for key, value in words.items() if value})
    return rewrite_campaign(path, lambda text: f"{text.rstrip()}\n\n[[release]]\n{entry}")


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder of the file, so that of two changes at once none is lost."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise _unwritable(folder, error) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FormatError("cannot be read", where=str(path), remedy="name a campaign file") from error


def _checked(beside: Path, path: Path) -> None:
    """Refuse a text that is no campaign, with the name of the file that people know."""
    try:
        load_campaign(beside)
    except CorrelateError as error:
        raise FormatError(f"with the change, {error.what}", where=str(path), remedy=error.remedy) from error


def _unwritable(path: Path, error: OSError) -> FormatError:
    said = error.strerror or type(error).__name__
    return FormatError(f"this cannot be changed ({said})", where=str(path), remedy="ask who owns the folder")
