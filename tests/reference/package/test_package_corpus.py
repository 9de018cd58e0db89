"""Packages with one defect each are refused with file and remedy; those of other packers are accepted."""

from __future__ import annotations

import hashlib
import io
import shutil
import struct
import unicodedata
import zipfile
import zlib
from typing import TYPE_CHECKING, Any, Final

import pytest

from correlate.errors import FormatError
from correlate.reference.package.create import write_archive
from correlate.reference.package.verify import unpack, verify

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

CHANNEL: Final = "data/tests/drop/T2/Channel/T2.001"
WORDS: Final = "data/description.json"


def listed(bag: Path, functions: tuple[str, ...] = ("sha512",)) -> None:
    """Make every list of a bag true and complete, as who spoils it on purpose would; written by hand."""
    for old in (*bag.glob("manifest-*"), *bag.glob("tagmanifest-*"), bag / "signature.json"):
        old.unlink(missing_ok=True)
    payload = sorted(path for path in (bag / "data").rglob("*") if path.is_file())
    size = sum(path.stat().st_size for path in payload)
    lines = (bag / "bag-info.txt").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("Payload-Oxum")]
    oxum = f"Payload-Oxum: {size}.{len(payload)}"
    (bag / "bag-info.txt").write_text("\n".join([*kept, oxum]) + "\n", encoding="utf-8")
    for function in functions:
        write_list(bag, f"manifest-{function}.txt", function, payload)
    tags = sorted(path for path in bag.iterdir() if path.is_file())
    for function in functions:
        write_list(bag, f"tagmanifest-{function}.txt", function, tags)


def write_list(bag: Path, name: str, function: str, paths: list[Path]) -> None:
    """Write one list."""
    lines = [
        f"{hashlib.new(function, path.read_bytes()).hexdigest()}  {path.relative_to(bag).as_posix()}\n"
        for path in paths
    ]
    (bag / name).write_text("".join(lines), encoding="utf-8")


def without_line(bag: Path, list_name: str, name: str) -> None:
    """Take one file out of a list."""
    lines = (bag / list_name).read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.rstrip("\n").endswith(f"  {name}")]
    assert len(kept) == len(lines) - 1
    (bag / list_name).write_text("".join(kept), encoding="utf-8")


def changed(bag: Path, name: str) -> None:
    """Change one digit of a file."""
    content = (bag / name).read_bytes()
    (bag / name).write_bytes(content[:-2] + bytes([content[-2] ^ 1]) + content[-1:])


def added(bag: Path, *names: str) -> None:
    """Add files and list them everywhere."""
    for name in names:
        (bag / name).parent.mkdir(parents=True, exist_ok=True)
        (bag / name).write_text("x", encoding="utf-8")
    listed(bag)


# Lists ------------------------------------------------------------------------------------------------


def tag_not_listed(bag: Path) -> None:
    """Leave a tag file out of the tag manifest."""
    listed(bag)
    without_line(bag, "tagmanifest-sha512.txt", "bag-info.txt")


def second_tag_manifest_lists_less(bag: Path) -> None:
    """List by two hash functions; leave a file out of the second tag manifest."""
    listed(bag, ("sha512", "sha256"))
    without_line(bag, "tagmanifest-sha256.txt", "bag-info.txt")


def second_manifest_lists_less(bag: Path) -> None:
    """List by two hash functions; leave a payload file out of the second manifest."""
    listed(bag, ("sha512", "sha256"))
    without_line(bag, "manifest-sha256.txt", CHANNEL)
    for function in ("sha512", "sha256"):
        tags = [path for path in bag.iterdir() if path.is_file() and not path.name.startswith("tagm")]
        write_list(bag, f"tagmanifest-{function}.txt", function, sorted(tags))


def tag_manifest_added(bag: Path) -> None:
    """Add a true and complete tag manifest that no signed list names."""
    tags = [path for path in bag.iterdir() if path.is_file() and not path.name.startswith(("tagm", "sig"))]
    write_list(bag, "tagmanifest-sha256.txt", "sha256", sorted(tags))


def second_tag_manifest_missing(bag: Path) -> None:
    """List by two hash functions, with one tag manifest."""
    listed(bag, ("sha512", "sha256"))
    (bag / "tagmanifest-sha256.txt").unlink()


def second_manifest_wrong(bag: Path) -> None:
    """List by two hash functions, with another hash for a payload file in the second."""
    listed(bag, ("sha512", "sha256"))
    text = (bag / "manifest-sha256.txt").read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.endswith(WORDS)]
    (bag / "manifest-sha256.txt").write_text(text.replace(line, f"{'0' * 64}  {WORDS}"), encoding="utf-8")
    for function in ("sha512", "sha256"):
        tags = [path for path in bag.iterdir() if path.is_file() and not path.name.startswith("tagm")]
        write_list(bag, f"tagmanifest-{function}.txt", function, sorted(tags))


def weak_list_added(bag: Path) -> None:
    """Add a list by a weak hash function."""
    (bag / "manifest-md5.txt").write_text("", encoding="utf-8")


def payload_listed_as_tag(bag: Path) -> None:
    """List a payload file in the tag manifest."""
    line = f"{hashlib.sha512((bag / WORDS).read_bytes()).hexdigest()}  {WORDS}\n"
    with (bag / "tagmanifest-sha512.txt").open("a", encoding="utf-8") as lines:
        lines.write(line)


def damaged_manifest_and_payload(bag: Path) -> None:
    """Make a line of the manifest unreadable, and change another file."""
    text = (bag / "manifest-sha512.txt").read_text(encoding="utf-8")
    (bag / "manifest-sha512.txt").write_text("#" + text[1:], encoding="utf-8")
    changed(bag, CHANNEL)


def changed_manifest_and_payload(bag: Path) -> None:
    """Change two files, and the manifest so that it fits one of them."""
    before = hashlib.sha512((bag / CHANNEL).read_bytes()).hexdigest()
    changed(bag, CHANNEL)
    changed(bag, WORDS)
    text = (bag / "manifest-sha512.txt").read_text(encoding="utf-8")
    after = hashlib.sha512((bag / CHANNEL).read_bytes()).hexdigest()
    (bag / "manifest-sha512.txt").write_text(text.replace(before, after), encoding="utf-8")


def two_payload_files(bag: Path) -> None:
    """Change two files."""
    changed(bag, WORDS)
    changed(bag, CHANNEL)


def longer_payload(bag: Path) -> None:
    """Add a byte, so that the stated size is wrong, too."""
    (bag / WORDS).write_bytes((bag / WORDS).read_bytes() + b"\n")


FOLDERS: Final[dict[str, tuple[Callable[[Path], None], str]]] = {
    "tag file not listed": (tag_not_listed, r"'bag-info\.txt' was added: it is in no list"),
    "second tag manifest lists less": (
        second_tag_manifest_lists_less,
        r"'tagmanifest-sha256\.txt' is incomplete: it does not list 'bag-info\.txt'",
    ),
    "second manifest lists less": (
        second_manifest_lists_less,
        rf"'manifest-sha256\.txt' is incomplete: it does not list '{CHANNEL}'",
    ),
    "tag manifest added": (tag_manifest_added, r"'tagmanifest-sha256\.txt' was added"),
    "second tag manifest missing": (second_tag_manifest_missing, r"'tagmanifest-sha256\.txt' is missing"),
    "second manifest wrong": (second_manifest_wrong, rf"'{WORDS}' was changed"),
    "weak list added": (weak_list_added, r"'manifest-md5\.txt' uses a hash function that is not trusted"),
    "payload listed as tag": (payload_listed_as_tag, rf"'{WORDS}' must not be listed in 'tagmanifest"),
    "manifest damaged, payload changed": (
        damaged_manifest_and_payload,
        rf"manifest-sha512\.txt, line 1: .*not confirmed by the lists: .*'{CHANNEL}'",
    ),
    "manifest and payload changed": (
        changed_manifest_and_payload,
        rf"'manifest-sha512\.txt' was changed.*not confirmed by the lists: '{WORDS}'",
    ),
    "two payload files changed": (two_payload_files, rf"'{WORDS}' was changed.*'{CHANNEL}' was changed"),
    "payload longer": (
        longer_payload,
        rf"states a payload of [0-9.]+, found [0-9.]+; not confirmed by the lists: '{WORDS}'",
    ),
    "CON": (lambda bag: added(bag, "data/CON"), "'data/CON' is reserved for a device"),
    "NUL.txt": (lambda bag: added(bag, "data/NUL.txt"), r"'data/NUL\.txt' is reserved for a device"),
    "aux.001": (lambda bag: added(bag, "data/aux.001"), r"'data/aux\.001' is reserved for a device"),
    "COM1": (lambda bag: added(bag, "data/COM1/x.txt"), r"'data/COM1/x\.txt' is reserved for a device"),
    "LPT in superscript": (lambda bag: added(bag, "data/lpt².csv"), "is reserved for a device"),
    "trailing dot": (lambda bag: added(bag, "data/x."), r"'data/x\.' is not allowed on every system"),
    "trailing space": (lambda bag: added(bag, "data/x "), "'data/x ' is not allowed on every system"),
    "stream": (lambda bag: added(bag, "data/x.txt:y"), r"'data/x\.txt:y' is not allowed on every system"),
    "case": (
        lambda bag: added(bag, "data/Description.json"),
        "and 'data/.escription.json' differ only in case",
    ),
    "case of a folder": (
        lambda bag: added(bag, "data/tests/Drop/x.txt"),
        "'data/tests/.rop' and 'data/tests/.rop' differ only in case",
    ),
    "Unicode form": (
        lambda bag: added(bag, "data/größe.txt", unicodedata.normalize("NFD", "data/größe.txt")),
        "differ only in case or in their Unicode form",
    ),
    "order of accents": (
        lambda bag: added(bag, "data/α\u0345\u0301.txt", "data/α\u0301\u0345.txt"),
        "differ only in case or in their Unicode form",
    ),
    "case beyond ASCII": (
        lambda bag: added(bag, "data/Straße.txt", "data/STRASSE.txt"),
        r"'data/STRASSE\.txt' and 'data/Straße\.txt' differ only in case",
    ),
}


@pytest.mark.parametrize(("spoil", "message"), FOLDERS.values(), ids=FOLDERS.keys())
def test_a_folder_with_one_defect_is_refused(
    bag: Path, tmp_path: Path, spoil: Callable[[Path], None], message: str
) -> None:
    """The message names the file, and there is a remedy; unpacking leaves nothing."""
    spoil(bag)
    refused(bag, tmp_path, message)


def refused(path: Path, tmp_path: Path, message: str) -> None:
    """Check that neither verify nor unpack accepts a package."""
    for work in (verify, lambda bag: unpack(bag, tmp_path / "out")):
        with pytest.raises(FormatError, match=message) as error:
            work(path)
        assert error.value.remedy
        assert path.name in error.value.where
    assert not (tmp_path / "out").exists()


# Zip files --------------------------------------------------------------------------------------------


def entries_of(content: bytes) -> list[zipfile.ZipInfo]:
    """Return the entries of a zip file."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return archive.infolist()


def directory_of(content: bytes) -> tuple[int, int]:
    """Return start and length of the directory, read by hand."""
    length, start = struct.unpack("<II", content[-10:-2])
    return start, length


def with_directory(files: bytes, directory: bytes, count: int) -> bytes:
    """Put files and a directory together."""
    end = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, count, count, len(directory), len(files), 0)
    return files + directory + end


def moved(content: bytes, at: int, gap: bytes) -> bytes:
    """Put bytes between files and correct every offset of the directory."""
    start, length = directory_of(content)
    directory = bytearray(content[start : start + length])
    position, count = 0, 0
    while position < length:
        name, extra, comment = struct.unpack("<3H", directory[position + 28 : position + 34])
        (offset,) = struct.unpack("<I", directory[position + 42 : position + 46])
        if offset >= at:
            directory[position + 42 : position + 46] = struct.pack("<I", offset + len(gap))
        position += 46 + name + extra + comment
        count += 1
    return with_directory(content[:at] + gap + content[at:start], bytes(directory), count)


def local_file(name: bytes, data: bytes) -> bytes:
    """Return a file as it stands in a zip file."""
    header = struct.pack(
        "<4s5H3I2H", b"PK\x03\x04", 20, 0, 0, 0, 33, zlib.crc32(data), len(data), len(data), len(name), 0
    )
    return header + name + data


def rewritten(content: bytes, change: Callable[[zipfile.ZipInfo], Any]) -> bytes:
    """Pack again, with a change of every entry."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(target, "w") as archive:
        for entry in source.infolist():
            data = source.read(entry)
            change(entry)
            archive.writestr(entry, data)
    return target.getvalue()


def with_comment(content: bytes) -> bytes:
    """Set the comment of the zip file."""
    return content[:-2] + struct.pack("<H", 5) + b"hello"


def entry_comment(content: bytes) -> bytes:
    """Set a comment of every file."""
    return rewritten(content, lambda entry: setattr(entry, "comment", b"hello"))


def odd_extra(content: bytes) -> bytes:
    """Put bytes into a field beside the names."""
    return rewritten(content, lambda entry: setattr(entry, "extra", struct.pack("<HH", 0x9999, 4) + b"abcd"))


def large_extra(content: bytes) -> bytes:
    """Put many bytes into a field of a known kind."""
    field = struct.pack("<HH", 0x5455, 500) + bytes(500)
    return rewritten(content, lambda entry: setattr(entry, "extra", field))


def position_of(content: bytes, name: str) -> tuple[int, zipfile.ZipInfo]:
    """Return where the bytes of a file begin."""
    (entry,) = [one for one in entries_of(content) if one.filename.endswith(name)]
    header = content[entry.header_offset : entry.header_offset + 30]
    return entry.header_offset + 30 + sum(struct.unpack("<HH", header[26:30])), entry


def replaced(content: bytes, position: int, data: bytes) -> bytes:
    """Replace bytes."""
    return content[:position] + data + content[position + len(data) :]


def other_local_name(content: bytes) -> bytes:
    """Give a file another name in its own header than in the directory."""
    start, entry = position_of(content, WORDS)
    return replaced(content, start - len(entry.filename), b"B")


def other_local_size(content: bytes) -> bytes:
    """State another size in the header of a file."""
    _, entry = position_of(content, WORDS)
    return replaced(content, entry.header_offset + 22, struct.pack("<I", entry.file_size + 1))


def damaged_data(content: bytes) -> bytes:
    """Turn a bit inside the compressed bytes of a file."""
    start, entry = position_of(content, CHANNEL)
    place = start + entry.compress_size // 2
    return replaced(content, place, bytes([content[place] ^ 1]))


def wrong_sum(content: bytes) -> bytes:
    """State another checksum for a file, in both places."""
    _, entry = position_of(content, CHANNEL)
    return content.replace(struct.pack("<I", entry.CRC), struct.pack("<I", entry.CRC ^ 1))


def behind_the_stream(content: bytes) -> bytes:
    """Put bytes behind the end of the compressed content of a file, and count them as its own."""
    start, entry = position_of(content, CHANNEL)
    longer = moved(content, start + entry.compress_size, b"hidden")
    old, new = struct.pack("<I", entry.compress_size), struct.pack("<I", entry.compress_size + 6)
    longer = replaced(longer, entry.header_offset + 18, new)
    name = longer.index(entry.filename.encode(), start + entry.compress_size + 6)
    assert longer[name - 26 : name - 22] == old
    return replaced(longer, name - 26, new)


def two_damaged(content: bytes) -> bytes:
    """Damage the beginning of two compressed files."""
    for name in (WORDS, CHANNEL):
        start, entry = position_of(content, name)
        content = replaced(content, start, bytes(entry.compress_size // 2))
    return content


def cut_off(content: bytes) -> bytes:
    """End the zip file in the middle of a file."""
    start, entry = position_of(content, CHANNEL)
    return content[: start + entry.compress_size // 2]


def twin(content: bytes) -> bytes:
    """List a file twice."""
    target = io.BytesIO(content)
    with zipfile.ZipFile(target, "a") as archive, pytest.warns(UserWarning, match="Duplicate"):
        archive.writestr(f"bag/{WORDS}", "other")
    return target.getvalue()


def folder_entry(name: str) -> Callable[[bytes], bytes]:
    """Return what adds the entry of a folder."""

    def add(content: bytes) -> bytes:
        target = io.BytesIO(content)
        with zipfile.ZipFile(target, "a") as archive:
            archive.writestr(zipfile.ZipInfo(name), b"")
        return target.getvalue()

    return add


def hidden_file(content: bytes) -> bytes:
    """Put a whole file between others that the directory does not list."""
    _, entry = position_of(content, WORDS)
    return moved(content, entry.header_offset, local_file(b"bag/data/hidden.txt", b"secret"))


ZIPS: Final[dict[str, tuple[Callable[[bytes], bytes], str]]] = {
    "bytes in front": (lambda zip_: b"#!/bin/sh\n" + zip_, "bytes stand before the first file"),
    "bytes in front, offsets corrected": (
        lambda zip_: moved(zip_, 0, b"#!/bin/sh\n"),
        "10 bytes that belong to no file stand before 'bag/bag-info.txt'",
    ),
    "bytes behind": (lambda zip_: zip_ + b"hidden", "bytes follow the directory of the zip file"),
    "many bytes behind": (lambda zip_: zip_ + bytes(100_000), "the end of the zip file is damaged"),
    "comment": (with_comment, "bytes follow the directory of the zip file, or a comment"),
    "comment of a file": (entry_comment, "the directory holds a comment .* with 'bag/bag-info.txt'"),
    "bytes between files": (
        lambda zip_: moved(zip_, position_of(zip_, WORDS)[1].header_offset, b"gap"),
        f"3 bytes that belong to no file stand before 'bag/{WORDS}'",
    ),
    "bytes before the directory": (
        lambda zip_: moved(zip_, directory_of(zip_)[0], b"gap"),
        "3 bytes that belong to no file stand before the directory",
    ),
    "file not in the directory": (
        hidden_file,
        "'bag/data/hidden.txt' is in the zip file, but not in its dir",
    ),
    "unknown field": (odd_extra, "'bag/bag-info.txt' has an extra field"),
    "large field": (large_extra, "'bag/bag-info.txt' has an extra field"),
    "other name in the header": (other_local_name, f"'bag/{WORDS}' in the directory is 'Bag/{WORDS}'"),
    "other size in the header": (other_local_size, f"the header of 'bag/{WORDS}' differ"),
    "damaged bytes": (damaged_data, CHANNEL),
    "two files damaged": (two_damaged, f"'bag/{WORDS}'.*'bag/{CHANNEL}'"),
    "wrong checksum": (wrong_sum, CHANNEL),
    "bytes behind a stream": (behind_the_stream, f"'bag/{CHANNEL}' do not end with its content"),
    "cut off": (cut_off, f"the zip file is cut off within 'bag/{CHANNEL}'"),
    "listed twice": (twin, f"contains 'bag/{WORDS}' twice"),
    "empty folder": (
        folder_entry("bag/data/secret-name/"),
        "the folder 'bag/data/secret-name/' holds no file",
    ),
}


@pytest.fixture(scope="module")
def sound_zip(sound_bag: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return a zip file as the program writes it."""
    path = tmp_path_factory.mktemp("zips") / "bag.zip"
    write_archive(sound_bag, path)
    return path.read_bytes()


@pytest.mark.parametrize(("spoil", "message"), ZIPS.values(), ids=ZIPS.keys())
def test_a_zip_file_with_one_defect_is_refused(
    sound_zip: bytes, tmp_path: Path, spoil: Callable[[bytes], bytes], message: str
) -> None:
    """The message names the file where a file is concerned, and there is a remedy."""
    spoilt = spoil(sound_zip)
    assert spoilt != sound_zip
    (tmp_path / "bag.zip").write_bytes(spoilt)
    refused(tmp_path / "bag.zip", tmp_path, message)


def test_a_zip_file_cut_off_anywhere_names_the_file_there(sound_zip: bytes, tmp_path: Path) -> None:
    """In the header of a file, in its name, or one byte before its end."""
    before = "before its first file"
    for entry in entries_of(sound_zip):
        start, _ = position_of(sound_zip, entry.filename)
        for cut, place in (
            (entry.header_offset + 20, before),
            (entry.header_offset + 31, before),
            (start + entry.compress_size - 1, f"within '{entry.filename}'"),
        ):
            (tmp_path / "bag.zip").write_bytes(sound_zip[:cut])
            with pytest.raises(FormatError, match=f"the zip file is cut off {place}"):
                verify(tmp_path / "bag.zip")
        before = f"after '{entry.filename}'"


# Accepted ---------------------------------------------------------------------------------------------


class OneWay(io.BytesIO):
    """A stream that cannot go back, so that sizes and checksums follow each file."""

    def seekable(self) -> bool:
        """Say no."""
        return False

    def tell(self) -> int:
        """Refuse, as a pipe does."""
        raise OSError

    def seek(self, *_: int) -> int:
        """Refuse, as a pipe does."""
        raise OSError


def zipped(
    bag: Path, stream: io.BytesIO, *, root: str = "bag/", wide: bool = False, extra: bytes = b""
) -> bytes:
    """Pack a folder as other programs do."""
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(bag.rglob("*")):
            name = root + path.relative_to(bag).as_posix()
            entry = zipfile.ZipInfo(name + ("/" if path.is_dir() else ""), (2026, 11, 30, 7, 15, 0))
            entry.extra, entry.compress_type = extra, zipfile.ZIP_DEFLATED
            with archive.open(entry, "w", force_zip64=wide) as sink:
                sink.write(b"" if path.is_dir() else path.read_bytes())
    return stream.getvalue()


STAMPS: Final = struct.pack("<HHBI", 0x5455, 5, 1, 1_700_000_000) + struct.pack(
    "<HHBBIBI", 0x7875, 11, 1, 4, 1000, 4, 1000
)
"""Time stamp and owner, as common packers write them."""


@pytest.mark.parametrize(
    "pack",
    [
        lambda bag: zipped(bag, io.BytesIO()),
        lambda bag: zipped(bag, io.BytesIO(), root=""),
        lambda bag: zipped(bag, OneWay()),
        lambda bag: zipped(bag, OneWay(), wide=True),
        lambda bag: zipped(bag, io.BytesIO(), wide=True),
        lambda bag: zipped(bag, io.BytesIO(), extra=STAMPS),
    ],
    ids=["with folders", "without root", "one way", "one way, 64 bit", "64 bit", "time stamps and owners"],
)
def test_zip_files_of_other_packers_are_accepted(
    bag: Path, tmp_path: Path, pack: Callable[[Path], bytes]
) -> None:
    """Folders of their own, sizes behind the files, 64-bit sizes, time stamps."""
    for folder in [path for path in bag.rglob("*") if path.is_dir() and not any(path.iterdir())]:
        folder.rmdir()
    (tmp_path / "bag.zip").write_bytes(pack(bag))
    assert unpack(tmp_path / "bag.zip", tmp_path / "out").signed_by == verify(bag).signed_by


@pytest.mark.parametrize(
    "name",
    [
        "console.txt",
        "auxiliary.001",
        "com.txt",
        "COM10.txt",
        "nul-test.csv",
        "größe.txt",
        "試験.csv",
        ".hidden",
    ],
)
def test_names_that_every_system_can_write_are_accepted(bag: Path, tmp_path: Path, name: str) -> None:
    """Names that only resemble reserved ones, and letters of other languages; in folder and zip file."""
    added(bag, f"data/{name}")
    verify(bag)
    write_archive(bag, tmp_path / "bag.zip")
    verify(tmp_path / "bag.zip")


def test_two_complete_sets_of_lists_are_accepted(bag: Path) -> None:
    """SHA-256 and SHA-512, each with all files."""
    listed(bag, ("sha256", "sha512"))
    assert verify(bag).algorithm == "sha512"
    listed(bag, ("sha256",))
    assert verify(bag).algorithm == "sha256"


def test_a_system_packer_is_accepted(bag: Path, tmp_path: Path) -> None:
    """As the standard library packs a folder."""
    made = shutil.make_archive(str(tmp_path / "packed"), "zip", bag.parent, bag.name)
    assert verify(made).files == verify(bag).files
