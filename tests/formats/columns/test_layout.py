"""Layouts that no file could be read by are refused; equal layouts have equal hashes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from correlate.errors import SettingsError, UnitError
from correlate.formats.columns import Column, ColumnLayout, RepeatedBlock
from correlate.formats.columns.layout import number_in
from tests.formats.columns.examples import nodes, probe

TIME, FORCE = Column(name="t", unit="ms"), Column(name="force", unit="kN")
BLOCK = RepeatedBlock(start="time {time}", time_unit="ms")


def layout(*columns: Column, **other: Any) -> ColumnLayout:
    """Return a layout called 'a' of a time and some columns."""
    return ColumnLayout(**({"name": "a", "time": "t", "columns": (TIME, *columns)} | other))


@pytest.mark.parametrize(
    ("columns", "other", "sentence"),
    [
        ((), {"columns": ()}, "there are no columns; list them under 'columns'"),
        ((), {}, "no column is a channel; give the columns of numbers their units"),
        (
            (Column(name="force"),),
            {},
            "column 'force' has no unit; write one, '1' for a plain number, or 'ign",
        ),
        ((Column(name=" force", unit="kN"),), {}, "' force' cannot name a column"),
        ((Column(name="", unit="kN"),), {}, "'' cannot name a column"),
        ((FORCE, FORCE), {}, "two columns are called 'force'; rename one"),
        ((replace(FORCE, ignore=True),), {}, "column 'force' is ignored and used"),
        ((FORCE,), {"columns": (Column(name="t", ignore=True), FORCE)}, "column 't' is ignored and used"),
        ((FORCE,), {"time": ""}, "'time' is missing; name the column of the times under 'time', or describe"),
        ((FORCE,), {"time": "zeit"}, "there is no column 'zeit' for the times"),
        (
            (FORCE,),
            {"time": "force"},
            "the unit of the times is 'kN', which is not a unit of time; write 's' or 'ms'",
        ),
        ((FORCE,), {"block": BLOCK}, "both 'time' and 'block' say where the times are"),
        ((FORCE,), {"decimal": ";"}, "the decimal mark is ';'; write '.' or ','"),
        ((FORCE,), {"skip_lines": -1}, "'skip_lines' is below zero"),
        (
            (FORCE,),
            {"comment": "-"},
            "'-' cannot mark a comment, because a row of numbers could begin with it",
        ),
        ((FORCE,), {"comment": " #"}, "' #' cannot mark a comment"),
        ((replace(FORCE, characters=(1, 5)),), {}, "column 't' has no 'characters' and others have"),
    ],
)
def test_contradictions_are_refused_in_one_sentence(
    columns: tuple[Column, ...], other: dict[str, Any], sentence: str
) -> None:
    """Each with the layout, what is wrong, and what to write."""
    with pytest.raises(SettingsError, match=f"^layout 'a': {sentence}"):
        layout(*columns, **other)


@pytest.mark.parametrize(
    ("time", "force", "sentence"),
    [
        ((0, 4), (5, 9), "column 't' lies in characters 0 to 4; count from 1"),
        ((4, 1), (5, 9), "column 't' lies in characters 4 to 1; count from 1"),
        ((1, 5), (5, 9), "columns 't' and 'force' share character 5"),
        ((5, 9), (1, 5), "columns 'force' and 't' share character 5"),
    ],
)
def test_characters_that_cannot_be_are_refused(
    time: tuple[int, int], force: tuple[int, int], sentence: str
) -> None:
    """Backwards, before the line, or twice in two columns."""
    columns = (replace(TIME, characters=time), replace(FORCE, characters=force))
    with pytest.raises(SettingsError, match=f"layout 'a': {sentence}"):
        layout(columns=columns)


@pytest.mark.parametrize(
    ("block", "sentence"),
    [
        ({"start": "time"}, r"the start of a block, 'time', holds no single '\{time\}'; write it once"),
        ({"start": "{time} to {time}"}, "holds no single"),
        ({"start": "* {time}"}, "could match a row of numbers; add some words of the line"),
        ({"start": "*12.5- {time}"}, "could match a row of numbers; add some words of the line"),
        ({"end": "up to {time}"}, r"the end of a block, 'up to \{time\}', holds '\{time\}'"),
        ({"key": "body"}, "there is no column 'body' for the key"),
        ({"key": "x"}, "the key 'x' has a unit; remove it"),
        ({"time_unit": "mm"}, "the unit of the times is 'mm', which is not a unit of time"),
        ({"skip_lines": -2}, "'skip_lines' is below zero"),
    ],
)
def test_blocks_that_cannot_be_found_are_refused(block: dict[str, Any], sentence: str) -> None:
    """A start that any row might fit would cut the file at random."""
    columns = (Column(name="x", unit="mm"),)
    with pytest.raises(SettingsError, match=f"layout 'b': .*{sentence}"):
        ColumnLayout(
            name="b",
            columns=columns,
            block=RepeatedBlock(**({"start": "time {time}", "time_unit": "ms"} | block)),
        )


def test_unknown_units_are_named_with_their_column() -> None:
    """A unit of a column and that of the times of a block."""
    with pytest.raises(UnitError, match=r"layout 'a', column 'force': the unit 'kNm\^' is not known"):
        layout(Column(name="force", unit="kNm^"))
    with pytest.raises(UnitError, match="layout 'nodes', 'time_unit': the unit 'tick' is not known"):
        nodes(time_unit="tick")


def test_a_start_of_the_number_alone_is_precise() -> None:
    """A line that holds nothing but the time cannot be a row of several columns."""
    assert nodes(start="{time}").time_unit == "s"


def test_the_hash_tells_layouts_apart() -> None:
    """Equal layouts have one hash; a unit, a position or the start of a block change it."""
    assert probe().sha256 == probe().sha256
    seen = {
        layout.sha256
        for layout in (
            probe(),
            probe(skip_lines=3),
            probe(decimal=","),
            nodes(),
            nodes(start="at {time}"),
            nodes(end=None),
            replace(probe(), columns=(*probe().columns[:3], Column(name="travel", unit="m"))),
        )
    }
    assert len(seen) == 7


def test_a_cell_of_very_many_digits_is_looked_at_once() -> None:
    """A word of a million digits is no number; trying every part of it in turn would take hours."""
    assert number_in("9" * 1_000_000 + "x") is None
    assert number_in("9" * 1_000_000 + ".x") is None
    assert number_in("1.5D+02") == 150.0
    assert number_in("1.-101") == 1e-101
