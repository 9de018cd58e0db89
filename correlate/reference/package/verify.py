"""Verifying a package, and extracting it."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import MOST_BYTES, whole_folder
from correlate.reference.package.listing import Listing, blocks, check_digest, opened_bag, read_listing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.files import FileSource
    from correlate.reference.package.signature import PublicKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """A bag that holds what it lists, byte by byte.

    Attributes
    ----------
    path
        As the user named it.
    files, payload_bytes
        Of the payload.
    algorithm
        Hash function.
    info
        ``bag-info.txt``: values by label.
    signed_by
        Key of the signature, which is sound; None when the bag is not signed.
    """

    path: str
    files: int
    payload_bytes: int
    algorithm: str
    info: Mapping[str, list[str]]
    signed_by: PublicKey | None


def verify(path: str | Path, *, key: PublicKey | None = None, most_bytes: int = MOST_BYTES) -> Verified:
    """Read a bag once and refuse it when any byte is changed, missing or added.

    Parameters
    ----------
    path
        Folder or zip file.
    key
        Whose signature the bag must bear; None to accept unsigned bags and sound signatures of anyone.
    most_bytes
        Most bytes a zip file may hold.

    Returns
    -------
    Verified

    Raises
    ------
    FormatError
        The bag is not to be trusted; the message names the file.

    References
    ----------
    .. [1] RFC 8493, "The BagIt file packaging format (V1.0)". Stricter here: SHA-256 or SHA-512 only, a tag
       manifest is needed, no file may stand outside the lists, nothing is fetched.
    """
    with opened_bag(Path(path), most_bytes=most_bytes) as source:
        listing = read_listing(source, key)
        total = 0
        for name, expected in listing.hashes.items():
            digest = hashlib.new(listing.algorithm)
            for block in blocks(source, name):
                digest.update(block)
            check_digest(digest.hexdigest(), expected, name, source.label)
            total += source.files[name] if name.startswith("data/") else 0
        return verified(source, listing, total)


def verified(source: FileSource, listing: Listing, payload_bytes: int) -> Verified:
    """Return the result for a bag whose bytes have been compared."""
    return Verified(
        path=source.label,
        files=sum(name.startswith("data/") for name in listing.hashes),
        payload_bytes=payload_bytes,
        algorithm=listing.algorithm,
        info=listing.info,
        signed_by=listing.signed_by,
    )


SPARE_BYTES: Final = 2**24
"""Free space that must remain on the disk."""


def unpack(
    path: str | Path, into: str | Path, *, key: PublicKey | None = None, most_bytes: int = MOST_BYTES
) -> Verified:
    """Copy a bag into a new folder, each file compared with its hash on the way.

    The folder is a bag again, so that it can be verified later; the tests are in ``data/tests``. It appears
    complete or not at all.

    Parameters
    ----------
    path
        Folder or zip file.
    into
        Folder to be made. It must not exist, or be empty.
    key
        Whose signature the bag must bear, or None.
    most_bytes
        Most bytes a zip file may hold.

    Returns
    -------
    Verified

    Raises
    ------
    FormatError
        The bag is not to be trusted, the target exists, or the disk is too small.
    """
    with opened_bag(Path(path), most_bytes=most_bytes) as source:
        listing = read_listing(source, key)
        with whole_folder(Path(into)) as folder:
            _check_space(source, folder)
            total = 0
            for name in (*listing.hashes, *listing.loose):
                digest = hashlib.new(listing.algorithm)
                target = folder / name
                target.parent.mkdir(parents=True, exist_ok=True)
                with target.open("xb") as stream:
                    for block in blocks(source, name):
                        digest.update(block)
                        stream.write(block)
                if name in listing.hashes:
                    check_digest(digest.hexdigest(), listing.hashes[name], name, source.label)
                total += source.files[name] if name.startswith("data/") else 0
            return verified(source, listing, total)


def _check_space(source: FileSource, folder: Path) -> None:
    needed, free = sum(source.files.values()), shutil.disk_usage(folder).free
    if needed + SPARE_BYTES > free:
        raise FormatError(
            f"it unpacks to {needed} bytes and the disk has {free} free",
            where=source.label,
            remedy="choose another disk",
        )
