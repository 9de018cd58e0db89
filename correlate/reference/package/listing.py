"""The lists of a package: paths, hashes, tags."""

from __future__ import annotations

import hashlib
import re
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import DAMAGE, ArchiveSource, first_bytes, opened_source, refuse_odd
from correlate.limits import MOST_UNPACKED
from correlate.reference.package.names import check_names
from correlate.reference.package.signature import SIGNATURE_FILE, checked_signature
from correlate.reference.package.zip_layout import check_layout, check_streams

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from collections.abc import Set as AbstractSet
    from pathlib import Path

    from correlate.files import FileSource, FolderSource
    from correlate.reference.package.signature import Signature
    from correlate.reference.package.zip_layout import ZipEntry


@contextmanager
def opened_bag(path: Path, *, most_bytes: int = MOST_UNPACKED) -> Iterator[FolderSource | ArchiveSource]:
    """Open a bag; in a zip file, every byte is accounted for."""
    entries = [] if path.is_dir() else check_layout(path)
    with opened_source(path, most_bytes=most_bytes) as source:
        refuse_odd(source)
        check_names(source.names, source.label)
        if isinstance(source, ArchiveSource):
            check_streams(path, entries)
            _refuse_empty_folders(source, entries)
            label = source.label
            source.enter(_common_root(list(source.files)))
            source.label = label
        yield source


def _refuse_empty_folders(source: ArchiveSource, entries: list[ZipEntry]) -> None:
    """Refuse folders of a zip file that hold bytes, or no file: no list can name them."""
    for entry in entries:
        if entry.name.endswith("/") and (
            entry.size or not any(name.startswith(entry.name) for name in source.names)
        ):
            raise _refused(source, f"the folder '{entry.name}' holds no file, so that no list can name it")


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
        path = _decoded(match[3])
        if path in listed:
            raise FormatError(
                f"'{path}' is listed twice",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        listed[path] = match[1]
    return listed


def _decoded(path: str) -> str:
    return re.sub("%0[AaDd]|%25", lambda found: _ENCODED[found[0]], path)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """What a bag says about itself: its lists are complete, the files are not yet compared.

    Attributes
    ----------
    algorithm
        Strongest hash function of the lists.
    hashes
        Expected hashes of every file, payload and tags, by path and hash function.
    loose
        Files that no list can hold: the tag manifests and the signature.
    info
        ``bag-info.txt``.
    signature
        Sound, but not yet trusted; None when the bag is not signed.
    """

    algorithm: str
    hashes: Mapping[str, Mapping[str, str]]
    loose: tuple[str, ...]
    info: Mapping[str, list[str]]
    signature: Signature | None


def read_listing(source: FileSource) -> Listing:
    """Read the lists of a bag and compare them with the files that are there."""
    if "bagit.txt" not in source.files:
        raise _refused(source, "there is no bagit.txt, so this is no package")
    _check_declaration(source)
    if "fetch.txt" in source.files:
        raise _refused(source, "fetch.txt requests files from elsewhere, which is not supported")
    payload, tags = _lists(source, "manifest"), _lists(source, "tagmanifest")
    _check_functions(source, payload, tags)
    loose = tuple(name for name in source.files if name == SIGNATURE_FILE or name.startswith("tagmanifest-"))
    inside = {name for name in source.files if name.startswith("data/")}
    _check_complete(source, "tagmanifest", tags, source.files.keys() - inside - set(loose))
    for algorithm, listed in tags.items():
        for name, expected in listed.items():
            if hashlib.new(algorithm, _small(source, name)).hexdigest() != expected:
                what = f"'{name}' was changed: its hash differs from that in 'tagmanifest-{algorithm}.txt'"
                raise _refused(source, what)
    _check_complete(source, "manifest", payload, inside)
    info = parsed_tags(_small(source, "bag-info.txt"), name="bag-info.txt", label=source.label)
    _check_size(source, info, inside)
    hashes: dict[str, dict[str, str]] = {}
    for lists in (payload, tags):
        for algorithm, listed in lists.items():
            for name, expected in listed.items():
                hashes.setdefault(name, {})[algorithm] = expected
    strongest = next(algorithm for algorithm in HASHES if algorithm in tags)
    signature = _signature_of(source, f"tagmanifest-{strongest}.txt")
    return Listing(algorithm=strongest, hashes=hashes, loose=loose, info=info, signature=signature)


def unconfirmed(source: FileSource) -> list[str]:
    """Return the payload files that the lists do not confirm, as far as damaged lists can be read."""
    known: dict[str, dict[str, str]] = {}
    for algorithm, length in HASHES.items():
        try:
            text = _small(source, f"manifest-{algorithm}.txt").decode("utf-8", errors="replace")
        except FormatError:
            continue
        for line in text.splitlines():
            match = _LINE.fullmatch(line)
            if match and len(match[1]) == length:
                known.setdefault(_decoded(match[3]), {})[algorithm] = match[1]
    return [
        name
        for name in source.files
        if name.startswith("data/") and not _is_confirmed(source, name, known.get(name, {}))
    ]


def _is_confirmed(source: FileSource, name: str, expected: Mapping[str, str]) -> bool:
    digests = Digests(expected)
    try:
        for block in blocks(source, name):
            digests.update(block)
    except FormatError:
        return False
    return bool(expected) and digests.agree


class Digests:
    """Hashes of a file by every function that its lists use."""

    def __init__(self, expected: Mapping[str, str]) -> None:
        self._expected = expected
        self._found = {algorithm: hashlib.new(algorithm) for algorithm in expected}

    def update(self, block: bytes) -> None:
        """Add the next bytes."""
        for digest in self._found.values():
            digest.update(block)

    @property
    def agree(self) -> bool:
        """Whether every hash is the listed one."""
        return all(self._found[name].hexdigest() == expected for name, expected in self._expected.items())


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
        raise _refused(source, f"'{name}' has a different size than stated")


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


def _lists(source: FileSource, kind: str) -> dict[str, dict[str, str]]:
    """Return every list of a kind by its hash function."""
    there = [name for name in source.files if re.fullmatch(rf"{kind}-.*", name)]
    known = [algorithm for algorithm in HASHES if f"{kind}-{algorithm}.txt" in there]
    if not known:
        raise _refused(source, f"there is no {kind} with {' or '.join(HASHES)}")
    found = {}
    for name in there:
        algorithm = name.removeprefix(f"{kind}-").removesuffix(".txt")
        if name != f"{kind}-{algorithm}.txt" or algorithm not in HASHES:
            raise _refused(source, f"'{name}' uses a hash function that is not trusted")
        found[algorithm] = parsed_manifest(_small(source, name), name=name, label=source.label)
        check_names(list(found[algorithm]), f"{source.label}, {name}")
    return found


def _check_functions(source: FileSource, payload: Mapping[str, object], tags: Mapping[str, object]) -> None:
    """Refuse a tag manifest without its manifest, which nothing would list, and the reverse."""
    for algorithm in HASHES:
        if algorithm in tags and algorithm not in payload:
            what = f"'tagmanifest-{algorithm}.txt' was added: there is no manifest-{algorithm}.txt"
            raise _refused(source, what)
        if algorithm in payload and algorithm not in tags:
            raise _refused(source, f"'tagmanifest-{algorithm}.txt' is missing")


def _check_complete(
    source: FileSource, kind: str, lists: Mapping[str, Mapping[str, str]], there: AbstractSet[str]
) -> None:
    """Refuse lists of a kind that do not each name exactly the files that are there."""
    for algorithm, listed in lists.items():
        for name in listed:
            if name in there:
                continue
            if name in source.files:
                raise _refused(source, f"'{name}' must not be listed in '{kind}-{algorithm}.txt'")
            raise _refused(source, f"'{name}' is missing, which '{kind}-{algorithm}.txt' lists")
    for name in sorted(there):
        lacking = [algorithm for algorithm, listed in lists.items() if name not in listed]
        if len(lacking) == len(lists):
            raise _refused(source, f"'{name}' was added: it is in no list")
        if lacking:
            raise _refused(source, f"'{kind}-{lacking[0]}.txt' is incomplete: it does not list '{name}'")


def _check_size(source: FileSource, info: Mapping[str, list[str]], payload: AbstractSet[str]) -> None:
    stated = info.get("Payload-Oxum", [])
    found = f"{sum(source.files[name] for name in payload)}.{len(payload)}"
    if stated != [found]:
        raise _refused(
            source, f"bag-info.txt states a payload of {' and '.join(stated) or 'nothing'}, found {found}"
        )


def _signature_of(source: FileSource, signed: str) -> Signature | None:
    if SIGNATURE_FILE not in source.files:
        return None
    where = f"{source.label}, {SIGNATURE_FILE}"
    return checked_signature(
        _small(source, SIGNATURE_FILE), _small(source, signed), signs=signed, where=where
    )


def stored_signature(folder: Path, *, where: str) -> Signature | None:
    """Return the signature of a bag in a folder, reading only the list that it signs."""
    if not (folder / SIGNATURE_FILE).is_file():
        return None
    algorithm = next((one for one in HASHES if (folder / f"tagmanifest-{one}.txt").is_file()), "sha512")
    signed = f"tagmanifest-{algorithm}.txt"
    data, manifest = (first_bytes(folder / name, LARGEST_TAG_FILE) for name in (SIGNATURE_FILE, signed))
    return checked_signature(data, manifest, signs=signed, where=f"{where}, {SIGNATURE_FILE}")
