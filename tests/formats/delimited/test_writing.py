"""Delimited text written and read back."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.formats import Recording
from correlate.formats.delimited import read, write
from tests.formats import examples
from tests.formats.examples import bits, signal

printable = st.characters(exclude_categories=["C", "Z"])
words = st.lists(st.text(printable, min_size=1, max_size=8), min_size=1, max_size=3).map(" ".join)
keys = words.filter(lambda text: ":" not in text)


def recording(*names: str, **details: str) -> Recording:
    """Return a recording with channels of these names."""
    return Recording(
        signals=tuple(signal([0, 1], channel=name) for name in names),
        path=Path("run.csv"),
        format="",
        details=details,
    )


def test_layout_as_typed_by_hand(tmp_path: Path) -> None:
    """Comments, header, rows, to the byte; a name with a comma is quoted."""
    force = signal([0.0, -1.25, 3e-7], unit="kN", channel="force, left", start_s=-1e-4)
    angle = signal([1, 2, 3], unit="°", channel="angle", start_s=-1e-4)
    write(
        Recording(
            signals=(force, angle),
            path=Path("x"),
            format="",
            title="drop 3",
            details={"Remark": "one\ntwo: three"},
        ),
        tmp_path / "run.csv",
    )
    assert (tmp_path / "run.csv").read_bytes().decode("latin-1") == (
        "# Remark: one\n"
        "# Remark: two: three\n"
        "# Title: drop 3\n"
        'time [s],"force, left [kN]",angle [°]\n'
        "-0.0001,0.0,1.0\n"
        "0.0,-1.25,2.0\n"
        "0.0001,3e-07,3.0\n"
    )


@given(
    st.lists(
        words.filter(lambda name: name.casefold() not in {"t", "time", "zeit", "temps"}),
        min_size=1,
        unique=True,
    ),
    st.lists(examples.units, min_size=1),
    examples.samples,
    st.tuples(examples.starts, examples.steps),
    st.dictionaries(keys, words, max_size=3),
)
def test_any_recording_is_read_back(
    names: list[str],
    units: list[str],
    values: list[float],
    times: tuple[float, float],
    details: dict[str, str],
) -> None:
    """Names, units and details survive, samples and time base to the bit."""
    start_s, step_s = times
    signals = tuple(
        signal(
            np.roll(values, index),
            unit=units[index % len(units)],
            channel=name,
            start_s=start_s,
            step_s=step_s,
        )
        for index, name in enumerate(names)
    )
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "run.csv")
        write(Recording(signals=signals, path=path, format="", details=details), path)
        back = read(path)
    assert back.details == details
    assert back.channel_names == tuple(names)
    for given_signal, seen in zip(signals, back.signals, strict=True):
        np.testing.assert_array_equal(bits(seen.samples), bits(given_signal.samples))
        assert (seen.start_s, seen.step_s, seen.unit) == (start_s, step_s, given_signal.unit)
        assert [step.name for step in seen.history] == ["read"]


@given(st.text(st.characters(exclude_categories=["Cs"])), st.text(st.characters(exclude_categories=["Cs"])))
def test_odd_words_are_kept_or_refused(name: str, text: str) -> None:
    """Whatever a name or detail holds, it comes back as it is or nothing is written."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "run.csv")
        try:
            write(recording(name, Remark=text), path)
        except FormatError:
            assert list(Path(place).iterdir()) == []
            return
        back = read(path)
    assert back.channel_names == (name,)
    assert back.details == {"Remark": text}


@pytest.mark.parametrize(
    ("given_recording", "sentence"),
    [
        (recording(), "there is no channel to write"),
        (recording(" force"), "the name 'force' would not be read back unchanged; use one line"),
        (
            recording(""),
            r"this cannot be written as delimited text \(the column has no name\); use other names",
        ),
        (recording("force\nleft"), "this cannot be written as delimited text"),
        (recording("force", Remark=" x"), "the detail 'Remark' would not be read back unchanged"),
        (recording("force", **{"a:b": "c"}), "the detail 'a:b' would not be read back"),
        (recording("force", **{"sampling interval [s]": "1"}), "the detail 'sampling interval"),
    ],
)
def test_what_would_not_be_read_back_is_not_written(
    given_recording: Recording, sentence: str, tmp_path: Path
) -> None:
    """One sentence, and no file."""
    with pytest.raises(FormatError, match=sentence):
        write(given_recording, tmp_path / "run.csv")
    assert list(tmp_path.iterdir()) == []


def test_channel_that_would_pass_for_the_time_is_refused(tmp_path: Path) -> None:
    """A channel called t in ms cannot stand beside the time column."""
    clock = Recording(signals=(signal([0, 1], channel="t", unit="ms"),), path=Path("x"), format="")
    with pytest.raises(FormatError, match=r"\('time' and 't' both name the time\); use other names"):
        write(clock, tmp_path / "run.csv")


@pytest.mark.parametrize("other", [{"start_s": 1.0}, {"step_s": 1.0}, {"values": [0, 1, 2]}])
def test_signals_of_different_times_are_refused(other: dict[str, float], tmp_path: Path) -> None:
    """One time column serves all channels."""
    second = signal(**({"values": [0, 1], "channel": "moment"} | other))  # type: ignore[arg-type]
    both = Recording(signals=(signal([0, 1], channel="force"), second), path=Path("x"), format="")
    with pytest.raises(
        FormatError, match="'moment' and 'force' have different times; resample them to one grid"
    ):
        write(both, tmp_path / "run.csv")


def test_older_file_is_replaced_only_by_a_complete_one(tmp_path: Path) -> None:
    """A refusal leaves the older file, success replaces it."""
    path = tmp_path / "run.csv"
    path.write_text("old")
    with pytest.raises(FormatError, match="would not be read back"):
        write(recording(" force"), path)
    assert path.read_text() == "old"
    write(recording("force"), path)
    assert read(path).channel_names == ("force",)
    assert list(tmp_path.iterdir()) == [path]
