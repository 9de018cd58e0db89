"""A file that was cut off is refused or read as whole rows; no number is ever read as another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import Recording, Signal, read
from correlate.errors import CorrelateError, FormatError
from correlate.formats import iso13499
from correlate.formats.columns import Column, ColumnLayout, read_columns
from correlate.formats.text import refuse_cut_end

if TYPE_CHECKING:
    from pathlib import Path

ROWS = 40


def delimited_text(form: str) -> str:
    """Return a small export with a number format for its last column."""
    values = 1.64558 * np.sin(np.arange(ROWS) / 5.0) + 0.3
    rows = [f"{n / 10:.1f},{value:{form}}" for n, value in enumerate(values)]
    return "\n".join(["time [ms],force [kN]", *rows, ""])


def test_the_cut_exponent_of_the_example_is_refused(tmp_path: Path) -> None:
    """1.64558E-01 cut to 1.64558 would be ten times as large."""
    rows = [f"{n / 10:.1f},{value}" for n, value in enumerate(["1.10000E-01", "1.20000E-01", "1.30000E-01"])]
    file = tmp_path / "cut.csv"
    file.write_text("\n".join(["time [ms],force [kN]", *rows, "0.3,1.64558"]), encoding="utf-8")
    with pytest.raises(FormatError, match=r"cut\.csv, line 5, column 2.*1\.64558.*may have been cut off"):
        read(file)


def test_a_whole_file_without_a_last_line_break_is_read(tmp_path: Path) -> None:
    """The last number is as long as the others."""
    file = tmp_path / "whole.csv"
    file.write_text(delimited_text(".5e").rstrip("\n"), encoding="utf-8")
    assert len(read(file).signals[0]) == ROWS


def test_a_line_break_says_that_the_number_is_whole(tmp_path: Path) -> None:
    """The remedy of the message works."""
    file = tmp_path / "short.csv"
    text = delimited_text(".5e").rstrip("\n").rsplit("\n", 1)[0] + "\n3.9,1.6\n"
    file.write_text(text, encoding="utf-8")
    assert read(file).signals[0].samples[-1] == 1.6


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(min_value=1, max_value=300), form=st.sampled_from([".5e", ".4f", ".6E"]))
def test_a_cut_export_is_refused_or_a_prefix(
    tmp_path_factory: pytest.TempPathFactory, cut: int, form: str
) -> None:
    """However many bytes are missing, every number that is read is one of the whole file."""
    file = tmp_path_factory.mktemp("cut") / "a.csv"
    text = delimited_text(form)
    file.write_text(text, encoding="utf-8")
    whole = read(file).signals[0].samples
    file.write_text(text[:-cut], encoding="utf-8")
    try:
        found = read(file).signals[0].samples
    except CorrelateError as error:
        assert "a.csv" in str(error)  # noqa: PT017 - refused or read, both are right
        return
    assert np.array_equal(found, whole[: found.size])


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(min_value=1, max_value=300))
def test_a_cut_table_of_a_solver_is_refused_or_a_prefix(
    tmp_path_factory: pytest.TempPathFactory, cut: int
) -> None:
    """The same of numbers in columns with blanks."""
    layout = ColumnLayout(
        name="solver",
        time="time",
        columns=(Column(name="time", unit="ms"), Column(name="force", unit="kN")),
    )
    values = 1.64558 * np.sin(np.arange(ROWS) / 5.0)
    text = "".join(f"{n / 10:12.5E} {value:12.5E}\n" for n, value in enumerate(values))
    file = tmp_path_factory.mktemp("cut") / "push.out"
    file.write_text(text, encoding="utf-8")
    whole = read_columns(file, layout).signals[0].samples
    file.write_text(text[:-cut], encoding="utf-8")
    try:
        found = read_columns(file, layout).signals[0].samples
    except CorrelateError as error:
        assert "push.out" in str(error)  # noqa: PT017 - refused or read, both are right
        return
    assert np.array_equal(found, whole[: found.size])


@pytest.mark.parametrize("cut", [1, 2, 3, 5, 9, 30])
def test_a_cut_channel_file_is_refused(tmp_path: Path, cut: int) -> None:
    """The file states its number of samples, and a cut last number is seen by its form."""
    values = 1.64558 * np.sin(np.arange(ROWS) / 5.0)
    signal = Signal(samples=values, start_s=0.0, step_s=1e-4, unit="kN", channel="11CHST0000KMFOXP")
    recording = Recording(signals=(signal,), path=tmp_path / "T1", format="computed", details={})
    iso13499.write(recording, tmp_path / "T1")
    (file,) = (tmp_path / "T1" / "Channel").glob("*.001")
    lines = [line for line in file.read_bytes().split(b"\n") if line.strip()]
    fixed = [f"{value:.6E}".encode() for value in values]
    text = b"\n".join([*lines[:-ROWS], *fixed])
    file.write_bytes(text)
    assert read(tmp_path / "T1").signals[0].samples[-1] == float(fixed[-1])
    file.write_bytes(text[:-cut])
    with pytest.raises(FormatError):
        read(tmp_path / "T1")


@pytest.mark.parametrize(
    "last", ["12.5", "-3.25", "0.125", "7"], ids=["longer", "signed", "more decimals", "too few rows"]
)
def test_an_honest_short_number_is_read(last: str) -> None:
    """A number as long as the shortest other, or with nothing to compare with, is no mistake."""
    above = "0.1,1.25\n" if last == "7" else "0.1,1.25\n0.2,10.5\n0.3,3.75\n"
    refuse_cut_end(f"{above}0.4,{last}".encode(), separator=",", file="a.csv", last_line=4)
