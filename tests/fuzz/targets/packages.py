"""Packages of reference data, their notes and keys, and signed documents."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from correlate.errors import SettingsError
from correlate.reference.package.create import PackagePlan, make_package
from correlate.reference.package.description import load_words
from correlate.reference.package.document import sign_document, verify_document
from correlate.reference.package.keys import load_signer
from correlate.reference.package.media import media_file, package_media
from correlate.reference.package.received import (
    PackageRelease,
    ReceivedPackage,
    package_tests,
    receive_package,
    received_packages,
)
from correlate.reference.package.trust import trust_in
from correlate.reference.package.verify import unpack, verify
from tests.fuzz.rounds import Target
from tests.fuzz.watching import Wrong
from tests.reference.folders import write_pulse
from tests.reference.package.key_files import key_pair
from tests.reference.package.media_files import write_words

if TYPE_CHECKING:
    from pathlib import Path

    from tests.fuzz.mutations import Case

_TRACED = ("correlate/reference/package", "correlate/files.py")
_MOMENT = datetime(2026, 3, 4, 12, tzinfo=UTC)
_DERIVED = ("manifest-sha512.txt", "tagmanifest-sha512.txt", "signature.json")


def _bag(folder: Path) -> Path:
    """Make a small package with photos and films."""
    plan = PackagePlan(
        tests=[write_pulse(folder, f"T{number}", number) for number in (1, 2)],
        checked_by="lab",
        words=load_words(write_words(folder / "words")),
        despite="two repeats are enough here",
        checked_at=_MOMENT,
    )
    make_package(plan, folder / "bag")
    return folder / "bag"


def _files_of(folder: Path) -> Case:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


# The zip file -----------------------------------------------------------------------------------------


def _zip_seeds(_: Path) -> list[Case]:
    return [{"bag.zip": _small_bag()}]


def _small_bag() -> bytes:
    """Pack a bag of two files, whose headers are a large part of it."""
    return _packed({"data/a.txt": b"a\n" * 40, "data/b/c.txt": b"c\n"})


def _packed(files: Case) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in _with_lists(files).items():
            made.writestr(zipfile.ZipInfo(f"bag/{name}"), content, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _with_lists(files: Case) -> Case:
    """Return a bag with the lists and the size that belong to its files, so that every byte is believed."""
    kept = {name: content for name, content in files.items() if name not in _DERIVED}
    data = {name: content for name, content in kept.items() if name.startswith("data/")}
    kept.setdefault("bagit.txt", b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    oxum = f"Payload-Oxum: {sum(map(len, data.values()))}.{len(data)}\n".encode()
    info = [
        line for line in kept.get("bag-info.txt", b"").split(b"\n") if not line.startswith(b"Payload-Oxum")
    ]
    kept["bag-info.txt"] = b"\n".join(info).rstrip(b"\n") + b"\n" * bool(b"".join(info)) + oxum
    kept["manifest-sha512.txt"] = _listed(data)
    tags = {name: content for name, content in kept.items() if not name.startswith("data/")}
    return kept | {"tagmanifest-sha512.txt": _listed(tags)}


def _listed(files: Case) -> bytes:
    lines = [
        f"{hashlib.sha512(content).hexdigest()}  {name.replace('%', '%25')}\n"
        for name, content in files.items()
    ]
    return "".join(lines).encode("utf-8", "surrogatepass")


def _verify(files: Path) -> None:
    verified = verify(files / "bag.zip")
    unpack(files / "bag.zip", files.parent / "out" / "bag")
    again = verify(files.parent / "out" / "bag")
    if (again.files, again.payload_bytes) != (verified.files, verified.payload_bytes):
        raise Wrong("a package differs after it was unpacked")


# What is in a package ------------------------------------------------------------------------------------


def _contents_seeds(folder: Path) -> list[Case]:
    files = _files_of(_bag(folder))
    return [{name: content for name, content in files.items() if name not in _DERIVED}]


def _assemble_bag(case: Case, folder: Path) -> None:
    (folder / "bag.zip").write_bytes(_packed(case))


def _receive(files: Path) -> None:
    project = files.parent / "out"
    package = receive_package(project, files / "bag.zip")
    [found] = received_packages(project)
    if found != package:
        raise Wrong(f"the note of the package differs: {found}")
    folder = project / package.folder
    for one in package_media(folder):
        media_file(folder, one.file)
    left = [path.name for path in project.iterdir() if path.name not in {"received", "quarantine"}]
    if left:
        raise Wrong(f"left behind: {left}")


_RELEASE = PackageRelease(who="lab", when="2026-03-04T12:00:00+00:00", why="seen", errors=1)


def _note_seeds(_: Path) -> list[Case]:
    package = ReceivedPackage(
        name="bag", quarantine=False, findings=("T1: is off",), errors=1, released=_RELEASE
    )
    files = {"received/bag/data/tests/drop/T1.csv": b"t\n"}
    return [files | {"received/bag.json": json.dumps(package.as_plain()).encode()}]


def _read_note(files: Path) -> None:
    for package in received_packages(files):
        if package.problem:
            raise SettingsError(package.problem, where=package.name)
        json.dumps(package.as_plain()).encode()
        if package.released is not None and not package.released.words.isprintable():
            raise Wrong("the words of the release cannot be printed")
        if not all(isinstance(one, str) for one in (package.distrust, package.signed_by)):
            raise Wrong("a text of the note is none")
        package_tests(files, package)


# Keys and documents ------------------------------------------------------------------------------------

_REVOKED = """\
[[revoked]]
fingerprint = "0123 4567 89ab cdef 0123 4567 89ab cdef"
date = 2026-03-04
reason = "lost"
"""


def _key_seeds(folder: Path) -> list[Case]:
    key_pair(folder / "lab.key")
    return [{"lab.pub": (folder / "lab.key.pub").read_bytes(), "revoked.toml": _REVOKED.encode()}]


def _private_seeds(folder: Path) -> list[Case]:
    key_pair(folder / "lab.key", passphrase="")
    return [{name: (folder / name).read_bytes() for name in ("lab.key", "lab.key.pub")}]


def _document_seeds(folder: Path) -> list[Case]:
    key_pair(folder / "lab.key", passphrase="")
    path, content = folder / "record.html", b"<p>record</p>\n"
    signature = sign_document(path, content, load_signer(folder / "lab.key"), moment=_MOMENT)
    return [{"record.html": content, signature.name: signature.read_bytes()}]


def _verify_document(files: Path) -> None:
    words = verify_document(files / "record.html").words
    if not words.replace("\n", "").isprintable():
        raise Wrong("the words about the signature cannot be printed")


def _trust(files: Path) -> None:
    trust_in(files)


def _load(files: Path) -> None:
    load_signer(files / "lab.key")


TARGETS = (
    Target(name="package-zip", seeds=_zip_seeds, run=_verify, traced=_TRACED, inputs=200),
    Target(
        name="package-contents",
        seeds=_contents_seeds,
        run=_receive,
        traced=_TRACED,
        inputs=20,
        assemble=_assemble_bag,
    ),
    Target(
        name="package-note",
        seeds=_note_seeds,
        run=_read_note,
        traced=_TRACED,
        inputs=80,
        fixed=frozenset({"received/bag/data/tests/drop/T1.csv"}),
    ),
    Target(name="keys", seeds=_key_seeds, run=_trust, traced=_TRACED, inputs=80),
    Target(
        name="private-key",
        seeds=_private_seeds,
        run=_load,
        traced=_TRACED,
        inputs=60,
    ),
    Target(name="document", seeds=_document_seeds, run=_verify_document, traced=_TRACED, inputs=60),
)
