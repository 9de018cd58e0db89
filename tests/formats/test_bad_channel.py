"""One bad channel does not lose a test: all other channels are read as if it were not there."""

from __future__ import annotations

import pickle
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.errors import ChannelError, CorrelateError, FormatError, UnitError
from correlate.formats import Recording, read
from correlate.formats.delimited import reading
from correlate.formats.recording import SetAside
from tests.formats.examples import (
    CHN,
    SEAT,
    SEAT_FILE,
    TIME,
    TIME_FILE,
    TIMED_SEAT,
    bits,
    signal,
    written,
    written_test,
)

if TYPE_CHECKING:
    from collections.abc import Callable

BAD = "S0SEAT0000KMFOZ0"
"""Code of the channel that is added."""


def without(text: str, key: str) -> str:
    """Leave the line of a key out."""
    return "".join(line for line in text.splitlines(keepends=True) if not line.startswith(key))


CHANNEL_FILES: dict[str, Callable[[str], str]] = {
    "no unit": lambda text: text.replace(":g\n", ":NOVALUE\n"),
    "no line of the unit": lambda text: without(text, "Unit"),
    "unknown unit": lambda text: text.replace(":g\n", ":furlong\n"),
    "other code": lambda text: text.replace(BAD, SEAT),
    "fewer samples than declared": lambda text: text.replace(":3\n", ":4\n"),
    "no samples": lambda text: text.partition("Number of samples")[0],
    "a word among the samples": lambda text: text.replace("\n2\n", "\nOL\n"),
    "not a number": lambda text: text.replace("\n2\n", "\nNaN\n"),
    "decimal comma": lambda text: text.replace("\n2\n", "\n2,5\n"),
    "no step": lambda text: without(text, "Sampling interval"),
    "step of zero": lambda text: text.replace(":0.0001\n", ":0\n"),
    "no start": lambda text: without(text, "Time of first sample"),
    "line without a colon": lambda text: "recorded on a dead channel\n" + text,
    "times elsewhere": lambda text: text.replace(
        "Sampling interval           :0.0001", "Reference channel:X"
    ),
    "cut off": lambda text: text.replace("1\n2\n4\n", "1.5E-01\n2.5E-01\n3.5E-01\n4.5E-"),
    "empty file": lambda _: "",
}


@pytest.mark.parametrize("kind", [*CHANNEL_FILES, "no file", "code of 15 characters", "uneven times"])
def test_bad_channel_file_leaves_the_others_as_they_are(kind: str, tmp_path: Path) -> None:
    """To the last bit of samples and times, with the same history and source."""
    good = read(written_test(tmp_path / "good"))
    code = BAD[:-1] if kind == "code of 15 characters" else BAD
    chn = CHN.replace(":2\n", ":3\n") + f"Name of channel 003 :{code} / seat fz\n"
    text = SEAT_FILE.replace(SEAT, BAD)
    parts = {"chn": chn, "_003": CHANNEL_FILES[kind](text) if kind in CHANNEL_FILES else text}
    if kind == "no file":
        parts["_003"] = ""
    if kind == "uneven times":
        parts["chn"] = chn.replace(":3\n", ":4\n", 1) + f"Name of channel 004 :{TIME} / clock\n"
        parts |= {"_003": TIMED_SEAT.replace(SEAT, BAD), "_004": TIME_FILE.replace("\n0.2\n", "\n0.05\n")}
    folder = written_test(tmp_path / "bad", **parts)
    if kind == "empty file":
        (folder / "Channel" / "KM3.003").write_bytes(b"")
    check_others(good, read(folder), code, file="KM3.")


COLUMNS: dict[str, tuple[str, str]] = {
    "no unit": ("bad", "1"),
    "empty unit": ("bad []", "1"),
    "unknown unit": ("bad [furlong]", "1"),
    "no name": ("[kN]", "1"),
    "words": ("bad [1]", "ok"),
    "empty": ("bad [kN]", ""),
    "not a number": ("bad [kN]", "NaN"),
    "infinite": ("bad [kN]", "-inf"),
    "decimal comma": ("bad [kN]", "0,5"),
    "thousands": ("bad [kN]", "1,500"),
    "two marks": ("bad [kN]", "1.234,5"),
    "a time of day": ("bad [kN]", "12:31:05"),
    "hexadecimal": ("bad [kN]", "0x1F"),
    "quoted words with a separator": ("bad [kN]", '"on; off"'),
}


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(sorted(COLUMNS)),
    place=st.integers(0, 3),
    row=st.integers(0, 39),
    rows=st.lists(st.tuples(*[st.floats(-1e6, 1e6, allow_subnormal=False)] * 2), min_size=40, max_size=40),
)
def test_bad_column_leaves_the_others_as_they_are(
    kind: str, place: int, row: int, rows: list[tuple[float, float]]
) -> None:
    """Wherever it stands, and in whatever row the first bad cell is."""
    name, cell = COLUMNS[kind]
    cells = [
        ["time [ms]", "a [g]", "f [kN]"],
        *([repr(0.5 * n), repr(a), repr(f)] for n, (a, f) in enumerate(rows)),
    ]
    # A decimal comma in all rows or in one; all else is bad in one cell alone.
    bad = [name, *(cell if n == row or kind == "words" else "7" for n in range(len(rows)))]
    added = [[*line[:place], one, *line[place:]] for line, one in zip(cells, bad, strict=True)]
    with tempfile.TemporaryDirectory() as folder:
        whole, other = (
            read(written(Path(folder), "".join(";".join(line) + "\n" for line in lines)))
            for lines in (cells, added)
        )
    wanted = f"column {place + 1}" if kind == "no name" else "bad"
    check_others(whole, other, wanted, file="run.csv, line ")


@pytest.mark.parametrize("row", [0, 30_000, 59_999])
def test_bad_cell_of_a_long_file_is_found_by_line(
    row: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In any block of the compiled reader; blocks read before and after agree with the good file."""
    monkeypatch.setattr(reading, "_BLOCK", 100_000)
    lines = [f"{n};{n % 89}.25;{n % 7}" for n in range(60_000)]
    path = written(tmp_path, "time [ms];a [g];b [g]\n" + "\n".join(lines) + "\n")
    good = read(path)
    lines[row] = lines[row].rpartition(";")[0] + ";OL"
    path.write_text("time [ms];a [g];b [g]\n" + "\n".join(lines) + "\n")
    bad = read(path)
    assert bad.channel_names == ("a",)
    assert bits(bad["a"].samples).tolist() == bits(good["a"].samples).tolist()
    assert f"run.csv, line {row + 2}, column 3 ('b'): 'OL' is not a number" in str(bad.set_aside[0].error)


def test_column_of_the_times_must_be_numbers(tmp_path: Path) -> None:
    """Without times there is nothing to read, and lines of other lengths are no table."""
    with pytest.raises(FormatError, match=r"line 3, column 1 \('time'\): 'x' is not a number"):
        read(written(tmp_path, "time [s];a [g]\n0;1\nx;2\n"))
    with pytest.raises(FormatError, match="line 3: the line has 3 cells, the header 2"):
        read(written(tmp_path, "time [s];a [g]\n0;1\n1;2;3\n"))


def test_only_bad_columns_are_a_bad_file(tmp_path: Path) -> None:
    """The first is named, and how many there are."""
    sentence = (
        r"line 1, column 2 \('a'\): none of 2 channels can be used; the first, 'a': the unit 'furlong' is not"
    )
    with pytest.raises(UnitError, match=sentence):
        read(written(tmp_path, "time [s];a [furlong];b [g]\n0;1;x\n1;2;y\n"))


def test_columns_of_one_name_are_both_used(tmp_path: Path) -> None:
    """With a warning that says what they are called."""
    recording = read(written(tmp_path, "time [s];a [g];a [g]\n0;1;3\n1;2;4\n"))
    assert recording.channel_names == ("a", "a #2")
    assert recording["a #2"].samples.tolist() == [3.0, 4.0]
    [warning] = recording.warnings
    assert "run.csv, line 1: the name 'a' occurs again, and this column is called 'a #2'; rename" in warning


def check_others(good: Recording, bad: Recording, name: str, *, file: str) -> None:
    """Demand one channel more, which is set aside in words, and all others unchanged."""
    assert name in {one.name for one in bad.set_aside}
    assert bad.channel_names == good.channel_names
    for one, other in zip(good, bad, strict=True):
        assert bits(one.samples).tolist() == bits(other.samples).tolist()
        assert (one.start_s, one.step_s, one.unit) == (other.start_s, other.step_s, other.unit)
        assert [step.name for step in one.history] == [step.name for step in other.history]
        assert bad.channel_headers.get(one.channel) == good.channel_headers.get(one.channel)
    with pytest.raises(CorrelateError) as caught:
        bad.channel(name)
    assert file in caught.value.where
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def one_bad() -> Recording:
    """Return a recording of one good and one bad channel."""
    error = FormatError("'Unit' is not given", where="KM3.001, line 4", remedy="write the line")
    return Recording(
        signals=(signal([1.0, 2.0]),), path=Path("KM3"), format="typed", set_aside=(SetAside("Force", error),)
    )


def test_channel_that_is_set_aside_gives_its_own_error() -> None:
    """By its name in any capitals; it is none of the channels, and its error holds no data."""
    recording = one_bad()
    assert recording.channel_names == (SEAT,)
    assert recording.all_names == (SEAT, "Force")
    assert "Force" not in recording
    assert "set_aside=" in repr(recording)
    for name in ("Force", "force "):
        with pytest.raises(FormatError, match=r"^KM3\.001, line 4: 'Unit' is not given; write the line$"):
            recording.channel(name)
    with pytest.raises(ChannelError, match="there is no channel 'moment'"):
        recording.channel("moment")
    assert recording.set_aside[0].error.__traceback__ is None


def test_only_usable_channel_is_not_taken_for_the_only_one() -> None:
    """The one that was meant may be the other."""
    with pytest.raises(
        ChannelError, match=rf"of 2 channels only '{SEAT}' can be used; channel 'Force' is set"
    ):
        one_bad().only_channel()


def test_set_aside_channels_are_pickled() -> None:
    """With every word of the error."""
    recording = one_bad()
    again = pickle.loads(pickle.dumps(recording))  # noqa: S301 - our own bytes
    assert str(again.set_aside[0]) == str(recording.set_aside[0])
    assert isinstance(again.set_aside[0].error, FormatError)
    assert np.array_equal(again[SEAT].samples, recording[SEAT].samples)


def test_every_kind_of_badness_changes_the_file() -> None:
    """So that no case above is one of a good file."""
    text = SEAT_FILE.replace(SEAT, BAD)
    assert all(change(text) != text for change in CHANNEL_FILES.values())
