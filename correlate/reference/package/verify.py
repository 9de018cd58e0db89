"""Verifying a package, and extracting it."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from correlate.errors import FormatError
from correlate.files import whole_folder
from correlate.limits import MOST_UNPACKED
from correlate.reference.package.listing import (
    Digests,
    Listing,
    blocks,
    opened_bag,
    read_listing,
    unconfirmed,
)
from correlate.reference.package.trust import NOBODY, SigningChain, Trust
from correlate.reference.package.zip_layout import MOST_NAMED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

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
        Strongest hash function of its lists.
    info
        ``bag-info.txt``: values by label.
    chain
        Who signed, and whether the key is trusted.
    """

    path: str
    files: int
    payload_bytes: int
    algorithm: str
    info: Mapping[str, list[str]]
    chain: SigningChain

    @property
    def signed_by(self) -> PublicKey | None:
        """Key of the signature, which is sound; None when the bag is not signed."""
        return None if self.chain.signature is None else self.chain.signature.key


def verify(path: str | Path, *, trust: Trust = NOBODY, most_bytes: int = MOST_UNPACKED) -> Verified:
    """Read a bag once and refuse it when any byte is changed, missing or added.

    Parameters
    ----------
    path
        Folder or zip file.
    trust
        Whose signatures are accepted; by default unsigned bags and sound signatures of anyone are.
    most_bytes
        Most bytes a zip file may hold.

    Returns
    -------
    Verified

    Raises
    ------
    FormatError
        The bag is changed; the message names the file.
    UntrustedError
        It is unchanged, but its signature is missing or not accepted, and one is required.

    References
    ----------
    .. [1] RFC 8493, "The BagIt file packaging format (V1.0)". Stricter here: SHA-256 or SHA-512 only, every
       list is complete, a tag manifest is needed, no file may stand outside the lists, nothing is fetched.
    """
    with opened_bag(Path(path), most_bytes=most_bytes) as source:
        listing = _listing(source)
        changed = [problem for name in listing.hashes if (problem := _compared(source, listing, name))]
        return _verified(source, listing, changed, trust)


def _listing(source: FileSource) -> Listing:
    """Read the lists; where they are refused, the message also names the files that they do not confirm."""
    try:
        return read_listing(source)
    except FormatError as error:
        if "bagit.txt" not in source.files:
            raise
        names = [name for name in unconfirmed(source) if f"'{name}'" not in error.what]
        if not names:
            raise
        what = f"{error.what}; not confirmed by the lists: {_named(names)}"
        raise FormatError(what, where=error.where, remedy=error.remedy) from error


def _compared(source: FileSource, listing: Listing, name: str, sink: BinaryIO | None = None) -> str:
    """Compare a file with its hashes, and return what is wrong with it; empty if nothing is."""
    digests = Digests(listing.hashes[name])
    try:
        for block in blocks(source, name):
            digests.update(block)
            if sink is not None:
                sink.write(block)
    except FormatError as error:
        return error.what
    return "" if digests.agree else f"'{name}' was changed: its hash differs from the listed one"


def _verified(source: FileSource, listing: Listing, changed: Sequence[str], trust: Trust) -> Verified:
    """Return the result for a bag whose bytes have been compared."""
    if changed:
        more = f", and {len(changed) - MOST_NAMED} more" if len(changed) > MOST_NAMED else ""
        raise FormatError(
            "; ".join(changed[:MOST_NAMED]) + more,
            where=source.label,
            remedy="do not use this package; ask for it again",
        )
    chain = trust.chain(listing.signature)
    chain.refuse(source.label)
    payload = [name for name in listing.hashes if name.startswith("data/")]
    return Verified(
        path=source.label,
        files=len(payload),
        payload_bytes=sum(source.files[name] for name in payload),
        algorithm=listing.algorithm,
        info=listing.info,
        chain=chain,
    )


def _named(names: Sequence[str]) -> str:
    shown = ", ".join(f"'{name}'" for name in names[:MOST_NAMED])
    return f"{shown} and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else shown


SPARE_BYTES: Final = 2**24
"""Free space that must remain on the disk."""


def unpack(
    path: str | Path, into: str | Path, *, trust: Trust = NOBODY, most_bytes: int = MOST_UNPACKED
) -> Verified:
    """Copy a bag into a new folder, each file compared with its hashes on the way.

    The folder is a bag again, so that it can be verified later; the tests are in ``data/tests``. It appears
    complete or not at all.

    Parameters
    ----------
    path
        Folder or zip file.
    into
        Folder to be made. It must not exist, or be empty.
    trust
        Whose signatures are accepted; by default unsigned bags and sound signatures of anyone are.
    most_bytes
        Most bytes a zip file may hold.

    Returns
    -------
    Verified

    Raises
    ------
    FormatError
        The bag is changed, the target exists, or the disk is too small.
    UntrustedError
        It is unchanged, but its signature is missing or not accepted, and one is required.
    """
    with opened_bag(Path(path), most_bytes=most_bytes) as source:
        listing = _listing(source)
        with whole_folder(Path(into)) as folder:
            _check_space(source, folder)
            changed = []
            for name in (*listing.hashes, *listing.loose):
                target = folder / name
                target.parent.mkdir(parents=True, exist_ok=True)
                with target.open("xb") as stream:
                    if name in listing.loose:
                        stream.writelines(blocks(source, name))
                    elif problem := _compared(source, listing, name, stream):
                        changed.append(problem)
            return _verified(source, listing, changed, trust)


def _check_space(source: FileSource, folder: Path) -> None:
    needed, free = sum(source.files.values()), shutil.disk_usage(folder).free
    if needed + SPARE_BYTES > free:
        raise FormatError(
            f"it unpacks to {needed} bytes and the disk has {free} free",
            where=source.label,
            remedy="choose another disk",
        )
