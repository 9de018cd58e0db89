"""Unpack a bag: verified while it is copied, and moved into place only if everything matches."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import MOST_BYTES, whole_folder
from correlate.reference.package.bag import opened_bag
from correlate.reference.package.listing import blocks, check_digest, read_listing
from correlate.reference.package.verifying import Verified, verified

if TYPE_CHECKING:
    from correlate.files import Source
    from correlate.reference.package.signature import PublicKey

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


def _check_space(source: Source, folder: Path) -> None:
    needed, free = sum(source.files.values()), shutil.disk_usage(folder).free
    if needed + SPARE_BYTES > free:
        raise FormatError(
            f"it unpacks to {needed} bytes and the disk has {free} free",
            where=source.label,
            remedy="choose another disk",
        )
