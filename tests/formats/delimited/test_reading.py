"""Delimited text, typed by hand: what is read of it, and every refusal."""

from __future__ import annotations

import hashlib
import itertools
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import CorrelateError, FormatError, SignalError
from correlate.formats.delimited import read, reading
from tests.formats.examples import counted_reading, written

if TYPE_CHECKING:
    from pathlib import Path

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}


@pytest.mark.parametrize(
    ("separator", "mark", "encoding", "line_end"),
    [
        (separator, mark, encoding, line_end)
        for separator, mark, encoding, line_end in itertools.product(
            SEPARATORS, ".,", ["utf-8", "utf-8-sig", "latin-1"], ["\n", "\r\n"]
        )
        if (separator, mark) != ("comma", ",")
    ],
)
def test_every_way_of_writing_one_table(
    separator: str, mark: str, encoding: str, line_end: str, tmp_path: Path
) -> None:
    """Separator, decimal mark, encoding and line end change nothing of what is read."""
    lines = [
        "# Title: drop 3",
        "time [ms]|sternum deflection [mm]|head rotation [°]",
        "0*0|0*25|-1e1",
        "0*5|-1*5|2*5",
        "",
        "1*0|3|0*125",
    ]
    text = line_end.join(lines).replace("|", SEPARATORS[separator]).replace("*", mark) + line_end
    path = written(tmp_path, text.encode(encoding))
    recording = read(path)
    deflection, rotation = recording.signals
    np.testing.assert_array_equal(deflection.samples, [0.25, -1.5, 3.0])
    np.testing.assert_array_equal(rotation.samples, [-10.0, 2.5, 0.125])
    assert (deflection.unit, rotation.unit) == ("mm", "°")
    assert (deflection.start_s, deflection.step_s) == (0.0, 5e-4)
    assert recording.title == "drop 3"
    assert deflection.source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert deflection.history[0].settings == {
        "format": "delimited text",
        "file": str(path),
        "channel": "sternum deflection",
        "unit": "mm",
        "rows": 3,
        "time_unit": "ms",
        "separator": separator,
        "decimal_mark": mark,
    }


def test_time_column_may_stand_anywhere(tmp_path: Path) -> None:
    """The other columns keep their order."""
    recording = read(written(tmp_path, "a [g],time [s],b [kN]\n1,0,4\n2,0.1,5\n"))
    assert recording.channel_names == ("a", "b")
    assert recording.channel("b").end_s == pytest.approx(0.1, rel=1e-15)


def test_unit_row_under_the_header(tmp_path: Path) -> None:
    """Names above, units below."""
    signal = read(written(tmp_path, "time;force\nms;kN\n0;1,5\n1;2,5\n")).only_channel()
    assert (signal.channel, signal.unit, signal.step_s) == ("force", "kN", 1e-3)


def test_last_line_needs_no_end(tmp_path: Path) -> None:
    """A file cut off right behind the last digit is whole."""
    signal = read(written(tmp_path, "time [s],a [g]\n0,1\n1,2")).only_channel()
    np.testing.assert_array_equal(signal.samples, [1.0, 2.0])


def test_ten_samples_are_enough_to_read(tmp_path: Path) -> None:
    """Whether they are enough to rate is not for the reader to say."""
    text = "time [ms],a [g]\n" + "".join(f"{index},{index * index}\n" for index in range(10))
    np.testing.assert_array_equal(read(written(tmp_path, text)).only_channel().samples, np.arange(10) ** 2)


def test_rounded_times_count_as_constant(tmp_path: Path) -> None:
    """30 kHz with three decimals of a millisecond: one step, the deviation recorded, no sample moved."""
    values = np.arange(1, 3001) % 7
    rows = "".join(f"{index / 30:.3f},{value}\n" for index, value in enumerate(values))
    signal = read(written(tmp_path, "time [ms],a [g]\n" + rows)).only_channel()
    np.testing.assert_array_equal(signal.samples, values)
    # The last time, 99.967 ms, is rounded by up to half a microsecond.
    assert signal.step_s == pytest.approx(1 / 3e4, rel=0.5e-3 / 99.967)
    assert [step.name for step in signal.history] == ["read", "even time step"]


def test_uneven_times_are_resampled_as_a_recorded_step(tmp_path: Path) -> None:
    """A straight line at times 0, 1, 2, 5 ms stays a straight line at every ms, for every channel."""
    text = "time [ms],a [g],b [mm]\n0,0,10\n1,1,9\n2,2,8\n5,5,5\n"
    for signal, line in zip(read(written(tmp_path, text)).signals, (range(6), range(10, 4, -1)), strict=True):
        np.testing.assert_allclose(signal.samples, list(line), rtol=1e-12)
        assert [step.name for step in signal.history] == ["read", "resample unevenly sampled"]


def test_channel_that_is_zero_throughout_does_not_hide_uneven_times(tmp_path: Path) -> None:
    """Whether times are even is seen from the times, not from a channel that looks alike either way."""
    text = "time [ms],zero [g],b [mm]\n0,0,0\n1,0,1\n2.5,0,2.5\n3,0,3\n4,0,4\n"
    zero, slope = read(written(tmp_path, text)).signals
    assert len(zero) == len(slope) == 5
    np.testing.assert_allclose(slope.samples, [0, 1, 2, 3, 4], rtol=1e-12)


def test_times_are_read_over_the_edges_of_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Small blocks give the same samples and the same line numbers as one large one."""
    rows = [f"{index},{index % 97}.5" for index in range(30_000)]
    path = written(tmp_path, "time [ms],a [g]\n" + "\n".join(rows))
    whole = read(path).only_channel()
    monkeypatch.setattr(reading, "_BLOCK", 1000)
    np.testing.assert_array_equal(read(path).only_channel().samples, whole.samples)
    rows[29_000] = "29000,oops"
    with pytest.raises(FormatError, match=r"line 29002, column 2 \('a'\): 'oops' is not a number"):
        read(written(tmp_path, "time [ms],a [g]\n" + "\n".join(rows)))
    rows[29_000] = "28999,0"
    with pytest.raises(
        SignalError, match=r"line 29002: the time 28999 ms is not above that of the row before"
    ):
        read(written(tmp_path, "time [ms],a [g]\n" + "\n".join(rows)))


@pytest.mark.parametrize(
    ("text", "error", "sentence"),
    [
        (
            "time [ms],a [g]\n",
            FormatError,
            r"run\.csv: there is no row of numbers below the header; export it",
        ),
        ("time [ms],a [g]", FormatError, "there is no row of numbers below the header"),
        (
            "time [ms],a [g]\n0,1\n",
            FormatError,
            "there is one row of numbers only; export it again with at least",
        ),
        ("time [ms],a [g]\n0,1\n1\n", FormatError, "line 3: the line has 1 cell, the header 2"),
        ("time [ms],a [g]\n0,1\n1,x\n", FormatError, r"line 3, column 2 \('a'\): 'x' is not a number"),
        ("time [ms],a [g]\n0,1\n1,\n", FormatError, r"line 3, column 2 \('a'\): the cell is empty"),
        (
            "time [ms],a [g]\n0,1\n1,NaN\n",
            FormatError,
            r"line 3, column 2 \('a'\): 'NaN' is not a finite number",
        ),
        (
            "time [ms],a [g]\n0,1\n-inf,2\n",
            FormatError,
            r"line 3, column 1 \('time'\): '-inf' is not a finite",
        ),
        (
            "time [ms];a [g]\n0;1\n1;1,500\n",
            FormatError,
            "line 3: in '1,500', is the comma a decimal mark or",
        ),
        (
            "time [ms],a [g]\n0,0,1\n",
            FormatError,
            "line 2: the line '0,0,1' has 3 cells and the header 2: are",
        ),
        (
            "time [ms],a [g]\n0,1\n# pause\n\n1,2\n1,3\n",
            SignalError,
            r"run\.csv, line 6: the time 1 ms is not above that of the row before, 1 ms; export it",
        ),
        (
            "time [ms],a [g]\n2,1\n1.5,2\n",
            SignalError,
            r"line 3: the time 1\.5 ms is not above that of the row before, 2 ms",
        ),
    ],
)
def test_bad_text_is_refused_in_one_sentence(
    text: str, error: type[CorrelateError], sentence: str, tmp_path: Path
) -> None:
    """Each names file and line, and says what to do."""
    with pytest.raises(error, match=sentence) as caught:
        read(written(tmp_path, text))
    assert caught.value.where
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_stated_step_must_agree_with_the_times(tmp_path: Path) -> None:
    """A comment about the step is used to its last digit when true, refused when not."""
    step = 1.0000000000000002e-4
    text = "# sampling interval [s]: {}\ntime [s],a [g]\n0,1\n0.0001,2\n"
    recording = read(written(tmp_path, text.format(repr(step))))
    assert recording.only_channel().step_s == step
    assert recording.details == {}
    for wrong in ("2e-4", "-1", "soon", "nan"):
        with pytest.raises(
            FormatError, match=rf"the comment 'sampling interval \[s\]: {wrong}' does not agree"
        ):
            read(written(tmp_path, text.format(wrong)))


def test_garbage_behind_good_rows_stops_the_reading_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two gigabytes of nothing behind a good start: the line is named and the rest never read."""
    path = written(tmp_path, "time [ms],a [g]\n0,1\n1,2\n2,")
    with path.open("r+b") as stream:
        stream.truncate(2 * 2**30)
    with (
        counted_reading(monkeypatch) as sizes,
        pytest.raises(FormatError, match=r"run\.csv: the file is not text"),
    ):
        read(path)
    assert sum(sizes) < 200_000
    path = written(
        tmp_path, "time [ms],a [g]\n" + "".join(f"{index},1\n" for index in range(20_000)) + "20000,"
    )
    with path.open("r+b") as stream:
        stream.truncate(2 * 2**30)
    with (
        counted_reading(monkeypatch) as sizes,
        pytest.raises(FormatError, match=r"line 20002(,|: the line is longer)"),
    ):
        read(path)
    assert sum(sizes) < 10_000_000


@pytest.mark.parametrize(
    "cell", ['"2" \r3', f'"{"9" * 140_000}"'], ids=["carriage return behind a quote", "very long cell"]
)
def test_quotes_that_cannot_be_read_are_refused_with_their_line(cell: str, tmp_path: Path) -> None:
    """What the library for quoted cells does not take is a sentence."""
    path = written(tmp_path, f"time [ms],a [g]\n0,1\n1,{cell}\n2,4\n")
    with pytest.raises(FormatError, match=r"run\.csv, line 3: the quotes are wrong"):
        read(path)
