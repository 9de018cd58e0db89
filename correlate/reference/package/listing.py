"""Comparison of the manifests of a bag with its files, and of the bytes of a file with its size."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.reference.package.manifest import HASHES, parsed_manifest, parsed_tags
from correlate.reference.package.names import check_names
from correlate.reference.package.place import DAMAGE
from correlate.reference.package.signature import SIGNATURE_FILE, PublicKey, parsed_signature

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from correlate.reference.package.place import Place

BLOCK: Final = 2**20
"""Bytes read at a time."""
LARGEST_TAG_FILE: Final = 2**26
"""Most bytes of a list or of the description of a bag."""
VERSIONS: Final = frozenset({"0.97", "1.0"})
_MANIFEST: Final = re.compile(r"(tag)?manifest-([a-z0-9]+)\.txt")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """What a bag says about itself, checked for consistency but not yet against the bytes.

    Attributes
    ----------
    algorithm
        Strongest hash function of the lists.
    hashes
        Expected hash of every file, payload and tags, by path.
    loose
        Files that no list can hold: the tag manifests and the signature.
    info
        ``bag-info.txt``.
    signed_by
        Key of the signature.
    """

    algorithm: str
    hashes: Mapping[str, str]
    loose: tuple[str, ...]
    info: Mapping[str, list[str]]
    signed_by: PublicKey | None


def read_listing(place: Place, key: PublicKey | None) -> Listing:
    """Read the lists of a bag and compare them with the files that are there.

    Parameters
    ----------
    place
        The bag.
    key
        Whose signature it must bear, or None.

    Returns
    -------
    Listing

    Raises
    ------
    FormatError
        A list is missing or damaged, a listed file is missing, a file is not listed, sizes disagree, or the
        signature is missing or wrong.
    """
    if "bagit.txt" not in place.files:
        raise _refused(place, "there is no bagit.txt, so this is no package")
    _check_declaration(place)
    if "fetch.txt" in place.files:
        raise _refused(place, "fetch.txt requests files from elsewhere, which is not supported")
    payload = _strongest(place, "manifest")
    tags = _strongest(place, "tagmanifest")
    if payload[0] != tags[0]:
        raise _refused(place, f"the files are listed by {payload[0]} and the lists by {tags[0]}")
    listed = {**payload[1], **tags[1]}
    _check_kinds(place, payload[1], tags[1])
    loose = tuple(
        name for name in place.files if name == SIGNATURE_FILE or re.fullmatch(r"tagmanifest-.*\.txt", name)
    )
    _check_presence(place, listed, loose)
    info = parsed_tags(_small(place, "bag-info.txt"), name="bag-info.txt", label=place.label)
    _check_size(place, info, payload[1])
    signed_by = _checked_signature(place, f"tagmanifest-{tags[0]}.txt", key)
    return Listing(algorithm=payload[0], hashes=listed, loose=loose, info=info, signed_by=signed_by)


def blocks(place: Place, name: str) -> Iterator[bytes]:
    """Yield the bytes of a file, refusing one that holds more than it says.

    Parameters
    ----------
    place
        The bag.
    name
        File in it.

    Yields
    ------
    bytes

    Raises
    ------
    FormatError
        The file is damaged or of another size than stated.
    """
    left = place.files[name]
    with place.open(name) as stream:
        while block := _read(stream, place, name):
            left -= len(block)
            if left < 0:
                break
            yield block
    if left != 0:
        raise _refused(place, f"'{name}' has a different size than stated")


def check_digest(found: str, expected: str, name: str, label: str) -> None:
    """Refuse a file whose hash is not the listed one.

    Parameters
    ----------
    found, expected
        Hexadecimal.
    name
        File in the bag.
    label
        The bag.

    Raises
    ------
    FormatError
        They differ.
    """
    if found != expected:
        raise FormatError(
            f"'{name}' was changed: its hash differs from the listed one",
            where=label,
            remedy="do not use this package; ask for it again",
        )


def _read(stream: IO[bytes], place: Place, name: str) -> bytes:
    try:
        return stream.read(BLOCK)
    except (*DAMAGE, OSError) as error:
        raise _refused(place, f"'{name}' is damaged") from error


def _refused(place: Place, what: str) -> FormatError:
    return FormatError(what, where=place.label, remedy="do not use this package; ask for it again")


def _small(place: Place, name: str) -> bytes:
    if name not in place.files:
        raise _refused(place, f"'{name}' is missing")
    if place.files[name] > LARGEST_TAG_FILE:
        raise _refused(place, f"'{name}' is too large for what it is")
    return b"".join(blocks(place, name))


def _check_declaration(place: Place) -> None:
    tags = parsed_tags(_small(place, "bagit.txt"), name="bagit.txt", label=place.label)
    version, encoding = tags.get("BagIt-Version", [""]), tags.get("Tag-File-Character-Encoding", [""])
    if version[0] not in VERSIONS or encoding[0].upper() != "UTF-8":
        raise _refused(place, f"bagit.txt declares version '{version[0]}' in '{encoding[0]}'")


def _strongest(place: Place, kind: str) -> tuple[str, dict[str, str]]:
    """Return the hash function and the content of the strongest list of a kind."""
    there = [name for name in place.files if re.fullmatch(rf"{kind}-.*\.txt", name)]
    for algorithm in HASHES:
        name = f"{kind}-{algorithm}.txt"
        if name in there:
            listed = parsed_manifest(_small(place, name), name=name, label=place.label)
            check_names(list(listed), f"{place.label}, {name}")
            return algorithm, listed
    raise _refused(place, f"there is no {kind} with {' or '.join(HASHES)}")


def _check_kinds(place: Place, payload: Mapping[str, str], tags: Mapping[str, str]) -> None:
    for name in payload:
        if not name.startswith("data/"):
            raise _refused(place, f"'{name}' is listed as payload, but is not in data/")
    for name in tags:
        if name.startswith("data/") or name == SIGNATURE_FILE or _is_tag_manifest(name):
            raise _refused(place, f"'{name}' is listed as a tag file")


def _is_tag_manifest(name: str) -> bool:
    match = _MANIFEST.fullmatch(name)
    return bool(match and match[1])


def _check_presence(place: Place, listed: Mapping[str, str], loose: tuple[str, ...]) -> None:
    for name in listed:
        if name not in place.files:
            raise _refused(place, f"'{name}' is missing")
    for name in place.files:
        if name not in listed and name not in loose:
            raise _refused(place, f"'{name}' was added: it is in no list")
    for name in loose:
        if name != SIGNATURE_FILE:
            _check_tag_manifest(place, name)


def _check_tag_manifest(place: Place, name: str) -> None:
    """Compare the small files that a tag manifest lists, for there may be one by each hash function."""
    algorithm = name.removeprefix("tagmanifest-").removesuffix(".txt")
    if algorithm not in HASHES:
        raise _refused(place, f"'{name}' uses a hash function that is not trusted")
    for tag, expected in parsed_manifest(_small(place, name), name=name, label=place.label).items():
        found = hashlib.new(algorithm, _small(place, tag)).hexdigest()
        check_digest(found, expected, tag, place.label)


def _check_size(place: Place, info: Mapping[str, list[str]], payload: Mapping[str, str]) -> None:
    stated = info.get("Payload-Oxum", [])
    found = f"{sum(place.files[name] for name in payload)}.{len(payload)}"
    if stated != [found]:
        raise _refused(place, f"bag-info.txt states a payload of {stated or 'nothing'}, found {found}")


def _checked_signature(place: Place, signed: str, key: PublicKey | None) -> PublicKey | None:
    if SIGNATURE_FILE not in place.files:
        if key is not None:
            raise _refused(place, "it is not signed, but a signature is required")
        return None
    where = f"{place.label}, {SIGNATURE_FILE}"
    found, signature, signs = parsed_signature(_small(place, SIGNATURE_FILE), where=where)
    if signs != signed or not found.verifies(_small(place, signed), signature):
        raise _refused(place, f"the signature does not match '{signed}'")
    if key is not None and found.raw != key.raw:
        raise _refused(place, f"it is signed by {found.fingerprint}, not by {key.fingerprint}")
    return found
