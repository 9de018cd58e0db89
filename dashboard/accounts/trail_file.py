"""Exports of the audit trail: files to be saved elsewhere, with which a trail is compared later."""

from __future__ import annotations

import json
from itertools import zip_longest
from typing import TYPE_CHECKING, Any, Final

from correlate import CorrelateError
from correlate.files import opened, whole_file
from dashboard.accounts.chain import BEGINNING, HASHED, canonical, entry_hash

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

_KEYS: Final = {*HASHED, "previous", "hash"}

_LONGEST_LINE: Final = 1_000_000
"""Bytes; entries are cut at far less."""

_REMEDY: Final = "name a file written by: correlate account trail --export FILE"


def export_line(row: Mapping[str, Any]) -> bytes:
    """Return an entry as a line of an export."""
    return canonical(row).encode("ascii") + b"\n"


def write_export(path: Path, rows: Iterable[Mapping[str, Any]]) -> int:
    """Write a trail into a new file, whole or not at all, and return its number of lines.

    Raises
    ------
    CorrelateError
        There is such a file: it may be what the next trail must be compared with.
    """
    if path.exists():
        raise CorrelateError("this file already exists", where=str(path), remedy="name a new file")
    count = 0
    with whole_file(path) as stream:
        for count, row in enumerate(rows, start=1):  # noqa: B007 - the last one is the number of lines
            stream.write(export_line(row))
    return count


def read_export(path: Path) -> Iterator[dict[str, Any]]:
    """Return the lines of an export, each checked with the one before.

    Raises
    ------
    CorrelateError
        The file cannot be read, is no export or was changed.
    """
    previous, empty = BEGINNING, True
    with opened(path) as stream:
        for number, line in enumerate(iter(lambda: stream.readline(_LONGEST_LINE), b""), start=1):
            row, empty = _row(line), False
            where = f"{path}, line {number}"
            if row is None:
                raise CorrelateError("this is not an export of an audit trail", where=where, remedy=_REMEDY)
            if row["previous"] != previous or row["hash"] != entry_hash(row, previous):
                said = "this export was changed: the line does not fit the one before"
                raise CorrelateError(said, where=where, remedy="use another copy of the export")
            previous = row["hash"]
            yield row
    if empty:
        raise CorrelateError("this export has no lines", where=str(path), remedy=_REMEDY)


def difference(exported: Iterable[Mapping[str, Any]], rows: Iterable[Mapping[str, Any]]) -> str:
    """Say where a trail is not the continuation of an export; an empty text where it is.

    Parameters
    ----------
    exported
        Lines of the export.
    rows
        Lines of the trail, both in their order.
    """
    for old, new in zip_longest(exported, rows):
        if old is None:
            break
        if new is None:
            return f"line {old['id']} of the export is not in the audit trail: lines at its end were removed"
        if old["hash"] != new["hash"] or old["id"] != new["id"]:
            return f"line {old['id']} of the export is another one in the audit trail: it was written again"
    return ""


def _row(line: bytes) -> dict[str, Any] | None:
    """Return what a line says; None if it is no line of an export."""
    try:
        row = json.loads(line)
    except ValueError:
        return None
    if not isinstance(row, dict) or row.keys() != _KEYS or not isinstance(row["id"], int):
        return None
    texts = [value for name, value in row.items() if name != "id"]
    return row if all(isinstance(text, str) for text in texts) else None
