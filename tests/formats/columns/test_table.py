"""One table in columns: what is read from it, exactly, and what is refused."""

from __future__ import annotations

import hashlib
import sys
import tracemalloc
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import ChannelError, FormatError, SignalError
from correlate.formats.columns import Column, ColumnLayout, cells, read_columns
from correlate.formats.columns import cells as rows
from tests.formats.columns.examples import PROBE, probe, two_columns
from tests.formats.examples import bits, counted_reading, samples, written

if TYPE_CHECKING:
    from pathlib import Path

by_columns = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)


def test_columns_are_read_as_they_stand(tmp_path: Path) -> None:
    """Header skipped, comments and blank lines passed over, a column of words ignored; times in s."""
    path = written(tmp_path, PROBE, "probe.txt")
    recording = read_columns(str(path), probe())
    assert recording.channel_names == ("force", "travel")
    assert (recording.format, recording.path) == ("columns", path)
    force, travel = recording.signals
    assert force.samples.tolist() == [0.0, -1.5, 25.0, 3.0]
    assert travel.samples.tolist() == [0.0, 0.25, 0.5, 1.0]
    assert (force.unit, travel.unit, force.start_s, force.step_s) == ("kN", "mm", 0.0, 1e-4)
    assert force.source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    [step] = travel.history
    assert step.name == "read"
    assert step.settings == {
        "format": "columns",
        "file": str(path),
        "layout": "probe",
        "layout_sha256": probe().sha256,
        "rows": 4,
        "time_unit": "ms",
        "decimal_mark": ".",
        "channel": "travel",
        "unit": "mm",
        "column": "travel",
    }


def test_cells_of_fixed_width_may_touch(tmp_path: Path) -> None:
    """Characters are counted; the order of the columns and what lies between them do not matter."""
    text = "run 1.50000-2.5000 0.0001\nrun 2.50000-3.5000 0.0002\nrun 3.5     -4.5   0.0003\n"
    columns = (
        Column(name="t", unit="s", characters=(19, 25)),
        Column(name="b", unit="mm", characters=(12, 18)),
        Column(name="a", unit="mm", characters=(5, 11)),
    )
    recording = read_columns(written(tmp_path, text), ColumnLayout(name="fixed", columns=columns, time="t"))
    assert recording.channel("a").samples.tolist() == [1.5, 2.5, 3.5]
    assert recording.channel("b").samples.tolist() == [-2.5, -3.5, -4.5]
    assert recording.channel("b").history[0].settings["characters"] == (12, 18)
    assert (recording.channel("a").start_s, recording.channel("a").step_s) == (1e-4, 1e-4)


def test_decimal_commas_and_exponents_of_fortran(tmp_path: Path) -> None:
    """Also where letters are missing because the exponent has three digits."""
    path = written(tmp_path, "0,0 1,5D+02\n0,5 -2,5d-1\n1,0 1,25-101\n1,5 ,5E0\n")
    force = read_columns(path, two_columns(decimal=",")).only_channel()
    assert force.samples.tolist() == [150.0, -0.25, 1.25e-101, 0.5]
    assert force.step_s == 0.5


@pytest.mark.parametrize(
    "data",
    [
        PROBE.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + PROBE.encode(),
        PROBE.replace("ok", "µ").encode("latin-1"),
        PROBE.replace("ok", "µ").encode(),
        PROBE.rstrip("\n").encode(),
        PROBE.replace("  ", "\t").encode(),
    ],
    ids=["CRLF", "byte order mark", "Latin-1", "UTF-8", "no last line end", "tabs"],
)
def test_line_ends_and_encodings_do_not_matter(data: bytes, tmp_path: Path) -> None:
    """The same numbers come out."""
    recording = read_columns(written(tmp_path, data), probe())
    assert recording.channel("force").samples.tolist() == [0.0, -1.5, 25.0, 3.0]


def test_uneven_times_are_a_recorded_step(tmp_path: Path) -> None:
    """A solver that chose its own steps: linear interpolation onto the median step, in the history."""
    text = "0 0\n1 1\n2 2\n3.5 3.5\n4 4\n"
    force = read_columns(written(tmp_path, text), two_columns()).only_channel()
    assert force.samples.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
    assert [step.name for step in force.history] == ["read", "resample unevenly sampled"]


def test_rounded_times_count_as_one_step(tmp_path: Path) -> None:
    """Samples stay as they are; how far the print is off is recorded for every channel."""
    text = "0.000 1 4\n0.033 2 5\n0.067 3 6\n0.100 7 8\n"
    columns = (Column(name="t", unit="ms"), Column(name="a", unit="g"), Column(name="b", unit="g"))
    recording = read_columns(written(tmp_path, text), ColumnLayout(name="r", columns=columns, time="t"))
    assert [signal.samples.tolist() for signal in recording.signals] == [[1, 2, 3, 7], [4, 5, 6, 8]]
    for signal in recording.signals:
        assert [step.name for step in signal.history] == ["read", "even time step"]


@by_columns
@given(values=samples, style=st.sampled_from(["r", ".17e", ".16E"]), compiled=st.booleans())
def test_numbers_come_back_to_the_last_bit(
    values: list[float],
    style: str,
    compiled: bool,  # noqa: FBT001 - hypothesis passes it by name
    tmp_path: Path,
) -> None:
    """Between blanks and in fixed width, by the compiled reader and cell by cell."""
    texts = [repr(value) if style == "r" else format(value, style) for value in values]
    path = written(tmp_path, "".join(f"{at:8d}{text:>26s}\n" for at, text in enumerate(texts)))
    fixed = (
        Column(name="t", unit="s", characters=(1, 8)),
        Column(name="force", unit="kN", characters=(9, 34)),
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cells, "COMPILED_FROM", 0 if compiled else sys.maxsize)
        if not compiled:
            patch.setattr(cells, "compiled_table", lambda *_: None)
        for layout in (two_columns(), ColumnLayout(name="fixed", columns=fixed, time="t")):
            force = read_columns(path, layout).only_channel()
            assert np.array_equal(bits(force.samples), bits(values))


@pytest.mark.parametrize("block", [1, 2, 3, 7, 50])
def test_where_the_file_is_cut_into_pieces_does_not_matter(
    block: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Lines that lie across pieces are read whole, their numbers and line numbers kept."""
    line = "{} {}\n"
    text = "".join(line.format(at, at * 0.5) for at in range(40))
    monkeypatch.setattr(rows, "FIRST_LOOK", 5)
    monkeypatch.setattr(rows, "_BLOCK", 40 + block)
    path = written(tmp_path, text)
    assert read_columns(path, two_columns()).only_channel().samples.tolist() == [at / 2 for at in range(40)]
    path.write_text(text.replace("33 16.5", "33 many"))
    with pytest.raises(FormatError, match=r"line 34: 'many' in column 'force' is not a number"):
        read_columns(path, two_columns())


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("", r"run\.txt: the file is empty; export it again"),
        ("0 1\n", r"run\.txt: there is one row of numbers only; export it again, or correct 'skip_lines' of"),
        ("# nothing\n", r"run\.txt: there is no row of numbers; export it again"),
        (
            "0 1\n1 2 3\n",
            r"line 2: the line has 3 columns, the layout 'plain' 2; correct the line or the lay",
        ),
        ("0 1\n1\n", r"line 2: the line has 1 column, the layout 'plain' 2"),
        ("0 1\n1 nan\n", r"line 2: 'nan' in column 'force' is not a finite number; correct the line or"),
        ("0 1\n1 1e999\n", r"line 2: '1e999' in column 'force' is not a finite number"),
        ("0 1\n-inf 1\n", r"line 2: '-inf' in column 't' is not a finite number"),
        ("0 1\n1 1_0\n", r"line 2: '1_0' in column 'force' is not a number with the decimal mark '\.'"),
        ("0 1\n1 1,5\n", r"line 2: '1,5' in column 'force' is not a number with the decimal mark '\.'"),
        ("0 1\n1 ****\n", r"line 2: '\*\*\*\*' in column 'force' is not a number"),
        ("0 1\n1 \u0663\n", r"line 2: '\u0663' in column 'force' is not a number"),
        ("0 1\n1 D5\n", r"line 2: 'D5' in column 'force' is not a number"),
        ("0 x\n1 2 3\n", r"line 1: 'x' in column 'force' is not a number"),
        (b"\0\1binary", r"run\.txt: the file is not text; name a text file"),
        ("0 1\n1 2\n".encode("utf-16"), r"run\.txt: the file is text in UTF-16; save it as UTF-8"),
        (b"0 1\r1 2\r", r"run\.txt: the lines end in a carriage return alone"),
    ],
)
def test_faults_are_named_by_line_and_column(content: str | bytes, sentence: str, tmp_path: Path) -> None:
    """One sentence with file, line and remedy; the first fault in the file is the one that is named."""
    with pytest.raises(FormatError, match=sentence):
        read_columns(written(tmp_path, content, "run.txt"), two_columns(comment="#"))


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("   1    2.50000", r"line 3: character 12, '0', is beside a column and may be a part of its cell"),
        ("   1         2.5", r"line 3: column 'force' is empty"),
        ("   1\t 2.5", r"line 3: the line contains a tab, so its characters cannot be counted"),
        ("   1", r"line 3: column 'force' is empty"),
        ("   1 2 2.5", r"line 3: '2 2\.5' in column 'force' is not a number"),
    ],
)
def test_cells_of_wrong_width_are_refused(row: str, sentence: str, tmp_path: Path) -> None:
    """A number that may be cut is never taken for the whole."""
    columns = (
        Column(name="t", unit="s", characters=(1, 4)),
        Column(name="force", unit="kN", characters=(5, 11)),
    )
    path = written(tmp_path, f"  -1    2.5\n   0    2.5\n{row}\n")
    with pytest.raises(FormatError, match=sentence):
        read_columns(path, ColumnLayout(name="fixed", columns=columns, time="t"))


def test_times_that_do_not_increase_are_named(tmp_path: Path) -> None:
    """With the line, past comments and blank lines."""
    path = written(tmp_path, "# s kN\n0 1\n\n0.5 2\n0.5 3\n")
    with pytest.raises(
        SignalError, match=r"line 5: the time 0\.5 s is not above the one before, 0\.5 s; exp"
    ):
        read_columns(path, two_columns(comment="#"))


def test_a_missing_channel_is_named_with_those_there_are(tmp_path: Path) -> None:
    """A column that is ignored is none."""
    recording = read_columns(written(tmp_path, PROBE), probe())
    with pytest.raises(ChannelError, match=r"there is no channel 'state'; .*'force', 'travel'"):
        recording.channel("state")


def test_missing_file_and_folder_are_refused(tmp_path: Path) -> None:
    """As in every other format."""
    with pytest.raises(FormatError, match=r"none\.txt: there is no such file; check the path"):
        read_columns(tmp_path / "none.txt", probe())
    with pytest.raises(FormatError, match="this is a folder, not a file"):
        read_columns(tmp_path, probe())


def test_huge_garbage_is_refused_after_a_first_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two gigabytes of zeros, and a line without an end."""
    path = written(tmp_path, b"\0", "huge.txt")
    with path.open("r+b") as stream:
        stream.truncate(2 * 2**30)
    with counted_reading(monkeypatch) as sizes, pytest.raises(FormatError, match="the file is not text"):
        read_columns(path, probe())
    assert 0 < sum(sizes) <= 2 * 65_536
    path = written(tmp_path, b"0 1\n" + b"1" * (3 * 2**20), "long.txt")
    with pytest.raises(FormatError, match=r"long\.txt, line 2: the line is longer than 1 MiB"):
        read_columns(path, two_columns())


def test_memory_stays_below_three_times_the_arrays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sixteen channels of 20,000 samples; pieces in proportion to so small a file."""
    monkeypatch.setattr(rows, "_BLOCK", 2**16)
    chance = np.random.default_rng(0)
    table = np.round(chance.standard_normal((20_000, 16)), 4)
    path = tmp_path / "wide.txt"
    path.write_text(
        "".join(f"{at} " + " ".join(map(repr, row)) + "\n" for at, row in enumerate(table.tolist()))
    )
    columns = (Column(name="t", unit="ms"), *(Column(name=f"c{at}", unit="g") for at in range(16)))
    layout = ColumnLayout(name="wide", columns=columns, time="t")
    read_columns(path, layout)
    tracemalloc.start()
    seen = read_columns(path, layout)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 3 * sum(one.samples.nbytes for one in seen.signals)
    assert np.array_equal(seen.channel("c15").samples, table[:, 15])


def test_a_file_with_other_names_above_its_columns_is_refused(tmp_path: Path) -> None:
    """As many columns in another order would be read under the wrong names; blanks do not matter."""
    layout = probe(header=("t force state travel",))
    assert read_columns(written(tmp_path, PROBE, "probe.txt"), layout).channel_names == ("force", "travel")
    other = written(tmp_path, PROBE.replace("force   state  travel", "travel  state  force"), "other.txt")
    with pytest.raises(
        FormatError, match=r"other\.txt: 't force state travel', the header of layout 'probe'"
    ):
        read_columns(other, layout)
