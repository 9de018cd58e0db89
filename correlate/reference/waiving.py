"""Writing waivers: one line per finding at the end of ``waivers.toml``, the rest of the file as it was."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array

from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.files import turn, unwritable, whole_file
from correlate.plain_files import whole_text
from correlate.reference.finding import WAIVER_FILE, WaiverBook, load_waivers
from correlate.reference.package.releasing import checked_reason, named, refuse_unreadable

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from correlate.reference.finding import Finding


def waive(
    project: str | Path, findings: Sequence[Finding], *, who: str, why: str, day: date | None = None
) -> WaiverBook:
    """Write a waiver for each of some findings into the waivers of a project.

    Parameters
    ----------
    project
        Its folder.
    findings
        Of the data check; those that are waived already are left as they are.
    who, why
        Who answers for them, and the reason.
    day
        Of the decision; None for today.

    Returns
    -------
    WaiverBook
        As it is then.

    Raises
    ------
    SettingsError
        There is no finding, nobody is named, or no reason is given.
    FormatError
        A finding says that data cannot be read, the file holds mistakes, or it cannot be written.
    """
    if not findings:
        raise SettingsError("no finding is selected", remedy="select the findings to waive")
    who, why = named(who), checked_reason(why)
    refuse_unreadable(findings)
    path = Path(project) / WAIVER_FILE
    try:
        with turn(path.parent):
            return _written(path, findings, {"who": who, "date": day or datetime.now(UTC).date(), "why": why})
    except OSError as error:
        raise unwritable(path, error) from error


def _written(path: Path, findings: Sequence[Finding], answer: dict[str, Any]) -> WaiverBook:
    book = load_waivers(path.parent)
    lines = {
        (Path(one.file).stem, one.channel, one.kind): one for one in findings if book.waiver_of(one) is None
    }
    entries = [
        {"test": test, **({"channel": channel} if channel else {}), "finding": kind, **answer}
        for test, channel, kind in lines
    ]
    if not entries:
        return book
    text = _with_entries(whole_text(path) if book.path else "", entries, path)
    with whole_file(path) as stream:
        stream.write(text.encode())
        stream.flush()
        _checked(Path(stream.name), path)
    return load_waivers(path)


def _with_entries(text: str, entries: Sequence[dict[str, Any]], path: Path) -> str:
    """Add entries to the text of a file of waivers, in the form that it has."""
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise FormatError("is not valid TOML", where=str(path), remedy="correct the file") from error
    held: Any = document.setdefault("waivers", tomlkit.array().multiline(multiline=True))
    for entry in entries:
        row = tomlkit.inline_table() if isinstance(held, Array) else tomlkit.table()
        row.update(entry)
        held.append(row)
    return tomlkit.dumps(document).rstrip() + "\n"


def _checked(beside: Path, path: Path) -> None:
    """Refuse a text that holds mistakes, with the name of the file that people know."""
    try:
        load_waivers(beside)
    except CorrelateError as error:
        raise FormatError(f"with the change, {error.what}", where=str(path), remedy=error.remedy) from error
