"""Keys of the channel book: what is written once, and is expanded before the campaign is validated."""

from __future__ import annotations

from typing import Annotated, Any, Final, Self

from pydantic import Field, model_validator

from correlate.evaluation.tables import ChannelSettings, Weight, Window
from correlate.formats.columns.layout_file import Layout  # noqa: TC001 - pydantic needs it at run time
from correlate.toml import Name, Table

CLEARED: Final = "none"
"""Value that removes what a default gives."""

CAN_BE_CLEARED: Final = ("cfc", "test_offset_ms", "model_unit", "model_axis")
"""Keys that may have it: those that are optional."""


class BookChannel(ChannelSettings):
    """A channel of the book; see `ChannelSettings`."""

    test: Annotated[str, Field(min_length=1)]


class Override(ChannelSettings):
    """Settings that a load case changes for some of its channels; see `ChannelSettings`.

    Attributes
    ----------
    test
        Channel code or name, or a pattern of ``*`` and ``?``.
    """

    test: Annotated[str, Field(min_length=1)]


class Default(ChannelSettings):
    """Settings for all channels of a kind that do not give them; see `ChannelSettings`.

    Attributes
    ----------
    test
        Channels of this code or name, or of a pattern of ``*`` and ``?``; left out: any.
    quantity
        Channels of this physical quantity; left out: any.
    """

    @model_validator(mode="after")
    def _says_for_what(self) -> Self:
        if not self.test and not self.quantity:
            raise ValueError("name the channels under 'test' or 'quantity'; test = \"*\" means all")
        return self


class EveryLoadCase(Table):
    """Settings for all load cases that do not give them; see `correlate.evaluation.tables.LoadCase`.

    Attributes
    ----------
    channels, regions
        As in a load case.
    """

    interval_ms: Window | None = None
    step_ms: Annotated[float, Field(gt=0, allow_inf_nan=False)] = 0.1
    model_file: str = "{load_case}.csv"
    layout: str | list[str] | None = None
    test_layout: str | None = None
    weight: Weight = 1.0
    expected_repeats: Annotated[int, Field(ge=1)] | None = None
    channels: list[str] = Field(default_factory=list)
    regions: list[str] = Field(default_factory=list)


class CaseBook(Table):
    """What a load case takes from the book, and what it changes.

    Attributes
    ----------
    include
        Books whose defaults apply to this load case only.
    channels
        Channels of the book, codes, names or patterns of ``*`` and ``?``.
    regions
        Body regions whose channels it takes from the book. Without either key and without channels of its
        own, a load case takes the whole book.
    """

    include: list[str] = Field(default_factory=list)
    channels: list[str] = Field(default_factory=list)
    regions: list[str] = Field(default_factory=list)
    default: list[Default] = Field(default_factory=list)
    override: list[Override] = Field(default_factory=list)


class IncludedBook(Table):
    """The whole of an included file.

    Attributes
    ----------
    include
        Further books, relative to this file; ``ready-made/NAME`` is one that comes with the program.
    regions
        Relative weight of a body region within a load case, by name.
    """

    include: list[str] = Field(default_factory=list)
    channel: list[BookChannel] = Field(default_factory=list)
    default: list[Default] = Field(default_factory=list)
    layout: list[Layout] = Field(default_factory=list)
    regions: dict[Name, Weight] = Field(default_factory=dict)


class CampaignBook(Table):
    """What a campaign file may hold besides its plain tables.

    Attributes
    ----------
    include
        Books, relative to this file; ``ready-made/NAME`` is one that comes with the program.
    """

    include: list[str] = Field(default_factory=list)
    every_load_case: EveryLoadCase = EveryLoadCase()
    channel: list[BookChannel] = Field(default_factory=list)
    default: list[Default] = Field(default_factory=list)
    load_case: list[CaseBook] = Field(default_factory=list)


def without_cleared(entry: dict[str, Any]) -> dict[str, Any]:
    """Return the keys of a channel that have a value."""
    return {key: value for key, value in entry.items() if not (value == CLEARED and key in CAN_BE_CLEARED)}
