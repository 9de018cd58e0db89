"""A new release: the folder with its results and its line in the campaign file, both or neither."""

from __future__ import annotations

import shutil
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Final

from correlate.campaign.rewriting import campaign_turn, with_release, write_campaign
from correlate.errors import CorrelateError, FormatError
from correlate.evaluation.definition import load_campaign
from correlate.files import unwritable
from correlate.temporary import remove_abandoned, temporary_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate.evaluation.tables import Release

ARRIVING: Final = ".not-in-campaign"
"""Empty file in a folder of results that the campaign file does not name yet."""


@contextmanager
def new_release(campaign_file: Path, release: Release) -> Iterator[Path]:
    """Give an empty folder for the results of a new release, which is added to the campaign after the block.

    If the program is killed in between, the next new release removes what the campaign file does not name.

    Parameters
    ----------
    campaign_file
        The file.
    release
        Its folder, relative to the file, must not exist or be empty.

    Yields
    ------
    Path
        Of the folder, under a temporary name.

    Raises
    ------
    CorrelateError
        The folder holds something, the campaign would not load with the release, or nothing can be written;
        then file and folder are as they were.
    """
    folder = campaign_file.parent / release.folder
    remove_interrupted(campaign_file, folder.parent)
    _refuse_full(folder)
    try:
        with temporary_folder(folder) as beside:
            yield beside
            with campaign_turn(campaign_file):
                _put_in_place(campaign_file, release, beside, folder)
    except OSError as error:
        raise unwritable(folder, error) from error


def _refuse_full(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FormatError("this already exists", where=str(folder), remedy="choose another name")


def _put_in_place(campaign_file: Path, release: Release, beside: Path, folder: Path) -> None:
    """Rename the folder and write the line; without the line, the folder would belong to no release."""
    _refuse_full(folder)
    (beside / ARRIVING).touch()
    beside.replace(folder)
    try:
        write_campaign(campaign_file, with_release(campaign_file, release))
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    (folder / ARRIVING).unlink()


def remove_interrupted(campaign_file: Path, releases: Path) -> None:
    """Remove what a killed program left in a folder of releases: results that the campaign does not name.

    Parameters
    ----------
    campaign_file
        The file.
    releases
        Folder that contains the folders of releases; it need not exist.

    Raises
    ------
    CorrelateError
        The folder of the campaign cannot be used.
    """
    remove_abandoned(releases)
    if not any(releases.glob(f"*/{ARRIVING}")):
        return
    with campaign_turn(campaign_file):
        try:
            campaign = load_campaign(campaign_file)
        except CorrelateError:
            return
        named = {(campaign.folder / one.folder).resolve() for one in campaign.releases}
        for marker in releases.glob(f"*/{ARRIVING}"):
            if marker.parent.resolve() in named:
                with suppress(OSError):
                    marker.unlink()
            elif not marker.parent.is_symlink():
                shutil.rmtree(marker.parent, ignore_errors=True)
