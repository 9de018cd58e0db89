"""A first look at unknown text files: what is proposed, what is asked, what the proposal reads."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import FormatError, SettingsError
from correlate.formats.columns import read_columns_so_far
from correlate.formats.columns.layout_file import layout_of
from correlate.formats.columns.proposal import NONE, Answers, propose_layout
from tests.formats.examples import written

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.formats import Recording

ROWS = [(0.1 * i, 2.5 * math.sin(i / 5), -30 * math.sin(i / 4), math.cos(i / 6)) for i in range(60)]
TITLE = "  RUN 12 NECK PENDULUM\n  version 3\n\n"
HEADER = f"{'time':>12}{'force_x':>12}{'chest_disp':>12}{'head_ry':>12}\n"


def fixed_width(*, width: int = 12) -> list[str]:
    """Return the rows right-aligned; numbers touch where the width is 11."""
    return ["".join(f"{value:{width}.4E}" for value in row) + "\n" for row in ROWS]


def read_as_proposed(path: Path, answers: Answers) -> Recording:
    """Read a file by what is proposed for it."""
    words: dict[str, Any] = propose_layout(path, answers).table()
    return read_columns_so_far(path, layout_of(words, "proposed"))


def test_solver_output_in_fixed_width(tmp_path: Path) -> None:
    """Title, repeated header, no units and a mark of the end: all is found, only units and mark are asked."""
    rows = fixed_width()
    text = (
        TITLE
        + HEADER
        + "".join(rows[:30])
        + "\n"
        + HEADER
        + "".join(rows[30:])
        + " NORMAL END after 12.5 s\n"
    )
    path = written(tmp_path, text, "run.out")
    proposal = propose_layout(path)
    assert proposal.look.titles == ("RUN 12 NECK PENDULUM", "version 3")
    assert proposal.time is not None
    assert proposal.time.name == "time"
    assert [(one.about, one.proposal) for one in proposal.questions] == [
        ("units", "mm-ms-kg"),
        ("normal end", "NORMAL END after * s"),
    ]
    recording = read_as_proposed(path, Answers(units="mm-ms-kg", normal_end="NORMAL END after * s"))
    assert [(one.channel, one.unit) for one in recording] == [
        ("force_x", "kN"),
        ("chest_disp", "mm"),
        ("head_ry", "rad"),
    ]
    assert recording.unfinished is None
    expected = [float(f"{row[1]:.4E}") for row in ROWS]
    assert recording["force_x"].samples.tolist() == pytest.approx(expected, rel=0, abs=1e-12)


def test_numbers_that_touch_are_told_apart_by_characters(tmp_path: Path) -> None:
    """Each number ends at the same character in every row; names with a blank are kept whole."""
    header = "".join(f"{name:>11}" for name in ("time", "force x", "chest disp", "head ry")) + "\n"
    path = written(tmp_path, header + "".join(fixed_width(width=11)), "run.out")
    columns = propose_layout(path).look.columns
    assert [(one.name, one.characters) for one in columns] == [
        ("time", (1, 11)),
        ("force x", (12, 22)),
        ("chest disp", (23, 33)),
        ("head ry", (34, 44)),
    ]
    recording = read_as_proposed(path, Answers(units="mm-ms-kg"))
    assert recording["chest disp"].samples.min() == pytest.approx(min(row[2] for row in ROWS), abs=1e-2)


def test_names_that_touch_are_cut_where_the_columns_are(tmp_path: Path) -> None:
    """A name as wide as its column touches the one before; a title of words is not cut so."""
    header = "".join(f"{name:>12}" for name in ("time", "impactor_acc", "contactforce", "head_ry")) + "\n"
    rows = "".join(fixed_width())
    named = propose_layout(written(tmp_path, TITLE + header + rows, "run.out")).look.columns
    assert [one.name for one in named] == ["time", "impactor_acc", "contactforce", "head_ry"]
    title = "a title with words that run over all of the columns\n"
    bare = propose_layout(written(tmp_path, title + rows, "bare.out")).look.columns
    assert [one.name for one in bare] == ["column 1", "column 2", "column 3", "column 4"]


def test_a_row_of_units_is_understood(tmp_path: Path) -> None:
    """Semicolons, decimal commas, units below the names: nothing is left to ask."""
    lines = ["Test;R1", "Zeit;Kraft;Weg", "ms;kN;mm"]
    lines += [";".join(f"{value:.4f}".replace(".", ",") for value in row[:3]) for row in ROWS]
    path = written(tmp_path, "\n".join(lines) + "\n", "test.txt")
    proposal = propose_layout(path)
    assert proposal.questions == ()
    assert (proposal.look.separator, proposal.look.decimal) == (";", ",")
    recording = read_as_proposed(path, Answers())
    assert [(one.channel, one.unit) for one in recording] == [("Kraft", "kN"), ("Weg", "mm")]


def test_words_gaps_and_units_in_brackets(tmp_path: Path) -> None:
    """Words are ignored, a mark without a number is a missing value, an unknown column is asked for."""
    lines = ["# mine", "TIME (s)\tACC_X\tstate\tTEMP"]
    lines += [
        f"{row[0] / 1e3:.5f}\t{'n/a' if at in {7, 8} else f'{row[1]:.3f}'}\tok\t{row[2]:.2f}"
        for at, row in enumerate(ROWS)
    ]
    path = written(tmp_path, "\n".join(lines) + "\n", "test.txt")
    proposal = propose_layout(path)
    assert [(one.about, one.proposal) for one in proposal.questions] == [("units", "m-s-kg"), ("TEMP", "")]
    recording = read_as_proposed(path, Answers(units="m-s-kg", columns={"TEMP": "ignore"}))
    assert recording.channel_names == ("ACC_X",)
    read = recording["ACC_X"].history[0]
    assert read.settings["missing_values"] == 2
    assert len(recording["ACC_X"]) == len(ROWS)


def test_numbers_that_may_stand_for_nothing_are_asked_for(tmp_path: Path) -> None:
    """-9999 far above all others is proposed as missing, and only left out when somebody says so."""
    lines = ["time [ms]\tforce [kN]"]
    lines += [f"{row[0]:.2f}\t{-9999 if at == 9 else row[1]}" for at, row in enumerate(ROWS)]
    path = written(tmp_path, "\n".join(lines) + "\n", "run.tab")
    [question] = propose_layout(path).questions
    assert (question.about, question.proposal) == ("missing", "-9999")
    assert read_as_proposed(path, Answers(missing=()))["force"].samples.min() == -9999
    assert read_as_proposed(path, Answers(missing=("-9999",)))["force"].samples.min() > -3


def test_the_column_of_times_is_asked_for_when_several_rise(tmp_path: Path) -> None:
    """Neither name says it; what was answered is used."""
    lines = [f"{at} {at * 0.5} {at * at}" for at in range(1, 20)]
    path = written(tmp_path, "\n".join(lines) + "\n", "run.dat")
    first = propose_layout(path).questions[0]
    assert first.about == "time"
    assert propose_layout(path, Answers(time="column 2")).questions[0].about == "units"
    with pytest.raises(SettingsError, match="there is no column 't'; it has 'column 1', 'column 2'"):
        propose_layout(path, Answers(time="t"))


def test_new_names_and_the_files_it_is_for(tmp_path: Path) -> None:
    """Both stand in the layout; a unit that is none is refused with what may be written."""
    path = written(tmp_path, TITLE + HEADER + "".join(fixed_width()), "run.out")
    answers = Answers(units="mm-ms-kg", names={"force_x": "probe force"}, files=("*.out", "old_*"))
    words = propose_layout(path, answers).table()
    assert words["files"] == ["*.out", "old_*"]
    assert [column["name"] for column in words["columns"]][:2] == ["time", "probe force"]
    with pytest.raises(
        SettingsError, match="'wide' is neither a unit nor a quantity; write a unit such as kN"
    ):
        propose_layout(path, Answers(columns={"force_x": "wide"})).table()


def test_blocks_repeated_for_every_output_time(tmp_path: Path) -> None:
    """The line with the time, the lines below it, the key of a row and the end of a block are found."""
    blocks = (
        f" nodal output at time {at * 1e-4:.5E} (cycle {3 * at})\n node  x-disp  y-disp\n"
        f"   12 {at:7.3f} {2 * at:7.3f}\n   15 {3 * at:7.3f} {-at:7.3f}\n\n"
        for at in range(40)
    )
    path = written(tmp_path, "  RUN 12\n\n" + "".join(blocks), "run.out")
    proposal = propose_layout(path)
    assert proposal.table()["block"] == {
        "start": "nodal output at time {time} (cycle *)",
        "time_unit": "s",
        "skip_lines": 1,
        "key": "node",
        "end": "",
    }
    assert [one.about for one in proposal.questions] == ["units"]
    recording = read_as_proposed(path, Answers(units="mm-s-t"))
    assert recording.channel_names == ("node 12 x-disp", "node 12 y-disp", "node 15 x-disp", "node 15 y-disp")
    assert recording["node 15 x-disp"].samples.tolist() == [3.0 * at for at in range(40)]
    assert recording["node 15 x-disp"].step_s == pytest.approx(1e-4)


def test_asterisks_of_a_number_too_wide_are_missing(tmp_path: Path) -> None:
    """They touch the number before them, so that characters are counted."""
    rows = [f"{at / 10:8.2f}{at:8.3f}\n" if at < 30 else f"{at / 10:8.2f}********\n" for at in range(40)]
    path = written(tmp_path, "  t  force\n" + "".join(rows), "run.out")
    assert propose_layout(path).look.missing == ("********",)
    force = read_as_proposed(path, Answers(units="mm-ms-kg"))["force"]
    assert force.samples.tolist() == [float(at) for at in range(30)]


def test_a_column_that_counts_the_rows_is_proposed_to_be_ignored(tmp_path: Path) -> None:
    """Times are the rising column of that name."""
    rows = [f"{at} {at * 1e-4:.4f} {math.sin(at):.4f}\n" for at in range(30)]
    path = written(tmp_path, "step time force\n" + "".join(rows), "run.out")
    proposal = propose_layout(path)
    assert proposal.time is not None
    assert proposal.time.name == "time"
    assert [(one.about, one.proposal) for one in proposal.questions] == [
        ("units", "m-s-kg"),
        ("step", "ignore"),
    ]


def test_one_very_long_word_does_not_hold_the_look_up(tmp_path: Path) -> None:
    """Looked at word by word, in a time that grows with the length of the line and no faster."""
    text = "x" * 200_000 + "\n1 2\n2 3\n3 4\n" + "y" * 200_000 + "\n4 5\n"
    assert propose_layout(written(tmp_path, text, "run.out")).look.skip_like == ("y" * 200_000,)


@pytest.mark.parametrize("text", ["", "only words\nand more\n", "1 2\n3 4\n", "a;b\n1;x\n"])
def test_what_is_no_table_is_refused(tmp_path: Path, text: str) -> None:
    """In one sentence."""
    with pytest.raises(FormatError, match=r"rows of numbers|empty or not text"):
        propose_layout(written(tmp_path, text, "run.out"))


numbers = st.floats(-999, 999).map(lambda value: float(f"{value:.4f}"))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(
    columns=st.lists(st.lists(numbers, min_size=6, max_size=6), min_size=1, max_size=5),
    marks=st.tuples(st.sampled_from(["\t", ";", "|", "  "]), st.sampled_from([".", ","])),
    above=st.tuples(st.integers(0, 3), st.booleans()),
)
def test_whatever_is_proposed_reads_every_number(
    tmp_path: Path,
    columns: list[list[float]],
    marks: tuple[str, str],
    above: tuple[int, bool],
) -> None:
    """Tables in many forms come back number by number once times, units and gaps are answered."""
    (separator, decimal), (titles, has_header) = marks, above
    table = [[0.5 * at for at in range(6)], *columns]
    lines = [f"line {at} of words above" for at in range(titles)]
    if has_header:
        lines.append(separator.join(["time", *(f"force_{at}" for at in range(len(columns)))]))
    lines += [
        separator.join(f"{value:.4f}".replace(".", decimal) for value in row)
        for row in zip(*table, strict=True)
    ]
    path = written(tmp_path, "\n".join(lines) + "\n", "run.txt")
    names = [one.name for one in propose_layout(path).look.columns]
    assert len(names) == len(table)
    answers = Answers(
        time=names[0],
        units="mm-ms-kg",
        columns=dict.fromkeys(names[1:], "force") | {names[0]: "time"},
        missing=(),
        normal_end=NONE,
    )
    recording = read_as_proposed(path, answers)
    for signal, values in zip(recording, columns, strict=True):
        assert signal.samples.tolist() == values
        assert signal.start_s == 0.0
        assert signal.step_s == pytest.approx(5e-4)
        assert np.isfinite(signal.samples).all()
