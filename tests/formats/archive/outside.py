"""Archives whose data lie in the file of somebody else, shared by tests of all that read files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import h5py
import numpy as np

from correlate.formats import Recording, archive
from tests.formats.examples import signal

if TYPE_CHECKING:
    from collections.abc import Callable

LENGTHS = (("a", 30), ("b", 200), ("c", 30))
"""Channels of the archives written here, and their samples."""
PARTS: Final = ("channels", "sha256", "samples/30", "samples/200")
"""Data sets of the archives written here."""


def plain_archive(path: Path, seed: int) -> Path:
    """Write an archive of three channels with random samples; all have the same texts but for the hashes."""
    chance = np.random.default_rng(seed)
    signals = tuple(signal(chance.standard_normal(length), channel=name) for name, length in LENGTHS)
    path.parent.mkdir(parents=True, exist_ok=True)
    archive.write(Recording(signals=signals, path=Path("x"), format=""), path)
    return path


def external_links(file: h5py.File, secret: h5py.File) -> None:
    """Take the data sets from the other file."""
    for name in PARTS:
        del file[name]
        file[name] = h5py.ExternalLink(secret.filename, name)


def external_group(file: h5py.File, secret: h5py.File) -> None:
    """Take the group of samples from the other file, and the rest one by one."""
    for name in ("channels", "sha256", "samples"):
        del file[name]
        file[name] = h5py.ExternalLink(secret.filename, name)


def virtual_data(file: h5py.File, secret: h5py.File) -> None:
    """Define data sets as views of those of the other file."""
    for name in PARTS:
        there = secret[name]
        layout = h5py.VirtualLayout(there.shape, there.dtype)
        layout[...] = h5py.VirtualSource(secret.filename, name, there.shape, there.dtype)
        del file[name]
        file.create_virtual_dataset(name, layout)


def external_storage(file: h5py.File, secret: h5py.File) -> None:
    """Let the bytes of data sets be those of plain files elsewhere."""
    for name in PARTS:
        there = secret[name]
        raw = Path(secret.filename).with_name(name.replace("/", "-"))
        raw.write_bytes(there[...].tobytes())
        del file[name]
        places = [(str(raw), 0, h5py.h5f.UNLIMITED)]
        file.create_dataset(name, shape=there.shape, dtype=there.dtype, external=places)


def soft_links(file: h5py.File, secret: h5py.File) -> None:
    """Put the data of the other file elsewhere in this one, behind soft links."""
    for name in PARTS:
        del file[name]
        file[f"elsewhere/{name}"] = secret[name][...]
        file[name] = h5py.SoftLink(f"/elsewhere/{name}")


OUTSIDE: Final[dict[str, tuple[Callable[[Any, Any], None], str]]] = {
    "external links": (external_links, "'channels' is a link to another file"),
    "external group": (external_group, "'channels' is a link to another file"),
    "virtual data": (virtual_data, "'channels' is a virtual data set"),
    "external storage": (external_storage, "'channels' is stored in another file"),
    "soft links": (soft_links, "'channels' is a soft link"),
}
"""Ways in which an archive can be made of another one, and what the refusal says."""


def made_of(secret: Path, path: Path, way: str) -> Path:
    """Write an archive with the data of another one."""
    plain_archive(path, seed=2)
    with h5py.File(path, "r+") as file, h5py.File(secret) as other:
        OUTSIDE[way][0](file, other)
    return path
