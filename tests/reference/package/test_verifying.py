"""A bag is refused for any changed, missing or extra byte, and nothing lands outside the target."""

from __future__ import annotations

import hashlib
import os
import stat
import zipfile
from datetime import date
from typing import TYPE_CHECKING

import bagit
import numpy as np
import pytest

from correlate import files
from correlate.errors import FormatError, UntrustedError
from correlate.reference.package.create import write_archive
from correlate.reference.package.names import check_names
from correlate.reference.package.trust import trust_of_key
from correlate.reference.package.verify import unpack, verify
from tests.oracles.bag_by_hand import differences
from tests.reference.package.key_files import key_pair, sign_again

if TYPE_CHECKING:
    from pathlib import Path


def files_of(bag: Path) -> list[Path]:
    """Return all files of a bag, sorted."""
    return sorted(path for path in bag.rglob("*") if path.is_file())


def flipped(path: Path, position: int, bit: int) -> None:
    """Turn one bit of a file."""
    content = bytearray(path.read_bytes())
    content[position] ^= 1 << bit
    path.write_bytes(bytes(content))


def relisted(bag: Path) -> None:
    """Make the lists of a bag true again, as someone who spoils it on purpose would; the signature goes."""
    (bag / "signature.json").unlink(missing_ok=True)
    bagit.Bag(str(bag)).save(processes=1, manifests=True)


def refused(bag: Path, tmp_path: Path, message: str) -> None:
    """Check that neither verify nor unpack accepts the bag, and that unpack leaves nothing."""
    before = set(tmp_path.iterdir())
    with pytest.raises(FormatError, match=message):
        verify(bag)
    with pytest.raises(FormatError, match=message):
        unpack(bag, tmp_path / "out")
    assert set(tmp_path.iterdir()) == before


def test_a_sound_bag_is_accepted_and_copied_whole(bag: Path, tmp_path: Path) -> None:
    """Every file arrives with its bytes, and the copy is a sound bag."""
    unpack(bag, tmp_path / "out")
    names = [path.relative_to(bag) for path in files_of(bag)]
    assert names == [path.relative_to(tmp_path / "out") for path in files_of(tmp_path / "out")]
    for name in names:
        assert (tmp_path / "out" / name).read_bytes() == (bag / name).read_bytes()
    assert verify(tmp_path / "out").signed_by == verify(bag).signed_by


def test_any_flipped_bit_is_found_and_its_file_named(bag: Path) -> None:
    """200 random bits, one at a time, over all files: each is refused, and the file is in the message."""
    random = np.random.default_rng(8493)
    paths = files_of(bag)
    for _ in range(200):
        path = paths[int(random.integers(len(paths)))]
        content = path.read_bytes()
        flipped(path, int(random.integers(len(content))), int(random.integers(8)))
        with pytest.raises(FormatError) as error:
            verify(bag)
        named = str(error.value)
        name = path.relative_to(bag).as_posix()
        assert name in named, (name, named)
        path.write_bytes(content)
    verify(bag)


def test_every_missing_file_is_named(bag: Path, tmp_path: Path) -> None:
    """Each file but the signature is needed."""
    for path in files_of(bag):
        name = path.relative_to(bag).as_posix()
        if name == "signature.json":
            continue
        content = path.read_bytes()
        path.unlink()
        shown = "manifest" if "manifest" in name else name
        refused(bag, tmp_path, shown)
        path.write_bytes(content)


@pytest.mark.parametrize("name", ["data/tests/extra.txt", "extra.txt", "tags/extra.txt", ".hidden"])
def test_every_extra_file_is_named(bag: Path, tmp_path: Path, name: str) -> None:
    """Payload or not, listed is the only way in."""
    (bag / name).parent.mkdir(exist_ok=True)
    (bag / name).write_text("x", encoding="utf-8")
    refused(bag, tmp_path, f"'{name}' was added")


def test_an_appended_byte_is_found(bag: Path, tmp_path: Path) -> None:
    """Also behind the last line."""
    for name in ("data/description.json", "bag-info.txt", "manifest-sha512.txt"):
        content = (bag / name).read_bytes()
        (bag / name).write_bytes(content + b"\n")
        refused(bag, tmp_path, "description.json|bag-info|manifest-sha512|payload of")
        (bag / name).write_bytes(content)


def test_the_library_and_the_hand_agree(bag: Path) -> None:
    """What we refuse for a changed payload, the library and a check by hand refuse too."""
    flipped(bag / "data" / "description.json", 5, 0)
    assert differences(bag) == {"data/description.json"}
    with pytest.raises(bagit.BagValidationError, match=r"description\.json"):
        bagit.Bag(str(bag)).validate(processes=1)
    with pytest.raises(FormatError, match=r"description\.json"):
        verify(bag)


def test_exchanged_content_with_true_lists_fails_the_signature(bag: Path, key_file: Path) -> None:
    """Who spoils the data and makes the lists true again cannot sign them."""
    signature = (bag / "signature.json").read_bytes()
    flipped(bag / "data" / "description.json", 5, 0)
    relisted(bag)
    assert verify(bag).signed_by is None
    with pytest.raises(UntrustedError, match="it is not signed; ask the sender"):
        verify(bag, trust=trust_of_key(key_file.with_name("lab.key.pub")))
    (bag / "signature.json").write_bytes(signature)
    with pytest.raises(FormatError, match="the signature does not match"):
        verify(bag)


def test_another_signer_is_not_the_right_one(bag: Path, key_file: Path, tmp_path: Path) -> None:
    """A sound signature by another key is refused when the key is given."""
    other = key_pair(tmp_path / "other.key")
    sign_again(bag, tmp_path / "other.key", date(2026, 11, 30))
    found = verify(bag)
    assert found.signed_by == other
    words = f"its key {other.fingerprint} is not among the trusted keys of .*lab\\.key\\.pub"
    with pytest.raises(UntrustedError, match=words):
        verify(bag, trust=trust_of_key(key_file.with_name("lab.key.pub")))


def test_a_link_in_a_folder_is_refused(bag: Path, tmp_path: Path) -> None:
    """Even where its target has the listed bytes."""
    inside = bag / "data" / "description.json"
    (tmp_path / "elsewhere").write_bytes(inside.read_bytes())
    inside.unlink()
    inside.symlink_to(tmp_path / "elsewhere")
    refused(bag, tmp_path, r"'data/description\.json' is a link or a device")


def test_a_pipe_in_a_folder_is_refused(bag: Path, tmp_path: Path) -> None:
    """Reading it would never end."""
    os.mkfifo(bag / "data" / "pipe")
    refused(bag, tmp_path, "'data/pipe' is a link or a device")


def test_nothing_is_fetched(bag: Path, tmp_path: Path) -> None:
    """A bag that asks to load files from elsewhere is refused."""
    (bag / "fetch.txt").write_text("https://example.invalid/a 1 data/a\n", encoding="utf-8")
    refused(bag, tmp_path, "fetch.txt requests files from elsewhere")


def test_weak_hashes_alone_are_not_trusted(bag: Path, tmp_path: Path) -> None:
    """A bag listed by MD5 only is refused."""
    lines = [
        f"{hashlib.md5(path.read_bytes()).hexdigest()}  {path.relative_to(bag).as_posix()}"  # noqa: S324
        for path in files_of(bag / "data")
    ]
    (bag / "manifest-md5.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (bag / "manifest-sha512.txt").unlink()
    refused(bag, tmp_path, "there is no manifest with sha512 or sha256")


def test_two_hash_functions_are_both_checked(bag: Path, tmp_path: Path) -> None:
    """As the library makes bags by default; a spoilt second list is found."""
    (bag / "signature.json").unlink()
    library = bagit.Bag(str(bag))
    library.algorithms = ["sha256", "sha512"]
    library.save(processes=1, manifests=True)
    assert verify(bag).algorithm == "sha512"
    text = (bag / "tagmanifest-sha256.txt").read_text(encoding="utf-8")
    swapped = text.replace(text[0], "0" if text[0] != "0" else "1", 1)
    (bag / "tagmanifest-sha256.txt").write_text(swapped, encoding="utf-8")
    refused(bag, tmp_path, r"its hash differs from that in 'tagmanifest-sha256\.txt'")


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("../outside.txt", "leads elsewhere"),
        ("data/../../outside.txt", "leads elsewhere"),
        ("/etc/outside.txt", "is an absolute path"),
        ("C:/outside.txt", "is an absolute path"),
        ("data//outside.txt", "leads elsewhere"),
        ("data/./outside.txt", "leads elsewhere"),
        ("data\\..\\outside.txt", "backslash"),
        ("data/out\nside.txt", "control character"),
        ("data/outside. ", "is not allowed on every system"),
        ("data/CON:", "is not allowed on every system"),
        ("data/" + "x" * 2000, "too long"),
    ],
)
def test_names_that_lead_elsewhere(name: str, reason: str) -> None:
    """Refused by name, before anything is read."""
    with pytest.raises(FormatError, match=reason):
        check_names([name], "bag")


def test_names_that_differ_in_capitals_only() -> None:
    """Some systems would write one over the other."""
    with pytest.raises(FormatError, match="differ only in case"):
        check_names(["data/a.txt", "data/A.txt"], "bag")


@pytest.fixture
def members(bag: Path) -> dict[str, bytes]:
    """Return the files of the bag, to put into zip files by hand."""
    return {f"bag/{path.relative_to(bag).as_posix()}": path.read_bytes() for path in files_of(bag)}


def zipped(path: Path, members: dict[str, bytes], *extra: tuple[zipfile.ZipInfo, bytes]) -> Path:
    """Write a zip file with further entries of any kind."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
        for entry, content in extra:
            archive.writestr(entry, content)
    return path


def test_a_sound_zip_file(members: dict[str, bytes], tmp_path: Path) -> None:
    """With or without a folder around the bag."""
    verify(zipped(tmp_path / "a.zip", members))
    bare = {name.removeprefix("bag/"): content for name, content in members.items()}
    verify(zipped(tmp_path / "b.zip", bare))


@pytest.mark.parametrize("name", ["../../outside.txt", "/tmp/outside.txt", "bag/data/../../../outside.txt"])  # noqa: S108
def test_a_zip_file_never_writes_outside(members: dict[str, bytes], tmp_path: Path, name: str) -> None:
    """Paths with dots and absolute paths are refused, and nothing is written."""
    bad = zipped(tmp_path / "bad.zip", members, (zipfile.ZipInfo(name), b"gotcha"))
    refused(bad, tmp_path, "leads out of its folder")
    assert not list(tmp_path.parent.rglob("outside.txt"))


def test_a_listed_path_that_leads_outside(bag: Path, tmp_path: Path) -> None:
    """A list may not name a file elsewhere either."""
    with (bag / "manifest-sha512.txt").open("a", encoding="utf-8") as lines:
        lines.write(f"{'0' * 128}  ../outside.txt\n")
    (bag / "signature.json").unlink()
    refused(bag, tmp_path, "leads elsewhere")


def test_links_and_devices_in_a_zip_file(members: dict[str, bytes], tmp_path: Path) -> None:
    """Entries with the mode of a link or a device are refused."""
    for kind in (stat.S_IFLNK, stat.S_IFCHR, stat.S_IFIFO):
        entry = zipfile.ZipInfo("bag/data/link")
        entry.external_attr = (kind | 0o777) << 16
        bad = zipped(tmp_path / "bad.zip", members, (entry, b"/etc/passwd"))
        refused(bad, tmp_path, "is a link or a device")
        bad.unlink()


def test_a_bomb_of_zeros(members: dict[str, bytes], tmp_path: Path) -> None:
    """A small zip file that unpacks to a thousand times its size is refused unread."""
    bad = zipped(tmp_path / "bad.zip", {**members, "bag/data/zeros": bytes(80 * 2**20)})
    refused(bad, tmp_path, r"it unpacks to 85 MB, \d+ times its size, and at most 100 times is allowed")


def test_more_than_the_reader_allows(members: dict[str, bytes], tmp_path: Path) -> None:
    """The reader may set a bound of his own."""
    sound = zipped(tmp_path / "a.zip", members)
    with pytest.raises(FormatError, match="more than the 1000 allowed"):
        verify(sound, most_bytes=1000)


def test_a_size_that_lies(members: dict[str, bytes], tmp_path: Path) -> None:
    """An entry that holds more than its directory says is refused while it is read."""
    path = zipped(tmp_path / "bad.zip", {**members, "bag/data/zeros": bytes(1_000_000)})
    content = path.read_bytes()
    lying = content.replace((1_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    assert lying != content
    path.write_bytes(lying)
    refused(path, tmp_path, "zeros|payload of")


def test_overlapping_entries(members: dict[str, bytes], tmp_path: Path) -> None:
    """Two entries that share their bytes, as in bombs without nesting, are refused."""
    path = zipped(tmp_path / "bad.zip", members)
    with zipfile.ZipFile(path, "a") as archive:
        first = archive.infolist()[0]
        twin = zipfile.ZipInfo("bag/data/twin")
        twin.header_offset, twin.compress_size = first.header_offset, first.compress_size
        twin.file_size, twin.CRC, twin.compress_type = first.file_size, first.CRC, first.compress_type
        archive.filelist.append(twin)
        archive.NameToInfo[twin.filename] = twin
        archive._didModify = True  # type: ignore[attr-defined]
    refused(path, tmp_path, "overlap|twice")


def test_a_name_that_occurs_twice(members: dict[str, bytes], tmp_path: Path) -> None:
    """Readers differ in which of the two they take."""
    with pytest.warns(UserWarning, match="Duplicate name"):
        bad = zipped(tmp_path / "bad.zip", members, (zipfile.ZipInfo("bag/data/description.json"), b"other"))
    refused(bad, tmp_path, r"contains .bag/data/description\.json. twice")


def test_flipped_bits_of_a_zip_file_change_nothing_unseen(bag: Path, tmp_path: Path) -> None:
    """150 random bits: each zip file is refused, or unpacks to exactly the bytes that were packed."""
    write_archive(bag, tmp_path / "bag.zip")
    content = (tmp_path / "bag.zip").read_bytes()
    expected = {path.relative_to(bag).as_posix(): path.read_bytes() for path in files_of(bag)}
    random = np.random.default_rng(9)
    refusals = 0
    for number in range(150):
        spoilt = bytearray(content)
        spoilt[int(random.integers(len(content)))] ^= 1 << int(random.integers(8))
        (tmp_path / "spoilt.zip").write_bytes(bytes(spoilt))
        out = tmp_path / f"out{number}"
        try:
            unpack(tmp_path / "spoilt.zip", out)
        except FormatError:
            refusals += 1
            assert not out.exists()
        else:
            assert {path.relative_to(out).as_posix(): path.read_bytes() for path in files_of(out)} == expected
    assert refusals > 100


def test_no_zip_file_at_all(tmp_path: Path) -> None:
    """Text, an empty file, a missing one, a folder that is no bag."""
    (tmp_path / "text.zip").write_text("hello", encoding="utf-8")
    with pytest.raises(FormatError, match="neither a folder nor a valid zip file"):
        verify(tmp_path / "text.zip")
    with pytest.raises(FormatError, match="there is no such file"):
        verify(tmp_path / "absent.zip")
    (tmp_path / "folder").mkdir()
    with pytest.raises(FormatError, match=r"there is no bagit\.txt"):
        verify(tmp_path / "folder")


def test_the_target_must_be_free(bag: Path, tmp_path: Path) -> None:
    """An existing folder with content is never written into."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").touch()
    with pytest.raises(FormatError, match="this already exists"):
        unpack(bag, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["mine"]


def test_a_disk_that_is_too_small(bag: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Refused before anything is copied."""
    usage = type("Usage", (), {"free": 1000})
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage)
    refused_before = set(tmp_path.iterdir())
    with pytest.raises(FormatError, match="the disk has 1000 free"):
        unpack(bag, tmp_path / "out")
    assert set(tmp_path.iterdir()) == refused_before


def test_too_many_files(bag: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bag with more files than anyone sends is refused."""
    monkeypatch.setattr(files, "MOST_FILES", 3)
    with pytest.raises(FormatError, match="more than 3 files"):
        verify(bag)
