"""An archive is made of what lies in its own file: links, views and storage outside are refused by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import h5py
import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.formats import archive, read
from tests.formats.archive.outside import OUTSIDE, made_of, plain_archive

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

REMEDY = "recreate the archive from the original files with 'correlate convert'"


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    """Write the archive of another project."""
    return plain_archive(tmp_path / "other/secret.h5", seed=1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Write a sound archive."""
    return plain_archive(tmp_path / "a.h5", seed=2)


def refused(path: Path, words: str) -> None:
    """Read an archive as a whole and by channel: one sentence with file, name inside and remedy."""
    for attempt in (lambda: read(path), lambda: archive.read_channel(path, "a")):
        with pytest.raises(FormatError) as caught:
            attempt()
        assert str(caught.value).startswith(f"{path}: {words}")
        assert str(caught.value).endswith(REMEDY)


@pytest.mark.parametrize("way", OUTSIDE)
def test_data_of_another_file_are_not_read(way: str, secret: Path, tmp_path: Path) -> None:
    """The other archive, with all its hashes, could be read through each of these."""
    refused(made_of(secret, tmp_path / "a.h5", way), OUTSIDE[way][1])


@pytest.mark.parametrize("variable", ["HDF5_EXT_PREFIX", "HDF5_EXTFILE_PREFIX", "HDF5_VDS_PREFIX"])
@pytest.mark.parametrize("way", ["external links", "external storage", "virtual data"])
def test_settings_of_the_library_open_nothing(
    way: str, variable: str, secret: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Variables of the environment that tell the library where other files are change nothing."""
    monkeypatch.setenv(variable, str(secret.parent))
    refused(made_of(secret, tmp_path / "a.h5", way), OUTSIDE[way][1])


def unused_link(file: h5py.File) -> None:
    """Add a link that no reader needs."""
    file["samples/more"] = h5py.ExternalLink("other.h5", "/")


def committed_type(file: h5py.File) -> None:
    """Store the type of the samples under a name of its own."""
    values = file["samples/30"][...]
    del file["samples/30"]
    file["kind of number"] = np.dtype("<f8")
    file.create_dataset("samples/30", data=values, dtype=file["kind of number"])


def free_length(file: h5py.File) -> None:
    """Store texts of free length."""
    texts = [bytes(one).decode() for one in file["channels"][...]]
    del file["channels"]
    file.create_dataset("channels", data=texts, dtype=h5py.string_dtype())


def references(file: h5py.File) -> None:
    """Store references to other objects in place of texts."""
    target = file["sha256"].ref
    del file["channels"]
    file.create_dataset("channels", data=[target] * 3, dtype=h5py.ref_dtype)


def regions(file: h5py.File) -> None:
    """Store references to parts of other data sets in place of texts."""
    target = file["sha256"].regionref[:2]
    del file["channels"]
    file.create_dataset("channels", data=[target] * 3, dtype=h5py.regionref_dtype)


def compact(file: h5py.File) -> None:
    """Store samples in the header of their data set."""
    values = file["samples/30"][...]
    del file["samples/30"]
    plan = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    plan.set_layout(h5py.h5d.COMPACT)
    space = h5py.h5s.create_simple(values.shape)
    data = h5py.h5d.create(file["samples"].id, b"30", h5py.h5t.IEEE_F64LE, space, plan)
    data.write(h5py.h5s.ALL, h5py.h5s.ALL, values)


def other_filter(file: h5py.File) -> None:
    """Compress samples with a filter that not every installation has."""
    values = file["samples/30"][...]
    del file["samples/30"]
    file.create_dataset("samples/30", data=values, compression="lzf")


def free_attribute(file: h5py.File) -> None:
    """Store an attribute of free length."""
    file.attrs["version"] = "one"


def referring_attribute(file: h5py.File) -> None:
    """Store a reference as the hash of the recording."""
    file.attrs["sha256"] = file["channels"].ref


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (unused_link, "'samples/more' is a link to another file"),
        (committed_type, "'samples/30' is of a type that is stored elsewhere"),
        (free_length, "'channels' is of a type with references, parts or variable length"),
        (references, "'channels' is of a type with references, parts or variable length"),
        (regions, "'channels' is of a type with references, parts or variable length"),
        (compact, "'samples/30' is stored in an unusual way"),
        (other_filter, "'samples/30' is compressed with the filter 32000, which is not supported"),
        (free_attribute, "'attribute version' is neither a short text nor a number"),
        (referring_attribute, "'attribute sha256' is neither a short text nor a number"),
    ],
)
def test_what_is_not_plain_data_is_refused_by_name(
    change: Callable[[h5py.File], None], words: str, path: Path
) -> None:
    """The sentence names the data set or attribute."""
    with h5py.File(path, "r+") as file:
        change(file)
    refused(path, words)


@pytest.mark.parametrize(
    "storage",
    [
        {},
        {"chunks": (1, 7)},
        {"chunks": (2, 30)},
        {"chunks": (1, 30), "compression": "gzip"},
        {"chunks": (2, 16), "compression": "gzip", "shuffle": True},
        {"chunks": (1, 30), "compression": "gzip", "shuffle": True, "fletcher32": True},
        {"chunks": (4, 64), "maxshape": (None, None), "compression": "gzip"},
    ],
)
def test_archives_that_were_repacked_are_read(storage: dict[str, Any], path: Path) -> None:
    """Other pieces and compressions of the usual kinds give the same samples, all at once and one by one."""
    expected = {one.channel: one.samples for one in read(path).signals}
    with h5py.File(path, "r+") as file:
        values = file["samples/30"][...]
        del file["samples/30"]
        file.create_dataset("samples/30", data=values, **storage)
    for name, samples in expected.items():
        assert np.array_equal(read(path).channel(name).samples, samples)
        assert np.array_equal(archive.read_channel(path, name).samples, samples)
