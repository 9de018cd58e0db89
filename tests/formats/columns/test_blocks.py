"""Blocks of rows for every output time: channels by key and column, and what is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import FormatError, SignalError
from correlate.formats.columns import Column, ColumnLayout, RepeatedBlock, read_columns
from correlate.formats.columns import cells as rows
from tests.formats.columns.examples import NODES, nodes
from tests.formats.examples import bits, written

if TYPE_CHECKING:
    from pathlib import Path


def test_each_key_and_column_becomes_a_channel(tmp_path: Path) -> None:
    """Cells that touch, text between the blocks, a block in another order, an end by a blank line."""
    recording = read_columns(written(tmp_path, NODES), nodes())
    assert {signal.channel: signal.samples.tolist() for signal in recording.signals} == {
        "node 12 x": [1.0, 1.5, 1.75],
        "node 12 y": [-2.0, -2.5, -2.75],
        "node 7 x": [3.0, 3.5, 3.75],
        "node 7 y": [4.0, 4.5, 4.75],
    }
    signal = recording.channel("node 7 y")
    assert (signal.unit, signal.start_s, signal.step_s) == ("mm", 0.0, 5e-5)
    [step] = signal.history
    assert (step.settings["column"], step.settings["characters"]) == ("y", (18, 29))
    assert (step.settings["rows"], step.settings["time_unit"]) == (3, "s")


def test_the_end_may_be_words_or_the_next_block(tmp_path: Path) -> None:
    """Blank lines between rows are passed over where they end nothing; comments too."""
    text = "t 0\n a 1\n\n$ note\n b 2\n -- end\n junk\nt 1\n a 3\n b 4\n"
    columns = (Column(name="body", unit=""), Column(name="z", unit="mm"))
    block = RepeatedBlock(start="t {time}", time_unit="ms", key="body", end="-- end")
    layout = ColumnLayout(name="b", columns=columns, comment="$", block=block)
    recording = read_columns(written(tmp_path, text), layout)
    assert [signal.samples.tolist() for signal in recording.signals] == [[1.0, 3.0], [2.0, 4.0]]
    assert recording.channel_names == ("body a z", "body b z")


def test_blocks_of_one_row_need_no_key(tmp_path: Path) -> None:
    """The channel is called after the column; a start may begin like a comment; words are kept as keys."""
    text = "skipped t 5\n# time 0.0 ms\n 1 2\n# time 0.1 ms\n# note\n 3 4\n"
    layout = ColumnLayout(
        name="b",
        skip_lines=1,
        comment="#",
        columns=(Column(name="x", unit="mm"), Column(name="y", unit="mm")),
        block=RepeatedBlock(start="# time {time} ms", time_unit="ms"),
    )
    recording = read_columns(written(tmp_path, text), layout)
    assert {one.channel: one.samples.tolist() for one in recording.signals} == {
        "x": [1.0, 3.0],
        "y": [2.0, 4.0],
    }


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
@given(data=st.data())
def test_any_blocks_come_back_to_the_last_bit(data: st.DataObject, tmp_path: Path) -> None:
    """Random keys, orders, numbers and sizes of the pieces the file is read in."""
    word = st.from_regex(r"[A-Z_0-9.][A-Za-z_0-9.]{0,7}", fullmatch=True)
    keys = data.draw(st.lists(word, min_size=1, unique=True))
    count = data.draw(st.integers(2, 5))
    number = st.floats(allow_nan=False, allow_infinity=False)
    values = data.draw(st.lists(number, min_size=len(keys) * count * 2, max_size=len(keys) * count * 2))
    table = np.array(values).reshape(count, len(keys), 2)
    texts = [[[repr(value) for value in row] for row in block] for block in table.tolist()]
    lines = []
    for at in range(count):
        lines += [f"at time {at} now", "body x y"]
        order = data.draw(st.permutations(range(len(keys)))) if at else range(len(keys))
        lines += [f"{keys[row]} {texts[at][row][0]} {texts[at][row][1]}" for row in order]
        lines += ["total 1 2", ""]
    layout = ColumnLayout(
        name="b",
        columns=(Column(name="body"), Column(name="x", unit="mm"), Column(name="y", unit="N")),
        block=RepeatedBlock(start="at time {time}*", time_unit="s", key="body", skip_lines=1, end="total *"),
    )
    path = written(tmp_path, "\n".join(lines))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows, "FIRST_LOOK", data.draw(st.integers(1, 200)))
        patch.setattr(rows, "_BLOCK", data.draw(st.integers(70, 400)))
        recording = read_columns(path, layout)
    for row, key in enumerate(keys):
        for column, name in enumerate("xy"):
            signal = recording.channel(f"body {key} {name}")
            assert np.array_equal(bits(signal.samples), bits(table[:, row, column]))


@pytest.mark.parametrize(
    ("old", "new", "block", "sentence"),
    [
        (
            "time =",
            "zeit =",
            {},
            r"no line fits 'n o d e s at time = \{time\} \*', the start of a block",
        ),
        ("", "", {"start": "n o d e s at time = {time} ( cycle 9 )"}, "only one line fits 'n o d e s"),
        (
            "\n normal end",
            "   13 1.0         2.0",
            {},
            r"line 14: .* also has 'node 13', unlike the first one",
        ),
        (
            "   12 1.75000E+00-2.75000E+00\n",
            "",
            {},
            r"line 14: .* lacks 'node 12', unlike the fi",
        ),
        (
            "    7 3.75000E+00",
            "    8 3.75000E+00",
            {},
            r"line 14: .* lacks 'node 7', unlike .*; let the run fi",
        ),
        (
            "    7 3.50000E+00",
            "   12 3.50000E+00",
            {},
            r"line 12: the block has two rows of 'node 12'; name un",
        ),
        ("    7 3.50000E+00", "      3.50000E+00", {}, r"line 12: column 'node' is empty; correct the line"),
        (
            "",
            "",
            {"skip_lines": 3, "end": None},
            r"line 8: 'gy  17\.5' in column 'x' .* whose 'end' says what",
        ),
        (
            "\n normal end",
            " normal end",
            {},
            r"line 18: 'al end' in column 'x' .* says what follows the rows",
        ),
        ("-2.50000E+00", "-2.5000*E+00", {}, r"line 11: '-2\.5000\*E\+00' in column 'y' is not a number"),
        ("5.00000E-05", "9.9E+999", {}, r"line 9: the time is not finite; export the file again"),
        (
            "",
            "",
            {"skip_lines": 50},
            r"line 3: the block that starts here has no rows; let the run finish, or",
        ),
    ],
)
def test_faults_of_blocks_are_named_by_line(
    old: str, new: str, block: dict[str, Any], sentence: str, tmp_path: Path
) -> None:
    """A block cut short, a body too many or twice, rows that are none, no block at all."""
    assert old in NODES
    path = written(tmp_path, NODES.replace(old, new) if old else NODES, "nodes.txt")
    with pytest.raises(FormatError, match=rf"nodes\.txt.*{sentence}"):
        read_columns(path, nodes(**block))


def test_a_second_row_without_a_key_is_refused(tmp_path: Path) -> None:
    """Nothing says what it belongs to."""
    layout = ColumnLayout(
        name="b",
        columns=(Column(name="x", unit="mm"),),
        block=RepeatedBlock(start="t {time}", time_unit="ms"),
    )
    path = written(tmp_path, "t 0\n1\nt 1\n2\n3\n")
    with pytest.raises(FormatError, match=r"line 5: the block has a second row; name under 'key' the column"):
        read_columns(path, layout)


def test_output_times_that_do_not_increase_are_named(tmp_path: Path) -> None:
    """With the line on which the block starts."""
    text = NODES.replace("1.00000E-04", "5.00000E-05")
    with pytest.raises(SignalError, match=r"line 14: the time 5e-05 s is not above the one before, 5e-05 s"):
        read_columns(written(tmp_path, text), nodes())


def test_the_first_fault_is_the_one_named(tmp_path: Path) -> None:
    """A number that is none, before a block that is cut short."""
    text = NODES.replace("1.50000E+00", "1.5x000E+00").replace("   12 1.75000E+00-2.75000E+00\n", "")
    with pytest.raises(FormatError, match=r"line 11: '1\.5x000E\+00' in column 'x'"):
        read_columns(written(tmp_path, text), nodes())
