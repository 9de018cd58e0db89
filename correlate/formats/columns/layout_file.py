"""Layout files: TOML files that describe the columns of a text file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from correlate.errors import SettingsError
from correlate.formats.columns.layout import Column, ColumnLayout, NormalEnd, RepeatedBlock
from correlate.formats.columns.unit_system import unit_in
from correlate.toml import Name, Place, Table, mistakes, read_toml, speak_up

if TYPE_CHECKING:
    from collections.abc import Mapping

Count = Annotated[int, Field(ge=0)]
Text = Annotated[str, Field(min_length=1)]


class ColumnTable(Table):
    """One column; see `correlate.formats.columns.Column`.

    Attributes
    ----------
    name
        Of the channel, or of what the column holds.
    unit
        Unit of the column, ``"1"`` for a plain number.
    quantity
        Quantity instead of a unit, if the layout has ``units``: force, length, angle, ...
    characters
        First and last character within a line, counted from 1; for all columns or for none.
    ignore
        True for a column that is skipped.
    """

    name: str
    unit: str = ""
    quantity: str = ""
    characters: tuple[int, int] | None = None
    ignore: bool = False

    def column(self, units: str) -> Column:
        """Return the column, its unit taken from the unit system where only a quantity is given."""
        if self.quantity and self.unit:
            raise SettingsError(
                f"column '{self.name}' has both 'unit' and 'quantity'", remedy="remove one of them"
            )
        if self.quantity and not units:
            raise SettingsError(
                f"column '{self.name}' has a quantity, but the layout has no 'units'",
                remedy='write for instance units = "mm-ms-kg"',
            )
        unit = unit_in(units, self.quantity) if self.quantity else self.unit
        return Column(name=self.name, unit=unit, characters=self.characters, ignore=self.ignore)


class BlockTable(Table):
    """A block that is repeated; see `correlate.formats.columns.RepeatedBlock`."""

    start: str
    time_unit: str
    key: str = ""
    skip_lines: Count = 0
    end: str | None = None


class NormalEndTable(Table):
    """The mark of a finished run; see `correlate.formats.columns.NormalEnd`.

    Attributes
    ----------
    text
        Pattern of the line: blanks match any run of blanks, ``*`` any text, ``?`` one character.
    file
        File beside the results that contains the line, ``{stem}`` being their name without suffix; left out:
        the results themselves.
    """

    text: Text
    file: str = ""


class LayoutFile(Table):
    """The columns of a text file; see `correlate.formats.columns.ColumnLayout`.

    Attributes
    ----------
    files
        Names of the files it applies to, ``*`` and ``?`` being wildcards; any text file when left out.
    units
        Unit system of the columns with a quantity: length, time and mass, such as ``"mm-ms-kg"``.
    separator
        Separator of the columns: a tab, ``;``, ``,`` or ``|``; left out: blanks.
    skip_lines, comment, skip_like
        Lines to skip: the number at the top, the mark they begin with, and patterns of lines.
    header
        Lines with the names of the columns; a file without them at its top is refused.
    missing
        Cells that stand for a value that is not there.
    normal_end
        What a finished run says; results without it are unfinished and are not rated.
    """

    files: list[Text] = Field(default_factory=list)
    units: str = ""
    columns: Annotated[list[ColumnTable], Field(min_length=1)]
    time: str = ""
    separator: str = ""
    skip_lines: Count = 0
    header: list[Text] = Field(default_factory=list)
    comment: str = ""
    skip_like: list[Text] = Field(default_factory=list)
    missing: list[str] = Field(default_factory=list)
    decimal: Literal[".", ","] = "."
    block: BlockTable | None = None
    normal_end: NormalEndTable | None = None

    def layout(self, name: str) -> ColumnLayout:
        """Return what the reader works by."""
        return ColumnLayout(
            name=name,
            files=tuple(self.files),
            columns=tuple(column.column(self.units) for column in self.columns),
            time=self.time,
            separator=self.separator,
            skip_lines=self.skip_lines,
            header=tuple(self.header),
            comment=self.comment,
            skip_like=tuple(self.skip_like),
            missing=tuple(self.missing),
            decimal=self.decimal,
            block=None if self.block is None else RepeatedBlock(**dict(self.block)),
            normal_end=None if self.normal_end is None else NormalEnd(**dict(self.normal_end)),
        )

    @model_validator(mode="after")
    def _settings_hold(self) -> Self:
        """Let the layout be made once, so that its own checks speak here."""
        speak_up(self.settings)
        return self

    def settings(self) -> ColumnLayout:
        """Return what the reader works by, under a name that only its own mistakes show."""
        return self.layout("this layout")


class Layout(LayoutFile):
    """A layout within a campaign file; see `correlate.formats.columns.ColumnLayout`.

    Attributes
    ----------
    name
        By which load cases and releases name it.
    """

    name: Name

    def settings(self) -> ColumnLayout:
        """Return what the reader works by."""
        return self.layout(self.name)


def layout_of(words: Mapping[str, Any], name: str) -> ColumnLayout:
    """Return the layout that the keys and values of a layout file make.

    Raises
    ------
    SettingsError
        They hold mistakes; all are named.
    """
    try:
        return LayoutFile.model_validate(words).layout(name)
    except ValidationError as error:
        found = mistakes(error, words, lambda _: Place(Path(name), None, name), LayoutFile)
        raise SettingsError("; ".join(one.words for one in found), where=f"layout '{name}'") from error


def load_layout(path: Path) -> ColumnLayout:
    """Read a layout file; it is called as the file without suffix.

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, each with line and key.
    """
    return read_toml(path, LayoutFile, kind="a layout file").table.layout(path.stem)
