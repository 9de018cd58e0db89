"""Tests inside zip files: found wherever they lie, and never trusted."""

from __future__ import annotations

import hashlib
import zipfile
from contextlib import nullcontext
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import CorrelateError, FormatError
from correlate.formats.iso13499 import read, reading
from correlate.formats.iso13499 import reading as folder_module
from correlate.formats.iso13499.reading import is_test
from tests.formats.examples import HEAD, HEAD_FILE, SEAT, counted_reading, tree, written, written_test

if TYPE_CHECKING:
    from pathlib import Path


def packed(root: Path, others: dict[str, bytes] | None = None, *, under: str = "KM3/") -> Path:
    """Zip the example test below a path, with other files beside it."""
    path = root / "KM3.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in tree(written_test(root)).items():
            archive.writestr(under + name, content)
        for name, content in (others or {}).items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize("under", ["KM3/", "", "2031/spring/KM3/", "KM3\\"])
def test_test_is_found_in_the_zip_file(under: str, tmp_path: Path) -> None:
    """In its folder, without one, deeper, and with the separators of another system."""
    recording = read(packed(tmp_path, {"Movie/side.bin": bytes(100)}, under=under))
    assert recording.channel_names == (HEAD, SEAT)
    np.testing.assert_array_equal(recording.channel(HEAD).samples, [0.0, -1.5, 25.0, 3.0])


def test_source_names_the_member_and_hashes_its_unpacked_bytes(tmp_path: Path) -> None:
    """The hash is that of the channel file itself, so that folder and zip file agree."""
    path = packed(tmp_path)
    source = read(path).channel(HEAD).source
    assert source.file == f"{path}:KM3/Channel/KM3.001"
    assert source.sha256 == hashlib.sha256(HEAD_FILE.encode()).hexdigest()


def test_fault_in_a_zip_file_names_the_member(tmp_path: Path) -> None:
    """File and line, as in a folder."""
    path = tmp_path / "KM3.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in tree(written_test(tmp_path)).items():
            archive.writestr(f"KM3/{name}", content.replace(b"-1.5", b"oops"))
    [bad] = read(path).set_aside
    assert "KM3.zip:KM3/Channel/KM3.001, line 15: 'oops' is not a number" in str(bad)


@pytest.mark.parametrize("name", ["../KM3.001", "/etc/KM3.001", "C:/KM3.001", "a/../../b", "..\\KM3.001"])
def test_path_that_leads_out_is_refused(name: str, tmp_path: Path) -> None:
    """A zip file that would write elsewhere is not read at all."""
    with pytest.raises(FormatError, match=r"KM3\.zip: the zip file contains '.+', which leads out of"):
        read(packed(tmp_path, {name: b"1"}))


def test_member_that_unpacks_to_too_much_is_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The announced size decides before a byte is unpacked."""
    monkeypatch.setattr(reading, "LARGEST_HEADER_FILE", 4)
    with pytest.raises(FormatError, match=r"KM3\.zip:KM3/KM3\.mme: this is larger than 0 MiB"):
        read(packed(tmp_path))


def test_bomb_of_zeros_is_refused_quickly(tmp_path: Path) -> None:
    """Three hundred million zeros in a channel file of three hundred kilobytes are not unpacked."""
    path = packed(tmp_path)
    with zipfile.ZipFile(path) as archive:
        kept = {name: archive.read(name) for name in archive.namelist() if not name.endswith("001")}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in kept.items():
            archive.writestr(name, content)
        with archive.open("KM3/Channel/KM3.001", "w") as member:
            for _ in range(300):
                member.write(bytes(1_000_000))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(FormatError, match=r"KM3\.zip: it unpacks to 301 MB, [\d,]+ times its size, and"):
        read(path)


def test_many_members_together_have_a_limit_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Members that are each small enough do not add up without end."""
    monkeypatch.setattr(folder_module, "LARGEST_EXTRACTED", 700)
    with pytest.raises(FormatError, match=r"KM3\.zip: this is larger than 0 MiB"):
        read(packed(tmp_path))


def test_member_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    """A size that the content does not have is damage."""
    path = packed(tmp_path)
    size = len(HEAD_FILE).to_bytes(4, "little")
    data = path.read_bytes()
    assert data.count(size) >= 2
    path.write_bytes(data.replace(size, (len(HEAD_FILE) - 9).to_bytes(4, "little")))
    with pytest.raises(FormatError, match=r"KM3\.001: the zip file is damaged; copy or pack it again"):
        read(path)


def test_damaged_zip_file_is_refused(tmp_path: Path) -> None:
    """Cut off in the middle, and right at the start."""
    data = packed(tmp_path).read_bytes()
    for size in (len(data) // 2, 4):
        path = written(tmp_path, data[:size], "cut.zip")
        with pytest.raises(FormatError, match=r"cut\.zip: the zip file is damaged"):
            read(path)


def test_encrypted_zip_file_is_refused(tmp_path: Path) -> None:
    """The flag of encryption is set by hand in both of its places."""
    data = bytearray(packed(tmp_path).read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.find(mark)
        while at >= 0:
            data[at + offset] |= 1
            at = data.find(mark, at + 4)
    with pytest.raises(FormatError, match="the zip file is encrypted; pack it again without a password"):
        read(written(tmp_path, bytes(data), "secret.zip"))


def test_zip_file_without_or_with_several_tests_is_refused(tmp_path: Path) -> None:
    """One test a zip file."""
    with zipfile.ZipFile(tmp_path / "none.zip", "w") as archive:
        archive.writestr("notes.txt", "hello")
    with pytest.raises(
        FormatError, match=r"none\.zip: the zip file contains no \.mme file; zip the whole test"
    ):
        read(tmp_path / "none.zip")
    with pytest.raises(FormatError, match=r"the zip file contains 2 \.mme files; zip every test separately"):
        read(packed(tmp_path, {"KM4/KM4.mme": b""}))


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
def test_member_that_is_there_twice_is_refused(tmp_path: Path) -> None:
    """Which of the two is meant cannot be known."""
    with pytest.raises(FormatError, match=r"the zip file contains 'KM3/Channel/KM3\.001' twice"):
        read(packed(tmp_path, {"KM3/Channel/KM3.001": b"1"}))


def test_member_without_a_name_does_no_harm(tmp_path: Path) -> None:
    """Found by flipping bytes: a name of no length."""
    path = packed(tmp_path)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(zipfile.ZipInfo(""), b"x")
    assert read(path).channel_names == (HEAD, SEAT)


def test_every_cut_and_flipped_byte_of_a_zip_file_is_answered_in_words(tmp_path: Path) -> None:
    """Whatever is wrong with a zip file, the answer is a sentence or an unharmed reading."""
    data = packed(tmp_path).read_bytes()
    path = tmp_path / "odd.zip"
    answers: set[int | str] = set()
    for at in range(0, len(data), 7):
        path.write_bytes(data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :])
        try:
            answers.add(len(read(path).signals))
        except CorrelateError as error:
            answers.add(type(error).__name__)
    assert "FormatError" in answers


def test_huge_description_and_channel_files_are_refused_by_their_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two gigabytes of nothing are not read."""
    for name, limit in (("KM3.mme", 1), ("Channel/KM3.chn", 1), ("Channel/KM3.002", 256)):
        folder = written_test(tmp_path / name.replace("/", "-"))
        with (folder / name).open("r+b") as stream:
            stream.truncate(2 * 2**30)
        with (
            counted_reading(monkeypatch) as sizes,
            nullcontext()
            if limit == 256
            else pytest.raises(FormatError, match=rf"{folder / name}: this is larger than {limit} MiB"),
        ):
            [bad] = read(folder).set_aside
            assert f"{folder / name}: this is larger than {limit} MiB" in str(bad)
        assert sum(sizes) < 10_000


def test_what_can_be_a_test_is_told_from_names_and_first_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder with a description, such a file, and a zip file; nothing else."""
    archive = packed(tmp_path)
    text = written(tmp_path, "time [s],a [g]", "text.zip")
    shouted = written_test(tmp_path / "SHOUTED")
    (shouted / "KM3.mme").rename(shouted / "KM3.MME")
    with counted_reading(monkeypatch) as sizes:
        assert is_test(tmp_path / "KM3")
        assert is_test(tmp_path / "KM3" / "KM3.mme")
        assert is_test(archive)
        assert is_test(shouted)
        assert is_test(shouted / "KM3.MME")
        assert not is_test(tmp_path)
        assert not is_test(tmp_path / "KM3" / "Channel")
        assert not is_test(tmp_path / "KM3" / "Channel" / "KM3.001")
        assert not is_test(tmp_path / "none.mme")
        assert not is_test(text)
    assert sum(sizes) <= 65_536
