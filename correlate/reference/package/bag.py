"""A bag in a folder or in a zip file. Names are judged before anything is read."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from correlate.files import MOST_BYTES, ArchiveSource, opened_source, refuse_odd
from correlate.reference.package.names import check_names

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate.files import FolderSource


@contextmanager
def opened_bag(path: Path, *, most_bytes: int = MOST_BYTES) -> Iterator[FolderSource | ArchiveSource]:
    """Open a bag.

    Parameters
    ----------
    path
        Folder or zip file.
    most_bytes
        Most bytes that a zip file may extract to in all.

    Yields
    ------
    FolderSource or ArchiveSource
        Of a zip file, the one folder that holds everything.

    Raises
    ------
    FormatError
        It cannot be read, holds links or names that lead elsewhere, or is a zip file that no one should
        extract.
    """
    with opened_source(path, most_bytes=most_bytes) as source:
        refuse_odd(source)
        check_names(source.names, source.label)
        if isinstance(source, ArchiveSource):
            label = source.label
            source.enter(_common_root(list(source.files)))
            source.label = label
        yield source


def _common_root(names: list[str]) -> str:
    """Return the one folder that holds everything, empty when there is none."""
    roots = {name.partition("/")[0] if "/" in name else "" for name in names}
    return roots.pop() if len(roots) == 1 else ""
