"""Archives that are damaged, foreign or newer are refused in one sentence."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import h5py
import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.formats import Recording, archive, read
from correlate.signal import Step
from tests.formats.examples import bits, signal

if TYPE_CHECKING:
    from collections.abc import Callable

DAMAGED = r"a\.h5: the archive is damaged or cut off; copy it again, or recreate it from the original files"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Write an archive of three channels, two of them of one length."""
    chance = np.random.default_rng(0)
    history = (Step("read", {"file": "x", "rows": 30}),)
    signals = tuple(
        signal(np.round(chance.standard_normal(length), 2), channel=name, history=history)
        for name, length in (("a", 30), ("b", 200), ("c", 30))
    )
    archive.write(
        Recording(signals=signals, path=Path("x"), format="", details={"Title": "drop"}), tmp_path / "a.h5"
    )
    return tmp_path / "a.h5"


def change_attribute(name: str, value: Any) -> Callable[[h5py.File], None]:
    """Return a change of an attribute of the root."""

    def change(file: h5py.File) -> None:
        file.attrs[name] = value

    return change


def swap_rows(file: h5py.File) -> None:
    """Give two channels of one length each other's samples."""
    file["samples/30"][:] = file["samples/30"][:][::-1]


def change_unit(file: h5py.File) -> None:
    """Turn one letter in the words of a channel."""
    file["channels"][0] = file["channels"][0].replace(b'"g"', b'"N"')


def swap_words(file: h5py.File) -> None:
    """Let the words of two channels change places, hashes too."""
    for name in ("channels", "sha256"):
        file[name][:] = file[name][:][[2, 1, 0]]


def change_title(file: h5py.File) -> None:
    """Turn one word about the recording."""
    file["recording"][0] = file["recording"][0].replace(b"drop", b"Drop")


def lose_samples(file: h5py.File) -> None:
    """Take the samples out."""
    del file["samples"]


def lose_a_channel(file: h5py.File) -> None:
    """Take the words of the last channel out."""
    kept = file["channels"][:2]
    del file["channels"]
    file.create_dataset("channels", data=kept)


def claim_many(file: h5py.File) -> None:
    """Claim more samples than are stored, but no more than would be harmless."""
    del file["samples/30"]
    file.create_dataset("samples/30", shape=(10**5, 30), dtype="<f8", chunks=(1, 30))


def narrow(file: h5py.File) -> None:
    """Store samples with half the digits."""
    table = file["samples/30"][:]
    del file["samples/30"]
    file.create_dataset("samples/30", data=table.astype("<f4"))


@pytest.mark.parametrize(
    "change",
    [
        swap_rows,
        change_unit,
        swap_words,
        change_title,
        lose_samples,
        lose_a_channel,
        claim_many,
        narrow,
        change_attribute("version", np.bytes_("one")),
    ],
)
def test_content_that_was_changed_is_refused(change: Callable[[h5py.File], None], path: Path) -> None:
    """Also where the file itself is whole: hashes, names and sizes must agree."""
    with h5py.File(path, "r+") as file:
        change(file)
    with pytest.raises(FormatError, match=DAMAGED):
        read(path)


def test_a_changed_channel_is_refused_alone_and_the_others_are_read(path: Path) -> None:
    """One channel is checked by its own hash."""
    with h5py.File(path, "r+") as file:
        file["samples/30"][0, 7] += 1e-9
    with pytest.raises(FormatError, match=DAMAGED):
        archive.read_channel(path, "a")
    assert len(archive.read_channel(path, "c")) == 30


def test_newer_and_foreign_files_are_told_apart(path: Path, tmp_path: Path) -> None:
    """A newer version, an HDF5 file of another program, one of another kind."""
    with h5py.File(path, "r+") as file:
        change_attribute("version", 2)(file)
    newer = (
        r"a\.h5: the archive has version 2 and this program reads up to 1; update the program, or recreate"
    )
    with pytest.raises(FormatError, match=newer):
        read(path)
    foreign = (
        r"f\.h5: this HDF5 file is not an archive of signals; export it as text or ISO/TS 13499, or install"
    )
    for kind in (None, "pictures", np.arange(3)):
        with h5py.File(tmp_path / "f.h5", "w") as file:
            file["force"] = np.arange(10.0)
            if kind is not None:
                file.attrs["kind"] = kind
        with pytest.raises(FormatError, match=foreign):
            read(tmp_path / "f.h5")


def test_a_file_cut_anywhere_is_refused(path: Path) -> None:
    """From the first bytes to the last but one."""
    whole = path.read_bytes()
    for size in (8, 9, 100, len(whole) // 2, len(whole) - 1):
        path.write_bytes(whole[:size])
        with pytest.raises(FormatError, match=DAMAGED):
            read(path)


@pytest.mark.parametrize("seed", range(4))
def test_any_damage_is_refused_or_did_no_harm(seed: int, path: Path) -> None:
    """Bytes changed, overwritten or lost: a sentence, or exactly what was written; never another failure."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    whole = path.read_bytes()
    expected = [bits(one.samples).tolist() for one in read(path).signals]
    refused = 0
    for _ in range(60):
        data = bytearray(whole)
        at = chance.randrange(8, len(data))
        size = chance.randrange(1, 40)
        data[at : at + size] = chance.randbytes(chance.choice([size, size, 1, 0]))
        path.write_bytes(data)
        try:
            assert [bits(one.samples).tolist() for one in read(path).signals] == expected
        except FormatError as error:
            refused += 1
            assert error.where == str(path)  # noqa: PT017 - every error of many is looked at
    assert refused > 40


def test_a_file_that_may_not_be_read_or_written_is_named(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Missing, without the right to read, into a folder that is not there."""
    with pytest.raises(FormatError, match=r"none\.h5: there is no such file; check the path"):
        archive.read(tmp_path / "none.h5")
    recording = read(path)
    with pytest.raises(
        FormatError, match=r"none/a\.h5: this cannot be written \(No such file or directory\)"
    ):
        archive.write(recording, tmp_path / "none" / "a.h5")

    def refusing(path: Path) -> object:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("correlate.files.open_plain", refusing)
    with pytest.raises(
        FormatError,
        match=r"a\.h5: there is no permission to read the file; ask its owner for read permission",
    ):
        archive.read_channel(path, "a")


def test_a_write_that_fails_leaves_the_older_archive(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full when the new one is to be moved into place."""
    before = path.read_bytes()
    recording = read(path)

    def full(self: Path, _: Path) -> Path:
        raise OSError(28, "No space left on device", str(self))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(FormatError, match=r"a\.h5: this cannot be written \(No space left on device\)"):
        archive.write(recording, path)
    assert path.read_bytes() == before
    assert [entry.name for entry in path.parent.iterdir()] == ["a.h5"]
