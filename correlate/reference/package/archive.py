"""A bag as one zip file."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path
from typing import Final

from correlate.files import FolderSource, whole_file

_TEXT_SUFFIXES: Final = frozenset({".txt", ".json", ".html", ".csv", ".toml", ".mme", ".chn"})
_ZIP_TIME: Final = (1980, 1, 1, 0, 0, 0)
_BLOCK: Final = 2**20


def write_archive(folder: Path, target: Path) -> None:
    """Write a bag below one folder of its name, text compressed, with a fixed time stamp.

    Parameters
    ----------
    folder
        The bag.
    target
        The zip file; it appears complete or not at all.

    Raises
    ------
    FormatError
        It cannot be written.
    """
    with (
        whole_file(target) as stream,
        zipfile.ZipFile(stream, "w", allowZip64=True) as archive,
    ):
        for name, size in FolderSource(folder).files.items():
            entry = zipfile.ZipInfo(f"{folder.name}/{name}", _ZIP_TIME)
            suffix = Path(name).suffix.lower()
            is_text = suffix in _TEXT_SUFFIXES or suffix.removeprefix(".").isdecimal()
            entry.compress_type = zipfile.ZIP_DEFLATED if is_text else zipfile.ZIP_STORED
            entry.external_attr = 0o100644 << 16
            entry.file_size = size
            with (folder / name).open("rb") as source, archive.open(entry, "w") as sink:
                shutil.copyfileobj(source, sink, _BLOCK)
