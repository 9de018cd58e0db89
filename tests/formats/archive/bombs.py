"""Small archives that declare, or unpack to, very much; shared by tests of all that read files."""

from __future__ import annotations

import hashlib
import zlib
from typing import TYPE_CHECKING, Final

import h5py
import numpy as np

from tests.formats.archive.outside import plain_archive

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MANY: Final = 60_500_000
"""Samples of a channel: 484 MB."""
_BLOCK: Final = 2**20


def zeros(size: int) -> bytes:
    """Return so many zeros, compressed; put together of the same piece again and again."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    block = packer.compress(bytes(_BLOCK)) + packer.flush(zlib.Z_FULL_FLUSH)
    rest = packer.compress(bytes(size % _BLOCK)) + packer.flush()
    checksum = (size % 65_521 << 16) + 1
    return b"\x78\xda" + size // _BLOCK * block + rest + checksum.to_bytes(4, "big")


def piece(file: h5py.File, name: str, shape: tuple[int, int], content: bytes, **storage: object) -> None:
    """Replace a data set of samples by one whose only piece has some compressed bytes."""
    del file["samples/30"]
    table = file.create_dataset(name, shape=shape, dtype="<f8", **storage)
    table.id.write_direct_chunk((0, 0), content)


def one_piece(file: h5py.File) -> None:
    """Compress a channel of zeros into one piece."""
    piece(file, f"samples/{MANY}", (1, MANY), zeros(8 * MANY), chunks=(1, MANY), compression="gzip")


def twice(file: h5py.File) -> None:
    """Compress it once more, so that two kilobytes are left."""
    plan = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    plan.set_chunk((1, MANY))
    plan.set_deflate(9)
    plan.set_filter(h5py.h5z.FILTER_DEFLATE, h5py.h5z.FLAG_OPTIONAL, (9,))
    space = h5py.h5s.create_simple((1, MANY))
    data = h5py.h5d.create(file["samples"].id, f"{MANY}".encode(), h5py.h5t.IEEE_F64LE, space, plan)
    data.write_direct_chunk((0, 0), zlib.compress(zeros(8 * MANY), 9))


def more_than_declared(file: h5py.File) -> None:
    """Let the piece of thirty samples unpack to as many."""
    piece(file, "samples/30", (1, 30), zeros(8 * MANY), chunks=(1, 30), compression="gzip")


def huge_piece(file: h5py.File) -> None:
    """Let three samples stand in a piece for as many."""
    storage = {"chunks": (1, MANY), "maxshape": (None, None), "compression": "gzip"}
    piece(file, "samples/30", (1, 30), zeros(8 * MANY), **storage)


def nothing_stored(file: h5py.File) -> None:
    """Declare as many samples and store none."""
    file.create_dataset(f"samples/{MANY}", shape=(1, MANY), dtype="<f8")


def many_rows(file: h5py.File) -> None:
    """Declare more rows than there are channels, and store none."""
    del file["samples/30"]
    file.create_dataset("samples/30", shape=(10**9, 30), dtype="<f8", chunks=(1, 30))


def long_texts(file: h5py.File) -> None:
    """Declare texts of a hundred megabytes each."""
    del file["sha256"]
    file.create_dataset("sha256", shape=(5,), dtype="S100000000", chunks=(1,), compression="gzip")


def lists_in_texts(file: h5py.File) -> None:
    """Write many empty lists as the words about the recording, with their true hash."""
    text = b"[" + b"[]," * 15_000_000 + b"[]]"
    del file["recording"]
    file.create_dataset("recording", data=np.array([text]), compression="gzip", compression_opts=1)
    file.attrs["sha256"] = np.bytes_(hashlib.sha256(text).hexdigest())


def longest(file: h5py.File) -> None:
    """Declare more samples than any test has."""
    file.create_dataset(f"samples/{10**12}", shape=(1, 10**12), dtype="<f8", chunks=(1, 1000))


BOMBS: Final[dict[str, tuple[Callable[[h5py.File], None], int, str]]] = {
    "one piece": (one_piece, MANY, r"it unpacks to 485 MB, \d+ times its size, and at most 100 times"),
    "compressed twice": (twice, MANY, f"'samples/{MANY}' is compressed several times"),
    "more than declared": (more_than_declared, 30, "the archive is damaged or cut off"),
    "huge piece": (huge_piece, 30, r"it unpacks to 485 MB, \d+ times its size"),
    "nothing stored": (nothing_stored, MANY, r"it unpacks to 485 MB, [\d,]+ times its size"),
    "many rows": (
        many_rows,
        30,
        r"it takes at least 240,\d+ MB of memory, but at most 4,000 MB|the archive is damaged",
    ),
    "long texts": (
        long_texts,
        30,
        r"it takes at least 10,\d+ MB of memory, but at most 4,000 MB are allowed",
    ),
    "lists in texts": (lists_in_texts, 30, r"it unpacks to 901 MB, [\d,]+ times its size"),
    "longest": (
        longest,
        10**12,
        "a channel has at least 1,000,000,000,000 samples, but at most 100,000,000 are",
    ),
}
"""What is done to an archive, the samples that its channels claim, and what the refusal says."""


def bomb(path: Path, way: str) -> Path:
    """Write one of them."""
    plain_archive(path, seed=3)
    change, samples, _ = BOMBS[way]
    with h5py.File(path, "r+") as file:
        texts = [
            bytes(one).replace(b'"samples": 30', f'"samples": {samples}'.encode()) for one in file["channels"]
        ]
        del file["channels"]
        file.create_dataset("channels", data=np.array(texts))
        change(file)
    return path
