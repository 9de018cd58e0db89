"""Changing a campaign file: one at a time, comments and order kept, checked, whole or not at all."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.files import turn, unwritable, whole_file
from correlate.toml import toml_entry

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from correlate.campaign.proposals import Proposal
    from correlate.evaluation.tables import Release

REGIONS: Final[dict[str, str]] = {
    "HEAD": "head",
    "NECK": "neck",
    "CHST": "thorax",
    "THSP": "thorax",
    "LUSP": "lumbar",
    "PELV": "pelvis",
    "FEMR": "leg",
    "KNEE": "leg",
    "TIBI": "leg",
    "SEAT": "seat",
    "PEND": "impactor",
}
"""Body region that a main location counts for when nobody said otherwise. Chosen here."""

USUAL_CLASS: Final[dict[tuple[str, str], int]] = {
    ("HEAD", "AC"): 1000,
    ("NECK", "FO"): 1000,
    ("NECK", "MO"): 600,
    ("CHST", "AC"): 180,
    ("CHST", "DS"): 180,
    ("THSP", "AC"): 180,
    ("PELV", "AC"): 1000,
    ("FEMR", "FO"): 600,
    ("LUSP", "FO"): 1000,
    ("PEND", "AC"): 180,
    ("PEND", "FO"): 180,
    ("SEAT", "AC"): 60,
}
"""Usual channel frequency classes (SAE J211-1, from memory; lumbar and seat: common practice, no source)."""


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
    with _turn(path):
        text = change(_text(path))
        with whole_file(path) as stream:
            stream.write(text.encode())
            stream.flush()
            _checked(Path(stream.name), path)
    return load_campaign(path)


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
    try:
        return rewrite_campaign(Path(path), lambda text: accept(text, load_case, proposal))
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
    entry = toml_entry("[[release]]", {key: value for key, value in words.items() if value})
    return rewrite_campaign(path, lambda text: f"{text.rstrip()}\n\n{entry}")


def accept(text: str, load_case: str, proposal: Proposal) -> str:
    """Write a proposal into the text of a campaign file.

    A channel that is planned already gets its ``model``; any other is added at the end of its load case.

    Parameters
    ----------
    text
        The file.
    load_case
        Name of the load case.
    proposal
        What was accepted.

    Returns
    -------
    str
        The file with the keys added; everything else as it was.

    Raises
    ------
    SettingsError
        The load case is not in the file, or the channel has a model already.
    """
    document = _document(text)
    case = next((one for one in document.get("load_case", ()) if one.get("name") == load_case), None)
    if case is None:
        raise SettingsError(f"there is no load case '{load_case}' in the file", remedy="correct the name")
    found: dict[str, Any] = {"model": proposal.model}
    if proposal.sign < 0:
        found["model_sign"] = -1
    channels = case.get("channel", ())
    for index, channel in enumerate(channels):
        if channel.get("test") == proposal.test:
            if "model" in channel:
                raise SettingsError(
                    f"channel '{proposal.test}' has a model already",
                    where=f"load case '{load_case}'",
                    remedy="edit the file",
                )
            channels[index] = _with_keys(channel, "test", found)
            return tomlkit.dumps(document)
    _append(case, "channel", {**planned_channel(proposal.test), **found})
    return tomlkit.dumps(document).rstrip() + "\n"


def planned_channel(test: str) -> dict[str, Any]:
    """Return how a test channel is planned that is not yet: code, region, usual frequency class."""
    code = ChannelCode(test) if is_channel_code(test) else None
    planned: dict[str, Any] = {
        "test": test,
        "region": REGIONS.get(code.main_location, "other") if code else "other",
    }
    usual = USUAL_CLASS.get((code.main_location, code.dimension)) if code else None
    if usual is not None:
        planned["cfc"] = usual
    return planned


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
        longer.add(item) if key is None else longer.append(key, item)
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
        raise FormatError(f"with the change, {error.what}", where=str(path), remedy=error.remedy) from error
