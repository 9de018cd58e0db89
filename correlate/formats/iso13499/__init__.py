"""ISO/TS 13499 test folders, plain or zipped: read and written."""

from __future__ import annotations

from correlate.formats.iso13499.channel_file import NAME
from correlate.formats.iso13499.reading import is_test, read
from correlate.formats.iso13499.writing import write, write_test
from correlate.formats.recording import Format

FORMAT = Format(
    NAME, "test folder with .mme, .chn and channel files, or a zip file of it", is_test, read, write
)

__all__ = ["FORMAT", "read", "write", "write_test"]
