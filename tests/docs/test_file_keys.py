"""The page of file keys: whatever the validators take stands on it, in words."""

from __future__ import annotations

import re
from typing import Annotated, Literal

import pytest
from pydantic import Field

from correlate.toml import Table
from docs.building.file_keys import (
    PAGE,
    default,
    forms_in,
    keys_of,
    kind,
    markdown,
    named,
    tables_of,
    written,
)

TEXT = PAGE.read_text(encoding="utf-8")
ROOTS = re.findall(r"^<!-- keys of (\S+) -->$", TEXT, re.MULTILINE)


class Spring(Table):
    """A spring.

    Attributes
    ----------
    stiffness, name
        Of the spring.
    way
        How.
    ends
        Both.
    """

    stiffness: Annotated[float, Field(gt=0)]
    name: str = "rib"
    way: Literal["soft", "hard"] | None = None
    ends: tuple[int, int] = (1, 2)


class Bed(Table):
    """A bed.

    Attributes
    ----------
    slats
        How many, by kind.
    """

    slats: dict[str, int] = Field(default_factory=dict)
    spring: list[Spring]
    cover: Spring | None = None


class Bare(Table):
    """Nothing said."""

    key: int


def test_the_page_is_current() -> None:
    """It says what the code says; after a change of a key: ``python -m docs.building.file_keys``."""
    assert written(TEXT) == TEXT, "write the page again: python -m docs.building.file_keys"


def test_the_page_can_be_read_as_plain_markdown() -> None:
    """No directive that only the build understands; every row of a table has its four cells."""
    assert "```" not in TEXT
    rows = [line for line in TEXT.splitlines() if line.startswith("|")]
    assert rows
    assert {len(re.findall(r"(?<!\\)\|", row)) for row in rows} == {5}


def test_a_table_is_written_with_its_head_and_keys() -> None:
    """Bold head as in the file, then the keys."""
    assert markdown(Bed).splitlines() == [
        "| key | value | left out | meaning |",
        "| --- | --- | --- | --- |",
        "| `slats` | table of whole number | none | How many, by kind. |",
        "",
        "**`[[spring]]`**",
        "",
        *(spring := markdown(Spring).splitlines()),
        "",
        "**`[cover]`**",
        "",
        *spring,
    ]


@pytest.mark.parametrize("root", ROOTS)
def test_every_key_of_every_file_is_described(root: str) -> None:
    """No table of a file lacks words for a key; a new key without a docstring fails here and in the build."""
    keys = [key for _, form in tables_of(named(root)) for key in keys_of(form)]
    assert keys
    assert all(meaning for *_, meaning in keys)


def test_files_that_people_write_are_on_the_page() -> None:
    """Each kind of file has its section."""
    assert len(ROOTS) == 13
    names = ("CampaignTable", "TuningTable", "Expectations", "WaiverTable", "PackageWords", "WindowsFile")
    for words in (*names, "PublishedCorridor", "RevokedFile", "ServerTable"):
        assert any(words in root for root in ROOTS)


def test_tables_have_the_heads_that_are_written_in_a_file() -> None:
    """A list of tables has two brackets, a single one has one, the keys before any table none."""
    assert [head for head, _ in tables_of(Bed)] == ["", "[[spring]]", "[cover]"]
    assert forms_in(Bed.model_fields["cover"].annotation) == [Spring]


def test_values_and_defaults_are_in_words() -> None:
    """Types become words; bounds and None do not show; a default is written as in the file."""
    assert keys_of(Spring) == [
        ("stiffness", "number", "needed", "Of the spring."),
        ("name", "text", "rib", "Of the spring."),
        ("way", "“soft” or “hard”", "none", "How."),
        ("ends", "list of 2: whole number", "[1, 2]", "Both."),
    ]
    assert keys_of(Bed) == [("slats", "table of whole number", "none", "How many, by kind.")]
    assert kind(list[bool]) == "list of true or false"
    assert default(Bed.model_fields["cover"]) == "none"


def test_a_key_without_words_is_refused() -> None:
    """The build stops where a docstring is silent."""
    with pytest.raises(LookupError, match=r"Bare does not describe 'key'"):
        keys_of(Bare)
