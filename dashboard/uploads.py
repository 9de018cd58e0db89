"""Uploads: their size, number, names and storage."""

from __future__ import annotations

import base64
import binascii
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

from flask import current_app, has_request_context

from correlate import CorrelateError, one_spelling, unclear
from correlate.files import unwritable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash import Dash

_LIMITS: Final = "correlate-upload-limits"

LONGEST_NAME: Final = 120
"""Characters of a file name."""

_REST: Final = 1_000_000
"""Bytes of a request beside the files in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UploadLimits:
    """Most that may be sent in at once.

    Attributes
    ----------
    bytes
        Of all files together.
    files
        How many.
    """

    bytes: int = 100_000_000
    files: int = 50


def limit_uploads(app: Dash, limits: UploadLimits) -> None:
    """Let the web server refuse whatever is larger, before anything reads it."""
    app.server.extensions[_LIMITS] = limits
    # Browsers send files as base64: four bytes for three.
    app.server.config["MAX_CONTENT_LENGTH"] = limits.bytes * 4 // 3 + _REST


def upload_limits() -> UploadLimits:
    """Return what the server that answers allows."""
    if not has_request_context():
        return UploadLimits()
    found: UploadLimits = current_app.extensions.get(_LIMITS, UploadLimits())
    return found


def keep_uploads(
    folder: Path, names: Sequence[str], contents: Sequence[str], *, limits: UploadLimits | None = None
) -> list[Path]:
    """Write what an upload field of the page sent into a new folder: all files, or none."""
    allowed = limits or upload_limits()
    if not 0 < len(names) <= allowed.files:
        raise CorrelateError(
            f"{len(names)} files were sent", remedy=f"send 1 to {allowed.files} at a time, or pack them"
        )
    safe = [safe_name(name) for name in names]
    if len({one_spelling(name) for name in safe}) < len(safe):
        raise CorrelateError("two files of the upload have the same name", remedy="rename one of them")
    decoded = [_decoded(name, text) for name, text in zip(safe, contents, strict=True)]
    total = sum(len(content) for content in decoded)
    if total > allowed.bytes:
        raise CorrelateError(
            f"the files have {total / 1e6:.1f} MB in total",
            remedy=f"send at most {allowed.bytes / 1e6:.0f} MB at a time",
        )
    try:
        _store(folder, dict(zip(safe, decoded, strict=True)))
    except OSError as error:
        # The name that the user knows: where the server stores it is not shown.
        raise unwritable(Path(safe[0]), error) from error
    return [folder / name for name in safe]


def _store(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Write files beside and move them, so that nobody finds half of an upload."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(dir=folder.parent, prefix=".part-") as beside:
        whole = Path(beside) / "whole"
        whole.mkdir(mode=0o700)
        for name, content in contents.items():
            (whole / name).write_bytes(content)
        whole.rename(folder)


def safe_name(name: str) -> str:
    """Return a file name that stays in its folder and can be shown.

    Examples
    --------
    >>> safe_name("kelp run 3.csv")
    'kelp run 3.csv'
    """
    plain = unicodedata.normalize("NFC", name)
    wrong = (
        not plain.strip(" .")
        or len(plain) > LONGEST_NAME
        or plain.startswith(".")
        or plain != plain.strip()
        or any(sign in plain for sign in '/\\:*?"<>|')
        or not plain.isprintable()
    )
    if wrong:
        shown = "".join(sign if sign.isprintable() else "?" for sign in plain[:LONGEST_NAME])
        raise CorrelateError(
            f"a file cannot be stored under the name '{shown}'",
            remedy=f'use up to {LONGEST_NAME} visible characters, none of / \\ : * ? " < > |, no dot first',
        )
    if reason := unclear(plain):
        raise CorrelateError(f"the file name {plain!r} {reason}", remedy="rename the file")
    return plain


def _decoded(name: str, content: str) -> bytes:
    _, comma, text = content.partition(";base64,")
    try:
        if not comma:
            raise CorrelateError("this file arrived without its content", where=name, remedy="send it again")
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise CorrelateError("this file arrived damaged", where=name, remedy="send it again") from error
