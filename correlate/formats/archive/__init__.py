"""HDF5 archive of a recording for quick re-use: one file per test, one chunk per channel."""

from __future__ import annotations

from correlate.formats.archive.reading import is_hdf5, read, read_channel
from correlate.formats.archive.structure import NAME
from correlate.formats.archive.writing import write
from correlate.formats.format import Format

FORMAT = Format(NAME, "everything a recording holds, compressed, for quick re-use", is_hdf5, read, write)

__all__ = ["FORMAT", "read", "read_channel", "write"]
