"""Reading a TOML file into its validated table."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from pydantic import ValidationError

from correlate.errors import FormatError
from correlate.toml.mistakes import mistakes
from correlate.toml.table import Table

if TYPE_CHECKING:
    from pathlib import Path

Root = TypeVar("Root", bound=Table)


@dataclass(frozen=True, slots=True)
class TomlFile(Generic[Root]):
    """A file and what stands in it.

    Attributes
    ----------
    path
        Of the file.
    table
        The validated content.
    sha256
        Of its bytes.
    """

    path: Path
    table: Root
    sha256: str


def read_toml(path: Path, root: type[Root], *, kind: str) -> TomlFile[Root]:
    """Read and validate a file.

    Parameters
    ----------
    path
        Of the file.
    root
        Its form.
    kind
        What the file is, in words, for the advice when it is absent: ``a campaign file``.

    Returns
    -------
    TomlFile

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, each with line and key.
    """
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
        content = tomllib.loads(text)
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(path), remedy=f"name {kind}"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FormatError(
            f"is not valid TOML: {error}", where=str(path), remedy="correct the line"
        ) from error
    try:
        table = root.model_validate(content)
    except ValidationError as error:
        found = mistakes(error, text=text, root=root)
        count = "1 mistake" if len(found) == 1 else f"{len(found)} mistakes"
        raise FormatError(f"{count}: " + "; ".join(found), where=str(path)) from error
    return TomlFile(path, table, hashlib.sha256(raw).hexdigest())
