"""Reads only the content of the HDF5 file itself: links and storage outside of it are refused.

An HDF5 file may take groups and data from any other file that this program may read, by links, virtual data
sets and external storage. Its filters unpack without a limit, and plug-ins can be loaded for unknown ones. So
links are compared before they are followed, and compressed pieces are unpacked here, to their declared size.

References
----------
.. [1] HDF5 File Format Specification, version 3.0, sections IV.A.2.g (link message), h (external files), i
   (layout) and l (filter pipeline). From memory.
"""

from __future__ import annotations

import math
import zlib
from itertools import product
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

_RECREATE: Final = "recreate the archive from the original files with 'correlate convert'"
MOST_CHUNKS: Final = 1_000_000
"""Pieces of one data set; the archives that are written here have one for each channel."""
LARGEST_ATTRIBUTE: Final = 1024
"""Bytes of an attribute."""
_CHECKSUM_BYTES: Final = 4


def refuse_links(group: Any, where: str) -> None:
    """Refuse a group of which a name is not a part of this very file.

    Raises
    ------
    FormatError
        A name is a soft, external or user-defined link, or a type.
    """
    import h5py  # noqa: PLC0415 - takes 0.1 s, needed for archives only

    prefix = group.name.rstrip("/").removeprefix("/")
    for name in group:
        place = f"{prefix}/{name}".removeprefix("/")
        kind = type(group.get(name, getlink=True))
        if kind is not h5py.HardLink:
            words = {h5py.SoftLink: "a soft link", h5py.ExternalLink: "a link to another file"}
            raise _refused(place, words.get(kind, "a link of an unknown kind"), where)


def own_dataset(file: Any, name: str, where: str) -> Any:
    """Return a data set of a file after a check that all of it lies in the file.

    Parameters
    ----------
    file
        An open HDF5 file.
    name
        Path of the data set inside, such as ``samples/30``.
    where
        The file, for messages.

    Raises
    ------
    FormatError
        A link on the path, the storage, a filter or the type leads out of the file or is not supported.
    LookupError
        There is no such data set.
    """
    import h5py  # noqa: PLC0415

    found = file
    for part in name.split("/"):
        if not isinstance(found, h5py.Group):
            raise KeyError(name)
        refuse_links(found, where)
        found = found[part]
    if not isinstance(found, h5py.Dataset):
        raise KeyError(name)
    _refuse_storage(found, name, where)
    _refuse_type(found, name, where)
    _refuse_filters(found, name, where)
    return found


def own_attribute(file: Any, name: str, where: str) -> Any:
    """Return an attribute of the root, None where there is none.

    Raises
    ------
    FormatError
        It is not a short text or number.
    """
    import h5py  # noqa: PLC0415

    raw = name.encode()
    if not h5py.h5a.exists(file.id, raw):
        return None
    attribute = h5py.h5a.open(file.id, raw)
    kind = attribute.get_type()
    plain = isinstance(kind, h5py.h5t.TypeIntegerID) or (
        isinstance(kind, h5py.h5t.TypeStringID) and not kind.is_variable_str()
    )
    if not plain or kind.committed() or attribute.get_storage_size() > LARGEST_ATTRIBUTE:
        raise _refused(f"attribute {name}", "neither a short text nor a number", where)
    return file.attrs[name]


def _refuse_storage(dataset: Any, name: str, where: str) -> None:
    import h5py  # noqa: PLC0415

    plan = dataset.id.get_create_plist()
    if plan.get_external_count():
        raise _refused(name, "stored in another file", where)
    layout = plan.get_layout()
    if layout == h5py.h5d.VIRTUAL:
        raise _refused(name, "a virtual data set, whose data are in other data sets or files", where)
    if layout not in {h5py.h5d.CHUNKED, h5py.h5d.CONTIGUOUS}:
        raise _refused(name, "stored in an unusual way", where)


def _refuse_type(dataset: Any, name: str, where: str) -> None:
    kind = dataset.id.get_type()
    if kind.committed():
        raise _refused(name, "of a type that is stored elsewhere", where)
    if dataset.dtype.kind not in "Sfiu" or dataset.dtype.hasobject:
        raise _refused(name, "of a type with references, parts or variable length", where)


def _refuse_filters(dataset: Any, name: str, where: str) -> None:
    import h5py  # noqa: PLC0415

    known = {h5py.h5z.FILTER_DEFLATE, h5py.h5z.FILTER_SHUFFLE, h5py.h5z.FILTER_FLETCHER32}
    filters = _filters(dataset)
    for number in filters:
        if number not in known:
            raise _refused(name, f"compressed with the filter {number}, which is not supported", where)
    if len(set(filters)) < len(filters):
        raise _refused(name, "compressed several times", where)


def _filters(dataset: Any) -> list[int]:
    plan = dataset.id.get_create_plist()
    return [plan.get_filter(index)[0] for index in range(plan.get_nfilters())]


def _refused(name: str, what: str, where: str) -> FormatError:
    return FormatError(f"'{name}' is {what}", where=where, remedy=_RECREATE)


def declared_bytes(dataset: Any) -> int:
    """Return the memory that reading a data set takes: all of it, or one piece where that is larger."""
    width = int(dataset.dtype.itemsize)
    whole, piece = math.prod(dataset.shape), math.prod(dataset.chunks or (0,))
    return max(int(whole), int(piece)) * width


def rows_of(dataset: Any, first: int, end: int) -> NDArray[Any]:
    """Read rows ``first`` to ``end - 1`` of a data set, unpacked to the declared size and no further.

    Returns
    -------
    ndarray
        Shape ``(end - first, *dataset.shape[1:])``.

    Raises
    ------
    ValueError
        A piece is missing, damaged, or unpacks to another size than declared.
    """
    if not (0 <= first <= end <= dataset.shape[0]):
        raise ValueError("there are no such rows")
    if dataset.chunks is None:
        if dataset.id.get_storage_size() != declared_bytes(dataset):
            raise ValueError("samples are missing")
        whole: NDArray[Any] = dataset[first:end]
        return whole
    rows = np.empty((end - first, *dataset.shape[1:]), dtype=dataset.dtype)
    for start in _chunk_starts(dataset, first, end):
        piece = _chunk(dataset, start)
        inside = tuple(
            slice(max(at, low) - at, min(at + size, high) - at)
            for at, size, low, high in _spans(dataset, start, first, end)
        )
        target = tuple(
            slice(max(at, low) - low, min(at + size, high) - low)
            for at, size, low, high in _spans(dataset, start, first, end)
        )
        rows[target] = piece[inside]
    return rows


def _spans(dataset: Any, start: tuple[int, ...], first: int, end: int) -> list[tuple[int, int, int, int]]:
    """Return start and size of a piece, and the range that is asked for, by dimension."""
    ranges = [(first, end), *((0, extent) for extent in dataset.shape[1:])]
    return [(at, size, *one) for at, size, one in zip(start, dataset.chunks, ranges, strict=True)]


def _chunk_starts(dataset: Any, first: int, end: int) -> Iterator[tuple[int, ...]]:
    """Yield where the pieces begin that hold some rows."""
    height = dataset.chunks[0]
    steps = [range(first - first % height, end, height)]
    steps += [
        range(0, extent, size) for extent, size in zip(dataset.shape[1:], dataset.chunks[1:], strict=True)
    ]
    if math.prod(len(one) for one in steps) > MOST_CHUNKS:
        raise ValueError("the data set has too many pieces")
    return product(*steps)


def _chunk(dataset: Any, start: tuple[int, ...]) -> NDArray[Any]:
    """Read one piece."""
    import h5py  # noqa: PLC0415

    stored = dataset.id.get_chunk_info_by_coord(start)
    if stored.byte_offset is None or stored.size > dataset.file.id.get_filesize():
        raise ValueError("samples are missing")
    skipped, data = dataset.id.read_direct_chunk(start)
    size = math.prod(dataset.chunks) * dataset.dtype.itemsize
    for index, number in reversed(list(enumerate(_filters(dataset)))):
        if skipped >> index & 1:
            continue
        if number == h5py.h5z.FILTER_DEFLATE:
            data = _inflated(data, size + _CHECKSUM_BYTES)
        elif number == h5py.h5z.FILTER_FLETCHER32:
            # The hash of every channel is compared, so that this sum tells nothing more.
            data = data[:-_CHECKSUM_BYTES]
        elif number == h5py.h5z.FILTER_SHUFFLE:
            data = _unshuffled(data, dataset.dtype.itemsize)
    if len(data) != size:
        raise ValueError("a piece has another size than declared")
    return np.frombuffer(data, dtype=dataset.dtype).reshape(dataset.chunks)


def _inflated(data: bytes, most: int) -> bytes:
    inflate = zlib.decompressobj()
    try:
        content = inflate.decompress(data, most + 1)
    except zlib.error as error:
        raise ValueError("a piece is damaged") from error
    if len(content) > most or not inflate.eof:
        raise ValueError("a piece has another size than declared")
    return content


def _unshuffled(data: bytes, width: int) -> bytes:
    if len(data) % width:
        raise ValueError("a piece has another size than declared")
    return np.frombuffer(data, dtype=np.uint8).reshape(width, -1).T.tobytes()
