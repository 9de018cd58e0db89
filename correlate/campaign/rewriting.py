"""Changes of a campaign file: one at a time, comments and order kept, checked, whole or not at all."""

from __future__ import annotations

import contextlib
import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, InlineTable

from correlate.campaign.proposals import planned_channel
from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.evaluation.book import expand
from correlate.evaluation.book.entries import Origin, entries
from correlate.evaluation.definition import Campaign, campaign_of, load_campaign, read_file
from correlate.evaluation.tables import Release
from correlate.files import turn, unwritable, whole_file, whole_folder
from correlate.reference.package.listing import blocks, opened_bag
from correlate.spelling import look_of, unclear
from correlate.toml import parse_text, toml_entry

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from correlate.campaign.partners import Proposal
    from correlate.evaluation.tables import LoadCase
    from correlate.files import FileSource
    from correlate.toml import KeyPath


def rewrite_campaign(path: Path, change: Callable[[str], str]) -> Campaign:
    """Change the text of a campaign file."""
    with _turn(path):
        write_campaign(path, change(_text(path)))
    return load_campaign(path)


def with_change(path: Path, change: Callable[[str], str]) -> tuple[str, str, Campaign]:
    """Return the text of a campaign file, the text with a change, and the campaign that it would be.

    Nothing is written.
    """
    text = _text(path)
    changed = change(text)
    try:
        return text, changed, campaign_of(parse_text(path, changed))
    except CorrelateError as error:
        raise _with_the_change(error, path) from error


def write_campaign(path: Path, text: str) -> None:
    """Write the text of a campaign file whole, or not at all where it would not load."""
    with whole_file(path) as stream:
        stream.write(text.encode())
        stream.flush()
        _checked(Path(stream.name), path)


def accept_partner(path: str | Path, load_case: str, proposal: Proposal) -> Campaign:
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
    path = Path(path)
    try:
        return rewrite_campaign(path, lambda text: accept(text, load_case, proposal, path))
    except SettingsError as error:
        raise error.located(str(path)) from error


def add_release(path: Path, release: Release) -> Campaign:
    """Write a release at the end of a campaign file; the rest of it stays."""
    words = {"name": release.name, "folder": release.folder, "layout": release.layout, "note": release.note}
    entry = toml_entry("[[release]]", {key: value for key, value in words.items() if value})
    return rewrite_campaign(path, lambda text: f"{text.rstrip()}\n\n{entry}")


def add_tests(text: str, load_case: str, pattern: str) -> str:
    """Add a pattern to the tests of a load case in the text of a campaign file."""
    document, place = _place_of(text, load_case)
    tests = document["load_case"][place].get("tests")
    if not isinstance(tests, Array):
        raise SettingsError(f"load case '{load_case}' has no list of tests", remedy="edit the file")
    tests.append(pattern)
    return tomlkit.dumps(document)


def add_load_case(
    text: str,
    words: Mapping[str, Any],
    channels: Sequence[str],
    path: Path = Path("campaign.toml"),
) -> str:
    """Add a load case with some channels behind the last one in the text of a campaign file.

    A channel of the channel book is taken from there; any other is planned as is usual for its code.
    """
    document = _document(text)
    files = expand(parse_text(path, text)).files
    sources = [*files.books, files.main]
    book = {one.name for file in sources for one in entries(file.content, "channel", Origin(file, ()))}
    picked = [name for name in channels if name in book]
    own = [name for name in channels if name not in book]
    _append(document, "load_case", {**words, **({"channels": picked} if picked else {})})
    for name in own:
        _append(document["load_case"][-1], "channel", planned_channel(name))
    return tomlkit.dumps(document).rstrip() + "\n"


def _place_of(text: str, load_case: str) -> tuple[tomlkit.TOMLDocument, int]:
    """Return the document, and the index of a load case in it."""
    document = _document(text)
    cases = document.get("load_case", ())
    place = next((place for place, one in enumerate(cases) if one.get("name") == load_case), None)
    if place is None:
        raise SettingsError(f"there is no load case '{load_case}' in the file", remedy="correct the name")
    return document, place


def accept(text: str, load_case: str, proposal: Proposal, path: Path = Path("campaign.toml")) -> str:
    """Write a proposal into the text of a campaign file, which includes other files relative to its path.

    A channel that the text defines gets its ``model`` there, in the channel book too; one of an included file
    by an override of the load case; any other is added at the end of the load case.
    """
    document, place = _place_of(text, load_case)
    cases = document["load_case"]
    expansion = expand(parse_text(path, text))
    planned = (one for one in expansion.channels.get(place, ()) if one.entry.name == proposal.test)
    channel = next(planned, None)
    found: dict[str, Any] = {"model": proposal.model}
    if proposal.sign < 0:
        # The proposal was made with the sign that is planned already.
        found["model_sign"] = -1 if channel is None else -channel.values.get("model_sign", 1)
    if channel is None:
        if expansion.takes_whole_book(place):
            # Channels of its own would be all that the load case takes.
            cases[place] = _with_keys(cases[place], "name", {"channels": ["*"]})
        _append(cases[place], "channel", {**planned_channel(proposal.test), **found})
        return tomlkit.dumps(document).rstrip() + "\n"
    if channel.values.get("model"):
        raise SettingsError(
            f"channel '{proposal.test}' already has a model",
            where=f"load case '{load_case}'",
            remedy="edit the file",
        )
    origin = channel.entry.origin
    if origin.file.path != path or channel.is_overridden(found):
        _append(cases[place], "override", {"test": proposal.test, **found})
        return tomlkit.dumps(document).rstrip() + "\n"
    _complete(document, origin.key, found)
    return tomlkit.dumps(document)


def _complete(document: tomlkit.TOMLDocument, key: KeyPath, found: Mapping[str, Any]) -> None:
    """Give the channel at a place of a file further keys."""
    channels: Any = document
    for part in key[:-1]:
        channels = channels[part]
    channel = channels[key[-1]]
    if isinstance(channel, InlineTable):
        channel.update(found)
    else:
        channels[key[-1]] = _with_keys(channel, "test", found)


def _document(text: str) -> tomlkit.TOMLDocument:
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise FormatError(f"is not valid TOML: {error}", remedy="correct the line") from error
    if tomlkit.dumps(document) != text:
        raise SettingsError(
            "the load cases do not stand one after another", remedy="put them together, or edit the file"
        )
    return document


def _with_keys(table: Any, after: str, more: Mapping[str, Any]) -> Any:
    """Return a table of the file with further keys behind one of it, above the comments that follow."""
    longer = tomlkit.table()
    for key, item in table.value.body:
        if key is None:
            longer.add(item)
        elif key.key not in more:
            longer.append(key, item)
        if key is not None and key.key == after:
            for name, value in more.items():
                longer.append(name, value)
    return longer


def _append(parent: Any, name: str, words: Mapping[str, Any]) -> None:
    """Add an entry to an array of tables, with an empty line around it."""
    if name not in parent:
        parent[name] = tomlkit.aot()
    entries = parent[name]
    if entries and not entries[-1].as_string().endswith("\n\n"):
        entries[-1].add(tomlkit.nl())
    table = tomlkit.table()
    for key, value in words.items():
        table.append(key, value)
    table.add(tomlkit.nl())
    entries.append(table)


@contextlib.contextmanager
def _turn(path: Path) -> Iterator[None]:
    """Wait until nobody else changes the file, so that of two changes at once none is lost."""
    with contextlib.ExitStack() as held:
        try:
            held.enter_context(turn(path.parent))
        except OSError as error:
            raise unwritable(path, error) from error
        yield


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
        raise _with_the_change(error, path) from error


def _with_the_change(error: CorrelateError, path: Path) -> FormatError:
    return FormatError(f"with the change, {error.what}", where=str(path), remedy=error.remedy)


MOST_BYTES: Final = 2**33
"""Most bytes that the results of a release may unpack to, unless the caller says less."""

LONGEST_NAME: Final = 60
"""Characters of the name of a release that is also a folder."""

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
    most_bytes: int = MOST_BYTES,
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
    release = _release(campaign, name, note)
    folder = campaign.folder / release.folder
    with opened_bag(archive, most_bytes=most_bytes) as source:
        present = [case for case in campaign.load_cases if _file_of(case, release) in source.files]
        if not present:
            expected = ", ".join(f"'{_file_of(case, release)}'" for case in campaign.load_cases[:3])
            raise FormatError(
                "it contains no result of a load case",
                where=archive.name,
                remedy=f"expected are {expected} …",
            )
        with whole_folder(folder) as beside:
            _unpack(source, beside, progress)
            _read_all(campaign, release, present, beside, progress)
    try:
        add_release(campaign_file, release)
    except CorrelateError:
        # Without its line in the file the folder would be results of nothing.
        shutil.rmtree(folder, ignore_errors=True)
        raise
    read = tuple(case.name for case in present)
    missing = tuple(case.name for case in campaign.load_cases if case.name not in read)
    return ReceivedResults(release=release, files=len(source.files), read=read, missing=missing)


def _release(campaign: Campaign, name: str, note: str) -> Release:
    if not re.fullmatch(r"[^\W_][\w.+-]*", name) or len(name) > LONGEST_NAME:
        raise SettingsError(
            f"'{name[:LONGEST_NAME]}' is not a valid release name",
            remedy=f"use up to {LONGEST_NAME} letters, digits and '.+-_', a letter or digit first",
        )
    if reason := unclear(name):
        raise SettingsError(f"the release name {name!r} {reason}", remedy="type it again")
    folder = campaign.folder / _FOLDER
    taken = {look_of(one.name) for one in campaign.releases}
    if folder.is_dir():
        taken |= {look_of(path.name) for path in folder.iterdir()}
    if look_of(name) in taken:
        raise SettingsError(f"there is a release '{name}' already", remedy="choose another name")
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
            # The place where it was read is gone a moment later; people know the name in the archive.
            where = error.where.replace(f"{folder}/", "")
            raise type(error)(error.what, where=where or file, remedy=error.remedy) from error
