"""Changes of a campaign file: one at a time, comments and order kept, checked, whole or not at all."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, InlineTable

from correlate.campaign.proposals import planned_channel
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.evaluation.book import expand
from correlate.evaluation.book.entries import Origin, entries
from correlate.evaluation.definition import Campaign, campaign_of, load_campaign
from correlate.files import turn, unwritable, whole_file
from correlate.plain_files import whole_text
from correlate.toml import parse_text, toml_entry

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from correlate.campaign.partners import Proposal
    from correlate.evaluation.tables import Release
    from correlate.toml import KeyPath


LONGEST_NAME: Final = 60
"""Characters of the name of a release or load case that is also a folder."""


def check_characters(name: str, words: str) -> None:
    """Refuse a name that cannot be the name of a folder; ``words`` says what it is the name of."""
    if not re.fullmatch(r"[^\W_][\w.+-]*", name) or len(name) > LONGEST_NAME:
        raise SettingsError(
            f"'{name[:LONGEST_NAME]}' is not a valid {words}",
            remedy=f"use up to {LONGEST_NAME} letters, digits and '.+-_', a letter or digit first",
        )


@contextlib.contextmanager
def campaign_turn(path: Path) -> Iterator[None]:
    """Wait until nobody else changes the file, so that simultaneous changes are not lost."""
    with contextlib.ExitStack() as held:
        try:
            held.enter_context(turn(path.parent))
        except OSError as error:
            raise unwritable(path, error) from error
        yield


def rewrite_campaign(path: Path, change: Callable[[str], str]) -> Campaign:
    """Change the text of a campaign file."""
    with campaign_turn(path):
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


def with_release(path: Path, release: Release) -> str:
    """Return the text of a campaign file with a release at its end; the rest of it stays."""
    words = {"name": release.name, "folder": release.folder, "layout": release.layout, "note": release.note}
    entry = toml_entry("[[release]]", {key: value for key, value in words.items() if value})
    return f"{_text(path).rstrip()}\n\n{entry}"


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


def _text(path: Path) -> str:
    try:
        return whole_text(path, encoding="utf-8-sig")
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
