"""The table of a campaign file that describes text in columns."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from correlate.formats.columns import Column, ColumnLayout, RepeatedBlock
from correlate.toml import Name, Table, speak_up

Count = Annotated[int, Field(ge=0)]


class ColumnTable(Table):
    """One column; see `correlate.formats.columns.Column`."""

    name: str
    unit: str = ""
    characters: tuple[int, int] | None = None
    ignore: bool = False


class BlockTable(Table):
    """A block that is repeated; see `correlate.formats.columns.RepeatedBlock`."""

    start: str
    time_unit: str
    key: str = ""
    skip_lines: Count = 0
    end: str | None = None


class Layout(Table):
    """How numbers stand in a text file; see `correlate.formats.columns.ColumnLayout`."""

    name: Name
    columns: Annotated[list[ColumnTable], Field(min_length=1)]
    time: str = ""
    skip_lines: Count = 0
    comment: str = ""
    decimal: Literal[".", ","] = "."
    block: BlockTable | None = None

    def settings(self) -> ColumnLayout:
        """Return what the reader works by."""
        return ColumnLayout(
            name=self.name,
            columns=tuple(Column(**dict(column)) for column in self.columns),
            time=self.time,
            skip_lines=self.skip_lines,
            comment=self.comment,
            decimal=self.decimal,
            block=None if self.block is None else RepeatedBlock(**dict(self.block)),
        )

    @model_validator(mode="after")
    def _settings_hold(self) -> Self:
        """Let the layout be made once, so that its own checks speak here."""
        speak_up(self.settings)
        return self
