"""Uploaded results of a release: unpacked, read, and added to the campaign, completely or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.campaign.new_release import new_release, remove_interrupted
from correlate.campaign.rewriting import check_characters
from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.evaluation.definition import load_campaign, read_file
from correlate.evaluation.tables import Release
from correlate.limits import MOST_RESULTS
from correlate.reference.package.listing import blocks, opened_bag
from correlate.spelling import is_taken, unclear

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase
    from correlate.files import FileSource

LONGEST_NOTE: Final = 200
"""Characters of a note."""

_FOLDER: Final = "releases"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivedResults:
    """The results of a release that is in the campaign now.

    Attributes
    ----------
    release
        As the campaign file names it.
    files
        How many were unpacked.
    read
        Load cases whose result was read.
    missing
        Load cases without a result; their pairs cannot be rated.
    """

    release: Release
    files: int
    read: tuple[str, ...]
    missing: tuple[str, ...]


def receive_results(
    campaign_file: str | Path,
    archive: str | Path,
    *,
    name: str,
    note: str = "",
    most_bytes: int = MOST_RESULTS,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> ReceivedResults:
    """Unpack the results of a release beside their place, read them all, and only then make it a release.

    Parameters
    ----------
    campaign_file
        The file.
    archive
        Zip file with the result files of the load cases, as the campaign names them, perhaps in one folder.
    name
        Of the new release, and of its folder under ``releases``.
    note
        Text for display.
    most_bytes
        Most that the archive may unpack to.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work.

    Returns
    -------
    ReceivedResults

    Raises
    ------
    CorrelateError
        The name is none or is taken, the archive is not to be trusted, holds no result of a load case, or
        one that cannot be read. Nothing is kept then, and the campaign file is as it was.
    """
    campaign_file, archive = Path(campaign_file), Path(archive)
    campaign = load_campaign(campaign_file)
    remove_interrupted(campaign.path, campaign.folder / _FOLDER)
    release = _release(campaign, name, note)
    with opened_bag(archive, most_bytes=most_bytes) as source:
        present = [case for case in campaign.load_cases if _file_of(case, release) in source.files]
        if not present:
            expected = ", ".join(f"'{_file_of(case, release)}'" for case in campaign.load_cases[:3])
            raise FormatError(
                "it contains no result of a load case",
                where=archive.name,
                remedy=f"expected: {expected} …",
            )
        with new_release(campaign.path, release) as beside:
            _unpack(source, beside, progress)
            _read_all(campaign, release, present, beside, progress)
    read = tuple(case.name for case in present)
    missing = tuple(case.name for case in campaign.load_cases if case.name not in read)
    return ReceivedResults(release=release, files=len(source.files), read=read, missing=missing)


def _release(campaign: Campaign, name: str, note: str) -> Release:
    check_characters(name, "release name")
    if reason := unclear(name):
        raise SettingsError(f"the release name {name!r} {reason}", remedy="type it again")
    folder = campaign.folder / _FOLDER
    folders = folder.iterdir() if folder.is_dir() else ()
    if is_taken(name, [one.name for one in (*campaign.releases, *folders)]):
        raise SettingsError(f"a release '{name}' already exists", remedy="choose another name")
    if len(note) > LONGEST_NOTE:
        raise SettingsError(f"the note has {len(note)} characters", remedy=f"use up to {LONGEST_NOTE}")
    return Release(name=name, folder=f"{_FOLDER}/{name}", note=" ".join(note.split()))


def _file_of(case: LoadCase, release: Release) -> str:
    return case.model_file.replace("{load_case}", case.name).replace("{release}", release.name)


def _unpack(source: FileSource, folder: Path, progress: Callable[[float, str], None]) -> None:
    for done, name in enumerate(source.files):
        progress(0.5 * done / len(source.files), "unpacking")
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        with target.open("xb") as stream:
            for block in blocks(source, name):
                stream.write(block)


def _read_all(
    campaign: Campaign,
    release: Release,
    cases: list[LoadCase],
    folder: Path,
    progress: Callable[[float, str], None],
) -> None:
    for done, case in enumerate(cases):
        progress(0.5 + 0.5 * done / len(cases), f"reading {case.title or case.name}")
        file = _file_of(case, release)
        try:
            read_file(folder / file, campaign.model_layout(release, case))
        except CorrelateError as error:
            # The temporary folder is removed afterwards; users know the name in the archive.
            where = error.where.replace(f"{folder}/", "")
            raise type(error)(error.what, where=where or file, remedy=error.remedy) from error
