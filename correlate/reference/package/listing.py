"""The lists of a package: paths, hashes, tags."""

from __future__ import annotations

import hashlib
import re
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import DAMAGE, MOST_BYTES, ArchiveSource, opened_source, refuse_odd
from correlate.reference.package.signature import SIGNATURE_FILE, PublicKey, parsed_signature

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from correlate.files import FileSource, FolderSource


LONGEST_NAME: Final = 1024
"""Most characters of a path within a bag."""
_DRIVE: Final = re.compile(r"[A-Za-z]:")


def check_names(names: list[str], label: str) -> None:
    """Refuse paths that lead elsewhere, that some system cannot write, or that only differ in capitals.

    Examples
    --------
    >>> check_names(["data/tests/KM01/KM01.mme"], "bag")
    """
    folded: dict[str, str] = {}
    for name in names:
        reason = _reason_against(name)
        if reason:
            raise FormatError(
                f"the name {name[:80]!r} {reason}",
                where=label,
                remedy="do not use this package; ask for it again",
            )
        other = folded.setdefault(name.casefold(), name)
        if other != name:
            raise FormatError(
                f"'{other}' and '{name}' differ only in case",
                where=label,
                remedy="rename one of them: some systems treat them as one file",
            )


def _reason_against(name: str) -> str:
    if not name or len(name) > LONGEST_NAME:
        return "is empty or too long"
    if name.startswith("/") or _DRIVE.match(name):
        return "is an absolute path"
    if "\\" in name or not name.isprintable():
        return "holds a backslash or a control character"
    parts = name.split("/")
    if any(part in {"", ".", ".."} for part in parts):
        return "leads elsewhere"
    if any(part.endswith((" ", ".")) or set(part) & set(':*?"<>|') for part in parts):
        return "cannot be written on every system"
    return ""


@contextmanager
def opened_bag(path: Path, *, most_bytes: int = MOST_BYTES) -> Iterator[FolderSource | ArchiveSource]:
    """Open a bag."""
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


HASHES: Final = {"sha512": 128, "sha256": 64}
"""Hash functions a bag is trusted by, strongest first, and their length in hexadecimal digits."""
_LINE: Final = re.compile(r"([0-9a-f]+)(  ?)(\S.*)")
_ENCODED: Final = {"%0A": "\n", "%0a": "\n", "%0D": "\r", "%0d": "\r", "%25": "%"}


def parsed_manifest(data: bytes, *, name: str, label: str) -> dict[str, str]:
    """Read a manifest."""
    algorithm = name.removeprefix("tag").removeprefix("manifest-").removesuffix(".txt")
    where = f"{label}, {name}"
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise FormatError("the list is not UTF-8", where=where, remedy="ask for the package again") from None
    if text and not text.endswith("\n"):
        raise FormatError("the last line is cut off", where=where, remedy="ask for the package again")
    listed: dict[str, str] = {}
    for number, line in enumerate(text.split("\n")[:-1], start=1):
        match = _LINE.fullmatch(line.removesuffix("\r"))
        if not match or len(match[1]) != HASHES.get(algorithm, -1):
            raise FormatError(
                f"the line is not a {algorithm} hash in lower-case hexadecimal and a path",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        path = re.sub("%0[AaDd]|%25", lambda found: _ENCODED[found[0]], match[3])
        if path in listed:
            raise FormatError(
                f"'{path}' is listed twice",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        listed[path] = match[1]
    return listed


def parsed_tags(data: bytes, *, name: str, label: str) -> dict[str, list[str]]:
    """Read a file of ``Label: value`` lines, such as ``bag-info.txt``."""
    where = f"{label}, {name}"
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise FormatError("the file is not UTF-8", where=where, remedy="ask for the package again") from None
    tags: dict[str, list[str]] = {}
    last = ""
    for number, line in enumerate(lines, start=1):
        if line[:1] in {" ", "\t"} and last:
            tags[last][-1] += " " + line.strip()
            continue
        key, colon, value = line.partition(":")
        if not colon or not key.strip():
            raise FormatError(
                "the line is not of the form 'label: value'",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        last = key.strip()
        tags.setdefault(last, []).append(value.strip())
    return tags


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


def read_listing(source: FileSource, key: PublicKey | None) -> Listing:
    """Read the lists of a bag and compare them with the files that are there."""
    if "bagit.txt" not in source.files:
        raise _refused(source, "there is no bagit.txt, so this is no package")
    _check_declaration(source)
    if "fetch.txt" in source.files:
        raise _refused(source, "fetch.txt asks to load files from elsewhere, which is not done")
    payload = _strongest(source, "manifest")
    tags = _strongest(source, "tagmanifest")
    if payload[0] != tags[0]:
        raise _refused(source, f"the files are listed by {payload[0]} and the lists by {tags[0]}")
    listed = {**payload[1], **tags[1]}
    _check_kinds(source, payload[1], tags[1])
    loose = tuple(
        name for name in source.files if name == SIGNATURE_FILE or re.fullmatch(r"tagmanifest-.*\.txt", name)
    )
    _check_presence(source, listed, loose)
    info = parsed_tags(_small(source, "bag-info.txt"), name="bag-info.txt", label=source.label)
    _check_size(source, info, payload[1])
    signed_by = _checked_signature(source, f"tagmanifest-{tags[0]}.txt", key)
    return Listing(algorithm=payload[0], hashes=listed, loose=loose, info=info, signed_by=signed_by)


def blocks(source: FileSource, name: str) -> Iterator[bytes]:
    """Yield the bytes of a file, refusing one that holds more than it says."""
    left = source.files[name]
    with source.open(name) as stream:
        while block := _read(stream, source, name):
            left -= len(block)
            if left < 0:
                break
            yield block
    if left != 0:
        raise _refused(source, f"'{name}' is of another size than stated")


def check_digest(found: str, expected: str, name: str, label: str) -> None:
    """Refuse a file whose hash is not the listed one."""
    if found != expected:
        raise FormatError(
            f"'{name}' was changed: its hash differs from the listed one",
            where=label,
            remedy="do not use this package; ask for it again",
        )


def _read(stream: IO[bytes], source: FileSource, name: str) -> bytes:
    try:
        return stream.read(BLOCK)
    except (*DAMAGE, OSError) as error:
        raise _refused(source, f"'{name}' is damaged") from error


def _refused(source: FileSource, what: str) -> FormatError:
    return FormatError(what, where=source.label, remedy="do not use this package; ask for it again")


def _small(source: FileSource, name: str) -> bytes:
    if name not in source.files:
        raise _refused(source, f"'{name}' is missing")
    if source.files[name] > LARGEST_TAG_FILE:
        raise _refused(source, f"'{name}' is too large for what it is")
    return b"".join(blocks(source, name))


def _check_declaration(source: FileSource) -> None:
    tags = parsed_tags(_small(source, "bagit.txt"), name="bagit.txt", label=source.label)
    version, encoding = tags.get("BagIt-Version", [""]), tags.get("Tag-File-Character-Encoding", [""])
    if version[0] not in VERSIONS or encoding[0].upper() != "UTF-8":
        raise _refused(source, f"bagit.txt declares version '{version[0]}' in '{encoding[0]}'")


def _strongest(source: FileSource, kind: str) -> tuple[str, dict[str, str]]:
    """Return the hash function and the content of the strongest list of a kind."""
    there = [name for name in source.files if re.fullmatch(rf"{kind}-.*\.txt", name)]
    for algorithm in HASHES:
        name = f"{kind}-{algorithm}.txt"
        if name in there:
            listed = parsed_manifest(_small(source, name), name=name, label=source.label)
            check_names(list(listed), f"{source.label}, {name}")
            return algorithm, listed
    raise _refused(source, f"there is no {kind} with {' or '.join(HASHES)}")


def _check_kinds(source: FileSource, payload: Mapping[str, str], tags: Mapping[str, str]) -> None:
    for name in payload:
        if not name.startswith("data/"):
            raise _refused(source, f"'{name}' is listed as payload and does not lie in data/")
    for name in tags:
        if name.startswith("data/") or name == SIGNATURE_FILE or _is_tag_manifest(name):
            raise _refused(source, f"'{name}' is listed as a tag file")


def _is_tag_manifest(name: str) -> bool:
    match = _MANIFEST.fullmatch(name)
    return bool(match and match[1])


def _check_presence(source: FileSource, listed: Mapping[str, str], loose: tuple[str, ...]) -> None:
    for name in listed:
        if name not in source.files:
            raise _refused(source, f"'{name}' is missing")
    for name in source.files:
        if name not in listed and name not in loose:
            raise _refused(source, f"'{name}' was added: no list holds it")
    for name in loose:
        if name != SIGNATURE_FILE:
            _check_tag_manifest(source, name)


def _check_tag_manifest(source: FileSource, name: str) -> None:
    """Compare the small files that a tag manifest lists, for there may be one by each hash function."""
    algorithm = name.removeprefix("tagmanifest-").removesuffix(".txt")
    if algorithm not in HASHES:
        raise _refused(source, f"'{name}' is a list by a hash function that is not trusted")
    for tag, expected in parsed_manifest(_small(source, name), name=name, label=source.label).items():
        found = hashlib.new(algorithm, _small(source, tag)).hexdigest()
        check_digest(found, expected, tag, source.label)


def _check_size(source: FileSource, info: Mapping[str, list[str]], payload: Mapping[str, str]) -> None:
    stated = info.get("Payload-Oxum", [])
    found = f"{sum(source.files[name] for name in payload)}.{len(payload)}"
    if stated != [found]:
        raise _refused(source, f"bag-info.txt states a payload of {stated or 'nothing'}, found {found}")


def _checked_signature(source: FileSource, signed: str, key: PublicKey | None) -> PublicKey | None:
    if SIGNATURE_FILE not in source.files:
        if key is not None:
            raise _refused(source, "it is not signed, and a signature was asked for")
        return None
    where = f"{source.label}, {SIGNATURE_FILE}"
    found, signature, signs = parsed_signature(_small(source, SIGNATURE_FILE), where=where)
    if signs != signed or not found.verifies(_small(source, signed), signature):
        raise _refused(source, f"the signature does not fit '{signed}'")
    if key is not None and found.raw != key.raw:
        raise _refused(source, f"it is signed by {found.fingerprint}, not by {key.fingerprint}")
    return found
