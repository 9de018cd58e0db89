"""Text in columns, of fixed width or between separators, as a layout describes it."""

from __future__ import annotations

from correlate.formats.columns.layout import Column, ColumnLayout, NormalEnd, RepeatedBlock, layout_for
from correlate.formats.columns.reading import (
    NAME,
    read_columns,
    read_columns_so_far,
    without_normal_end,
)
from correlate.formats.columns.run_layout import RunLayout, read_run

__all__ = [
    "NAME",
    "Column",
    "ColumnLayout",
    "NormalEnd",
    "RepeatedBlock",
    "RunLayout",
    "layout_for",
    "read_columns",
    "read_columns_so_far",
    "read_run",
    "without_normal_end",
]
