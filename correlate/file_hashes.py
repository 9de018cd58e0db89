"""Hashes of the files of a project, kept from one run to the next so that unchanged bytes are not read again.

The record of a file contains its metadata (size, times, inode) and the hash of its bytes. While the metadata
are unchanged, the hash is taken from the record, as version control systems do with their index of the
working tree. Two of their precautions are common practice and used here: the time of the last change of
content or attributes is compared besides the time of modification, which any program can set; and a file that
was changed shortly before it was hashed is not recorded, because a second change could leave it with the same
times ("racy" timestamps).

Records are in the private cache folder of the project, because a project from somebody else could contain
forged ones. Without such a folder, or where it cannot be written, everything is hashed in every run.
"""

from __future__ import annotations

import hashlib
import json
import os
import threading
import time
from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError
from correlate.files import write_text
from correlate.plain_files import open_plain, read_json
from correlate.private_folder import check_own, project_cache_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

RECORDS_FILE: Final = "files.json"
MOST_RECORDS: Final = 100_000
"""Most records of one project; the least recently used ones are removed."""
RACY_NS: Final = 2 * 10**9
"""A file changed later than this before it was hashed is not recorded: the coarsest time stamps of a file
system in use have steps of 2 s."""

_Stamp = tuple[int, int, int, int]
_SIZE, _MODIFIED, _CHANGED, _INODE = range(4)


class FileHashes:
    """The hashes of the files of one project.

    Can be used by several threads. A program reads the records that other programs saved before it began.

    Parameters
    ----------
    folder
        Private to this user; None if there is none, which keeps records for this process only.
    """

    def __init__(self, folder: Path | None) -> None:
        self._wrong: list[Path] = []
        self._place = None if folder is None else folder / RECORDS_FILE
        self._records = self._saved()
        self._used: dict[str, None] = {}
        self._is_changed = False
        self._verified: set[str] | None = None
        self._lock = threading.Lock()

    @property
    def is_verifying(self) -> bool:
        """Whether records of earlier runs are ignored."""
        return self._verified is not None

    @contextmanager
    def verifying(self) -> Iterator[list[Path]]:
        """Hash every file again, regardless of its record.

        Yields
        ------
        list of Path
            Files whose bytes were not those of their record, although size, time of modification and inode
            were; it grows while files are hashed.
        """
        self._verified, self._wrong = set(), []
        try:
            yield self._wrong
        finally:
            self._verified = None

    def of(self, file: Path) -> str:
        """Return the SHA-256 of the bytes of a file.

        Raises
        ------
        OSError
            It is not a regular file, or cannot be read.
        """
        name = os.path.abspath(file)  # noqa: PTH100 - nothing is resolved, which would read every folder
        seen = _stamp(os.stat(file))  # noqa: PTH116 - four times as quick, for very many files
        record = self._record(name)
        if record is not None and record[0] == seen and (self._verified is None or name in self._verified):
            self._used[name] = None
            return record[1]
        before = time.time_ns()
        with open_plain(file) as stream:
            is_same = _stamp(os.fstat(stream.fileno())) == seen
            found = hashlib.file_digest(stream, "sha256").hexdigest()
            is_same = is_same and _stamp(os.fstat(stream.fileno())) == seen
        with self._lock:
            self._compare(file, record, seen, found)
            if is_same and max(seen[_MODIFIED], seen[_CHANGED]) < before - RACY_NS:
                self._records[name] = [*seen, found]
                self._used[name] = None
                self._is_changed = True
                if self._verified is not None:
                    self._verified.add(name)
        return found

    def save(self) -> None:
        """Save the hashes determined since the records were read; if that is not possible, do nothing."""
        with self._lock:
            if self._place is None or not self._is_changed:
                return
            # Another program may have saved some meanwhile; if two save at once, one loses its new records.
            records = self._saved() | self._records
            for name in self._used:
                records[name] = records.pop(name)
            newest = dict([*records.items()][-MOST_RECORDS:])
            try:
                write_text(self._place, json.dumps({"files": newest}, separators=(",", ":")))
            except CorrelateError:
                return
            self._is_changed = False

    def _record(self, name: str) -> tuple[_Stamp, str] | None:
        match self._records.get(name):
            case [int(size), int(modified), int(changed), int(inode), str(found)]:
                return (size, modified, changed, inode), found
        return None

    def _compare(self, file: Path, record: tuple[_Stamp, str] | None, seen: _Stamp, found: str) -> None:
        if record is None or record[1] == found or file in self._wrong:
            return
        if all(record[0][place] == seen[place] for place in (_SIZE, _MODIFIED, _INODE)):
            self._wrong.append(file)

    def _saved(self) -> dict[str, list[int | str]]:
        """Return the records on disk; none if the file is invalid, which the next save replaces."""
        if self._place is None:
            return {}
        try:
            check_own(self._place)
            content = read_json(self._place)
        except (CorrelateError, OSError, ValueError):
            return {}
        found = content.get("files") if isinstance(content, dict) else None
        return found if isinstance(found, dict) else {}


@lru_cache(maxsize=64)
def file_hashes(project: Path) -> FileHashes:
    """Return the hashes of the files of a project, one object for a process.

    Parameters
    ----------
    project
        Its folder.
    """
    return FileHashes(project_cache_folder(project))


def _stamp(seen: os.stat_result) -> _Stamp:
    return seen.st_size, seen.st_mtime_ns, seen.st_ctime_ns, seen.st_ino
