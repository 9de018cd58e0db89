"""Tests and results in object storage: listed, and copied into the cache folder of the user to be read there.

A listing names every object below a folder with its size and the tag of its content (ETag). A file or folder
of files that an entry of a campaign names is copied as a whole into a folder that is named after these tags.
A copy never changes: other content has other tags, and is copied into another folder. So nothing is fetched
twice, and the state that was listed is the state that is read.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import timedelta
from fnmatch import fnmatchcase
from functools import lru_cache, partial
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, Final

from correlate.addresses import Address, address_of, is_part, name_copies
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.extras import need_extra
from correlate.files import files_of, turn, unwritable, whole_folder, write_text
from correlate.limits import LARGEST_RECORD, MOST_FILES, current_limits, most_copied_bytes
from correlate.plain_files import open_plain, read_json
from correlate.private_folder import cache_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

PLACES_VARIABLE: Final = "CORRELATE_OBJECT_STORAGE"
"""Environment variable that lists the addresses below which objects may be read."""
COPY: Final = "copy"
CONTENT: Final = "content.json"
_AT_ONCE: Final = 8
"""Objects of one folder that are fetched at the same time."""
_CHUNK: Final = 2**23
_IN_USE_S: Final = 3600
"""Copies used within this time are never removed to free space."""
_CLIENT: Final = {
    # An endpoint in the environment may be in the local network; all others are encrypted.
    "allow_http": True,
    "connect_timeout": "5s",
    "read_timeout": "60s",
    "timeout": "3600s",
}
_RETRY: Final = {"max_retries": 3, "retry_timeout": timedelta(seconds=30)}


class ObjectStorageError(FormatError):
    """Object storage cannot be used, or is not allowed."""


@dataclass(frozen=True, slots=True)
class StoredObject:
    """An object as a listing names it.

    Attributes
    ----------
    size
        In bytes.
    tag
        Changes with the content: its ETag; where there is none, the time of its last change.
    """

    size: int
    tag: str


Listing = dict[str, StoredObject]
"""Objects by their keys."""


class ObjectStorage:
    """What a campaign names in object storage, as it was when it was first asked for.

    Every folder is listed once, so that all answers agree; see :meth:`look_again`.
    """

    def __init__(self) -> None:
        self._listings: dict[Address, Listing] = {}
        self._copies: dict[Address, Path] = {}
        self._lock = RLock()

    def look_again(self) -> None:
        """Forget what was listed, because it may have changed since."""
        with self._lock:
            self._listings.clear()
            self._copies.clear()

    def matches(self, pattern: str) -> list[Path]:
        """Return local copies of all files and folders that match an address with wildcards, sorted.

        Raises
        ------
        ObjectStorageError
            They cannot be listed or fetched.
        SettingsError
            The address is not among the allowed ones.
        """
        wanted = _allowed(pattern)
        parts = wanted.key.split("/")
        fixed = next((n for n, part in enumerate(parts) if set(part) & set("*?[")), len(parts) - 1)
        listing = self._listing(wanted.with_key("/".join(parts[:fixed])))
        return self._copies_of(wanted, _matching(parts, listing), listing)

    def result(self, folder: str, name: str, *, beside: Callable[[Path], Path] | None = None) -> Path:
        """Return a local copy of a file or folder below an address; of a pattern the only one that matches.

        If none or several match, the path of a copy that does not exist is returned.

        Parameters
        ----------
        folder, name
            The address, and the name or pattern to find below it.
        beside
            Returns the file that belongs to a result and is beside it; it is copied too.

        Raises
        ------
        ObjectStorageError
            It cannot be listed or fetched.
        SettingsError
            The address is not among the allowed ones.
        """
        place = _allowed(folder)
        listing = self._listing(place)
        parts = [*(place.key.split("/") if place.key else []), *_parts_of(name)]
        found = _matching(parts, listing)
        if len(found) == 1:
            also = "" if beside is None else beside(Path(next(iter(found)))).as_posix()
            return self._copies_of(place, found, listing, also)[0]
        return _path_of_copy(place.with_key("/".join(parts)), {})

    def _listing(self, folder: Address) -> Listing:
        with self._lock:
            if folder not in self._listings:
                self._listings[folder] = _list(folder)
            return self._listings[folder]

    def _copies_of(
        self, place: Address, found: Mapping[str, Listing], listing: Listing, also: str = ""
    ) -> list[Path]:
        """Return the copies of files and folders, and remove old ones if the limit is exceeded."""
        with self._lock:
            new = {key: one for key, one in found.items() if place.with_key(key) not in self._copies}
            for key, objects in new.items():
                whole = {**objects, **_belonging(key, also, listing)}
                self._copies[place.with_key(key)] = _copy(place.with_key(key), whole)
            if new:
                _make_room()
            return [self._copies[place.with_key(key)] for key in found]


def _belonging(key: str, also: str, listing: Listing) -> Listing:
    """Return what belongs to a file and is not below it: one more file, or the channels of a test."""
    if key.lower().endswith(".mme"):
        below = key.rpartition("/")[0] + "/"
        return {name: one for name, one in listing.items() if name.startswith(below)}
    return {also: listing[also]} if also in listing else {}


def _parts_of(name: str) -> list[str]:
    parts = [part for part in name.split("/") if part not in {"", "."}]
    if not all(map(is_part, parts)):
        raise SettingsError(
            f"'{name}' is not the name of a file in object storage", remedy="correct 'model_file'"
        )
    return parts


def _matching(parts: Sequence[str], listing: Listing) -> dict[str, Listing]:
    """Return files and folders whose parts match, sorted, each with its objects."""
    found: dict[str, Listing] = {}
    for key, one in listing.items():
        own = key.split("/")
        if len(own) >= len(parts) and all(map(fnmatchcase, own, parts)):
            found.setdefault("/".join(own[: len(parts)]), {})[key] = one
    return dict(sorted(found.items()))


# Permission -------------------------------------------------------------------------------------------


def _allowed(text: str) -> Address:
    """Return an address that the user or the administrator allows; a campaign may come from anybody."""
    try:
        address = address_of(text)
        places = [address_of(one) for one in os.environ.get(PLACES_VARIABLE, "").split()]
    except ValueError as error:
        raise SettingsError(str(error), where=PLACES_VARIABLE) from None
    if not any(address.is_within(place) for place in places):
        bucket = address.with_key("")
        raise SettingsError(
            "this address is not among those that may be read",
            where=text,
            remedy=f"if you trust the campaign, add '{bucket}' to the variable {PLACES_VARIABLE}; on a "
            "server, the administrator adds it to object_storage.places in server.toml",
        )
    return address


# Listing ----------------------------------------------------------------------------------------------


def _list(folder: Address) -> Listing:
    """Return every object below a folder, in pages of a thousand."""
    import obstore  # noqa: PLC0415 - of an extra

    found: Listing = {}
    with _sentences(folder, "listed"):
        for page in obstore.list(_store_of(folder), folder.key or None, chunk_size=1000):
            found |= {one["path"]: StoredObject(one["size"], _tag_of(one)) for one in page}
            if len(found) > MOST_FILES:
                raise ObjectStorageError(
                    f"there are more than {MOST_FILES} objects below this address",
                    where=str(folder),
                    remedy="name a folder with fewer",
                )
    # Some programs keep an empty object for each folder, with the name of the folder.
    folders = {"/".join(parts[:n]) for parts in map(_split, found) for n in range(1, len(parts))}
    return {key: one for key, one in found.items() if not (key in folders and one.size == 0)}


def _split(key: str) -> list[str]:
    return key.split("/")


def _tag_of(told: Any) -> str:
    return str(told["e_tag"] or told["last_modified"])


@lru_cache(maxsize=64)
def _client(scheme: str, bucket: str) -> Any:
    """Return the client of a bucket; credentials and endpoint come from the environment."""
    need_extra("object-storage", what=f"reading {scheme}://{bucket}")
    from obstore.store import AzureStore, GCSStore, S3Store  # noqa: PLC0415 - of an extra

    kind = {"s3": S3Store, "gs": GCSStore, "az": AzureStore}[scheme]
    return kind(bucket, client_options=_CLIENT, retry_config=_RETRY)


def _store_of(address: Address) -> Any:
    return _client(address.scheme, address.bucket)


@contextmanager
def _sentences(address: Address, done: str) -> Iterator[None]:
    """Turn what the library raises into one sentence, without its details, which may contain secrets."""
    from obstore.exceptions import BaseError  # noqa: PLC0415 - of an extra

    try:
        yield
    except (BaseError, FileNotFoundError) as error:
        what, remedy = _in_words(error, done)
        raise ObjectStorageError(what, where=str(address), remedy=remedy) from error


def _in_words(error: Exception, done: str) -> tuple[str, str]:
    from obstore.exceptions import PermissionDeniedError, UnauthenticatedError  # noqa: PLC0415 - of an extra

    # For listings, the library states the status only in the text of the error.
    found = re.search(r"status code: (\d+)", str(error))
    status = found[1] if found else ""
    if isinstance(error, (PermissionDeniedError, UnauthenticatedError)) or status in {"401", "403"}:
        return (
            f"object storage refuses access, so this cannot be {done}",
            "check the credentials in the environment and the rights they have",
        )
    if isinstance(error, FileNotFoundError) or status == "404":
        return (
            f"this cannot be {done}, because it does not exist",
            "check bucket and path; if it changed at this moment, run the command again",
        )
    if "invalid path" in str(error):
        return f"this cannot be {done}, because {_ODD_KEY}", "rename the object"
    return (
        f"object storage cannot be reached, so this cannot be {done}",
        "check network, endpoint, region and credentials, then try again",
    )


_ODD_KEY: Final = "the name of an object is not possible for a file on this system"


# Copies -----------------------------------------------------------------------------------------------


def _root() -> Path:
    """Return the folder of all copies, which only this user can change."""
    folder = cache_folder("objects")
    name_copies(str(folder))
    return folder


def _path_of_copy(address: Address, objects: Listing) -> Path:
    parts = (str(address), sorted((key, one.size, one.tag) for key, one in objects.items()))
    digest = hashlib.sha256(repr(parts).encode()).hexdigest()[:32]
    return _root() / digest / COPY / address.scheme / address.bucket / address.key


def _copy(address: Address, objects: Listing) -> Path:
    """Return the copy of a file or folder, fetched unless it is there and unchanged."""
    _refuse_odd_keys(objects)
    # Objects that are too large to be read are not fetched.
    current_limits().refuse_fetched(sum(one.size for one in objects.values()), str(address))
    target = _path_of_copy(address, objects)
    place = next(one for one in target.parents if one.name == COPY and one.parent.parent == _root())
    if _is_sound(place):
        return target
    try:
        place.parent.mkdir(mode=0o700, exist_ok=True)
        with turn(place.parent):
            # Another program may have fetched it while this one waited.
            if not _is_sound(place):
                shutil.rmtree(place, ignore_errors=True)
                _fetch(address, objects, place)
    except OSError as error:
        raise unwritable(place, error) from error
    return target


def _refuse_odd_keys(objects: Iterable[str]) -> None:
    """Refuse keys that cannot be names of files, and an object that is a folder of others at once."""
    keys = set(objects)
    for key in keys:
        parts = _split(key)
        if not all(map(is_part, parts)) or any("/".join(parts[:n]) in keys for n in range(1, len(parts))):
            raise ObjectStorageError(
                f"the object '{key}' cannot be copied, because {_ODD_KEY} beside the others",
                remedy="rename the object",
            )


def _fetch(address: Address, objects: Listing, place: Path) -> None:
    """Copy objects into a folder that appears once it is complete, with the hash of each beside it."""
    with whole_folder(place) as beside:
        base = beside / address.scheme / address.bucket
        with ThreadPoolExecutor(_AT_ONCE) as several:
            fetch = partial(_fetch_one, address, base)
            hashes = dict(zip(objects, several.map(fetch, objects.items()), strict=True))
        content = {
            str((base / key).relative_to(beside)): [*_stamp((base / key).stat()), found]
            for key, found in hashes.items()
        }
        write_text(beside / CONTENT, json.dumps({"address": str(address), "files": content}))


def _fetch_one(address: Address, base: Path, item: tuple[str, StoredObject]) -> str:
    """Copy one object; return the hash of its bytes."""
    import obstore  # noqa: PLC0415 - of an extra

    key, listed = item
    of_object = address.with_key(key)
    file, found, size = base / key, hashlib.sha256(), 0
    file.parent.mkdir(parents=True, exist_ok=True)
    with _sentences(of_object, "fetched"), file.open("xb") as stream:
        answer = obstore.get(_store_of(of_object), key)
        same = answer.meta["size"] == listed.size and _tag_of(answer.meta) == listed.tag
        for chunk in answer.stream(min_chunk_size=_CHUNK) if same else ():
            size += len(chunk)
            found.update(chunk)
            stream.write(chunk)
    if not same or size != listed.size:
        raise ObjectStorageError(
            "the object changed while it was fetched", where=str(of_object), remedy="run the command again"
        )
    return found.hexdigest()


def _is_sound(place: Path) -> bool:
    """Tell whether a copy is complete, and no file of it was changed since it was fetched."""
    try:
        content = read_json(place / CONTENT, most=LARGEST_RECORD)
        files: Mapping[str, Any] = content["files"]
        if not all(_is_unchanged(place / name, told) for name, told in files.items()):
            return False
        # The least recently used ones are removed first.
        os.utime(place / CONTENT)
    except (CorrelateError, OSError, ValueError, LookupError, TypeError, AttributeError):
        return False
    return True


def _is_unchanged(file: Path, told: Sequence[Any]) -> bool:
    """Compare a file with its record from when it was fetched: its stamp, else the hash of its bytes."""
    if list(_stamp(file.stat())) == told[:-1]:
        return True
    with open_plain(file) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == str(told[-1])


def _stamp(seen: os.stat_result) -> tuple[int, int, int, int]:
    """Return metadata that change with a file; programs can set only the time of modification among them."""
    return seen.st_size, seen.st_mtime_ns, seen.st_ctime_ns, seen.st_ino


def _make_room() -> None:
    """Remove the least recently used copies, if all together are too large."""
    most, total, now = most_copied_bytes(), 0, time.time()
    entries = []
    for folder in _root().iterdir():
        with suppress(OSError):
            used = (folder / COPY / CONTENT).stat().st_mtime
            entries.append((used, folder, sum(file.stat().st_size for file in files_of(folder))))
    for used, folder, size in sorted(entries, reverse=True):
        total += size
        if total > most and used < now - _IN_USE_S:
            shutil.rmtree(folder, ignore_errors=True)
