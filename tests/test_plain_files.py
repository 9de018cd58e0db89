"""Settings and records are read from plain files of ordinary size; all else is refused, and nothing waits."""

from __future__ import annotations

import io
import os
import socket
import zipfile
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.files import first_bytes
from correlate.plain_files import (
    OddFileError,
    json_content,
    open_plain,
    read_arrays,
    read_json,
    whole_bytes,
    whole_text,
)

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes and devices in folders are those of Unix")


def odd_path(folder: Path, kind: str) -> Path:
    """Make a path that is no plain file."""
    path = folder / "odd"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "socket":
        # The longest path of a socket is short.
        here = os.open(folder, os.O_RDONLY)
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(f"/proc/self/fd/{here}/odd")
        os.close(here)
    elif kind == "endless":
        path.symlink_to("/dev/zero")
    elif kind == "folder":
        path.mkdir()
    elif kind == "loop":
        path.symlink_to(path)
    return path


ODD = {
    "pipe": "this is a pipe or a device, not a file; name a plain file",
    "socket": "this is a pipe or a device, not a file; name a plain file",
    "endless": "this is a pipe or a device, not a file; name a plain file",
    "folder": "this is a folder, not a file; name the file in it",
    "loop": "this is no usable path",
    "absent": "there is no such file; check the path",
}


@pytest.mark.parametrize("kind", ODD)
def test_what_is_no_file_is_refused_at_once(kind: str, tmp_path: Path) -> None:
    """Neither opening nor reading waits or goes on without end."""
    path = odd_path(tmp_path, kind)
    for read in (open_plain, whole_bytes, whole_text, read_json, read_arrays):
        with pytest.raises(OSError, match="odd"):
            read(path)
    with pytest.raises(FormatError, match=rf"odd: {ODD[kind]}"):
        first_bytes(path)


def test_a_name_with_a_nul_is_refused(tmp_path: Path) -> None:
    """As a path that cannot be."""
    with pytest.raises(FormatError, match="this is no usable path"):
        first_bytes(tmp_path / "a\0b")


def test_a_file_without_end_is_not_read(tmp_path: Path) -> None:
    """Its size decides; where that grows meanwhile, what was read."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"x" * 11)
    assert whole_bytes(path, most=11) == b"x" * 11
    with pytest.raises(OddFileError, match="it is larger than 0 MiB"):
        whole_bytes(path, most=10)
    with path.open("wb") as stream:
        stream.truncate(2**40)
    with pytest.raises(OddFileError, match="it is larger than 4 MiB"):
        whole_text(path)


def test_a_file_that_grows_while_it_is_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Although it was small enough when it was opened."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"x")
    sizes = os.fstat

    def grow(descriptor: int) -> os.stat_result:
        found = sizes(descriptor)
        with path.open("ab") as stream:
            stream.write(b"x" * 8)
        return found

    monkeypatch.setattr("correlate.plain_files.os.fstat", grow)
    with pytest.raises(OddFileError, match="it is larger than 0 MiB"):
        whole_bytes(path, most=10)


def test_line_ends_become_line_feeds(tmp_path: Path) -> None:
    """As when a text file is opened."""
    (tmp_path / "a.txt").write_bytes(b"a\r\nb\rc\n")
    assert whole_text(tmp_path / "a.txt") == "a\nb\nc\n"


@pytest.mark.parametrize("text", ["[" * 100_000, '{"a":' * 100_000, "9" * 5000, "{", "\0"])
def test_json_that_cannot_be_is_refused(text: str, tmp_path: Path) -> None:
    """Nested too deeply, numbers without end, cut off."""
    (tmp_path / "a.json").write_text(text, encoding="utf-8")
    for read in (lambda: json_content(text), lambda: read_json(tmp_path / "a.json")):
        with pytest.raises(ValueError, match=r".+"):
            read()  # type: ignore[no-untyped-call]


def array_file(path: Path, header: dict[str, object], content: bytes = bytes(16)) -> Path:
    """Write a file of one array whose header says something else."""
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, header)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.npy", head.getvalue() + content)
    return path


def test_arrays_are_read(tmp_path: Path) -> None:
    """Compressed or not, texts too."""
    np.savez(tmp_path / "0.npz", a=np.arange(3.0), b=np.array("text"))
    np.savez_compressed(tmp_path / "1.npz", a=np.arange(3.0), b=np.array("text"))
    for number in range(2):
        found = read_arrays(tmp_path / f"{number}.npz")
        assert found["a"].tolist() == [0.0, 1.0, 2.0]
        assert str(found["b"]) == "text"


@pytest.mark.parametrize(
    "header",
    [
        {"descr": "<f8", "fortran_order": False, "shape": (10**12,)},
        {"descr": "<f8", "fortran_order": False, "shape": (3,)},
        {"descr": "|O", "fortran_order": False, "shape": (1,)},
        {"descr": "<f8", "fortran_order": False, "shape": (-1,)},
    ],
)
def test_an_array_that_declares_more_than_there_is_is_refused(
    header: dict[str, object], tmp_path: Path
) -> None:
    """Before memory is taken for it; objects of Python are never read."""
    with pytest.raises(ValueError, match=r".+"):
        read_arrays(array_file(tmp_path / "a.npz", header))


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"\x93NUMPY"])
def test_a_file_of_no_arrays_is_refused(content: bytes, tmp_path: Path) -> None:
    """Empty, cut off, of another kind."""
    (tmp_path / "a.npz").write_bytes(content)
    with pytest.raises(ValueError, match="it is damaged"):
        read_arrays(tmp_path / "a.npz")


def test_arrays_together_have_a_limit(tmp_path: Path) -> None:
    """As the list of the file says."""
    np.savez(tmp_path / "a.npz", a=np.arange(100.0), b=np.arange(100.0))
    with pytest.raises(ValueError, match="its arrays are too large"):
        read_arrays(tmp_path / "a.npz", most=1500)
