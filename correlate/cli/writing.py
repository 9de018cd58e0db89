"""Write a file atomically."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from correlate.errors import FormatError


def write_text(path: Path, text: str) -> None:
    """Write a text as UTF-8, as :func:`write_bytes` does.

    Parameters
    ----------
    path
        The target; replaced when it exists.
    text
        Content.

    Raises
    ------
    FormatError
        The folder is absent or may not be written to.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> None:
    """Write beside the target, then rename, so that a reader never sees half a file.

    Parameters
    ----------
    path
        The target; replaced when it exists.
    content
        All of it.

    Raises
    ------
    FormatError
        The folder is absent or may not be written to.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        beside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            beside.chmod(0o644)
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise FormatError(
            f"cannot be written ({error.strerror})",
            where=str(path),
            remedy="choose a folder that exists and that you may write to",
        ) from error
