"""Delimited text: comma, semicolon or tab, decimal point or comma, units in the header."""

from __future__ import annotations

from correlate.formats.delimited.reading import NAME, is_text, read, read_so_far
from correlate.formats.delimited.writing import write
from correlate.formats.recording import Format

FORMAT = Format(
    NAME, "columns between commas, semicolons or tabs, units in the header", is_text, read_so_far, write
)

__all__ = ["FORMAT", "read", "read_so_far", "write"]
