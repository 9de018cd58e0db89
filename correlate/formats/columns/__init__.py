"""Text in columns, of fixed width or between blanks, as a campaign file describes it."""

from __future__ import annotations

from correlate.formats.columns.layout import Column, ColumnLayout, RepeatedBlock
from correlate.formats.columns.reading import NAME, read_columns

__all__ = ["NAME", "Column", "ColumnLayout", "RepeatedBlock", "read_columns"]
