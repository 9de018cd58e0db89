"""Tests written in the layout of ISO/TS 13499, and read back."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.channel import PHYSICAL_DIMENSIONS
from correlate.errors import ChannelError, FormatError
from correlate.formats import Recording
from correlate.formats.iso13499 import read, write, write_test
from tests.formats import examples
from tests.formats.examples import HEAD, SEAT, bits, signal, tree, written_test

if TYPE_CHECKING:
    from correlate.signal import Signal

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12).map(
    lambda text: "\n".join(line.strip() for line in text.split("\n"))
)
keys = st.text(st.characters(exclude_categories=["C", "Z"], exclude_characters=":"), min_size=1, max_size=12)
headers = st.dictionaries(keys, texts, max_size=3)
codes = st.builds(
    "D0{}00KM{}X0".format,
    st.text("ABCDEF0123456789?", min_size=6, max_size=6),
    st.sampled_from(sorted(PHYSICAL_DIMENSIONS)),
)
signals = st.builds(
    examples.signal,
    examples.samples,
    start_s=examples.starts,
    step_s=examples.steps,
    unit=examples.units,
    channel=codes,
)
tests = st.lists(signals, min_size=1, max_size=3, unique_by=lambda one: one.channel)


def test_layout_as_typed_by_hand(tmp_path: Path) -> None:
    """Every file of a small test, to the byte."""
    write_test(
        tmp_path / "KM7",
        name="KM7",
        description={"Title": "seat drop", "Remark": "plate at 21 °C"},
        signals=[signal([0.0, -1.25, 3e-7], step_s=5e-5, start_s=-0.05)],
        channel_headers={SEAT: {"Test object number": "1", "Bit resolution": "16", "Cable": "green"}},
        channel_list={"Instrumentation standard": "SAE J211-1"},
    )
    lines = [
        "Test object number          :1",
        "Name of the channel         :seat acceleration Z",
        f"Channel code                :{SEAT}",
        "Unit                        :g",
        "Reference system            :NOVALUE",
        "Channel amplitude class     :NOVALUE",
        "Channel frequency class     :NOVALUE",
        "Reference channel           :implicit",
        "Sampling interval           :5e-05",
        "Bit resolution              :16",
        "Time of first sample        :-0.05",
        "Number of samples           :3",
        "Cable                       :green",
        "0.0",
        "-1.25",
        "3e-07",
    ]
    assert tree(tmp_path / "KM7") == {
        "KM7.mme": "Title                       :seat drop\r\n"
        "Remark                      :plate at 21 °C\r\n".encode("latin-1"),
        "Channel/KM7.chn": b"Instrumentation standard    :SAE J211-1\r\n"
        b"Number of channels          :1\r\n"
        b"Name of channel 001         :S0SEAT0000KMACZ0 / seat acceleration Z\r\n",
        "Channel/KM7.001": "".join(f"{line}\r\n" for line in lines).encode(),
    }


def test_foreign_test_keeps_lines_order_and_spelling(tmp_path: Path) -> None:
    """Keys nobody knows come back where they were, numbers as they were spelt."""
    foreign = read(written_test(tmp_path))
    write(foreign, tmp_path / "again")
    files = tree(tmp_path / "again")
    assert files["again.mme"].decode("latin-1").splitlines() == examples.MME.splitlines()
    assert files["Channel/again.chn"].decode().splitlines() == examples.CHN.splitlines()
    header = examples.HEAD_FILE.splitlines()[:13]
    assert files["Channel/again.001"].decode().splitlines() == [*header, "0.0", "-1.5", "25.0", "3.0"]


@settings(max_examples=40)
@given(tests, headers, headers, headers)
def test_any_test_is_read_back(
    signals: list[Signal],
    description: dict[str, str],
    channel_header: dict[str, str],
    channel_list: dict[str, str],
) -> None:
    """Samples to the bit, time base, unit and every header line survive; a second copy is equal in bytes."""
    with tempfile.TemporaryDirectory() as place:
        first, second, packed = (Path(place, name, "KM1") for name in ("a", "b", "c"))
        write_test(
            first,
            name="KM1",
            description=description,
            signals=signals,
            channel_headers={signals[0].channel: channel_header},
            channel_list=channel_list,
        )
        back = read(first)
        write(back, second)
        assert tree(first) == tree(second)
        packed = packed.with_suffix(".zip")
        packed.parent.mkdir()
        write(back, packed)
        unpacked = read(packed)
    assert back.details == unpacked.details == description
    for key, text in channel_header.items():
        assert back.channel_headers[signals[0].channel][key] == text
    for key, text in channel_list.items():
        assert back.channel_list[key] == text
    for given_signal, *seen in zip(signals, back.signals, unpacked.signals, strict=True):
        for one in seen:
            np.testing.assert_array_equal(bits(one.samples), bits(given_signal.samples))
            assert (one.start_s, one.step_s) == (given_signal.start_s, given_signal.step_s)
            assert (one.unit, one.channel) == (given_signal.unit, given_signal.channel)


def test_rounded_samples_are_those_of_the_recorder(tmp_path: Path) -> None:
    """Four significant digits, worked out by hand; writing them again changes no byte."""
    write_test(
        tmp_path / "KM1",
        name="KM1",
        description={},
        signals=[signal([1234.56, -0.000123456, 0.0, 99999.0])],
        significant_digits=4,
    )
    back = read(tmp_path / "KM1")
    np.testing.assert_array_equal(back.only_channel().samples, [1235.0, -0.0001235, 0.0, 1e5])
    write(back, tmp_path / "b" / "KM1")
    assert tree(tmp_path / "KM1") == tree(tmp_path / "b" / "KM1")


def test_equal_tests_give_equal_zip_files(tmp_path: Path) -> None:
    """No time of day gets into a zip file."""
    recording = read(written_test(tmp_path))
    (tmp_path / "a").mkdir()
    write(recording, tmp_path / "KM1.zip")
    write(recording, tmp_path / "a" / "KM1.zip")
    assert (tmp_path / "KM1.zip").read_bytes() == (tmp_path / "a" / "KM1.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "KM1.zip") as archive:
        assert archive.namelist()[:2] == ["KM1/KM1.mme", "KM1/Channel/KM1.chn"]


def test_title_stands_in_for_a_missing_description(tmp_path: Path) -> None:
    """A recording of another format has a title only."""
    recording = Recording(
        signals=(signal([0, 1]),), path=Path("run.csv"), format="delimited text", title="seat drop"
    )
    write(recording, tmp_path / "KM1")
    assert read(tmp_path / "KM1").details == {"Title": "seat drop"}


def test_changed_signal_overrules_the_lines_it_came_with(tmp_path: Path) -> None:
    """Unit, step, start and count are always those of the samples."""
    recording = read(written_test(tmp_path))
    changed = signal([1, 2], unit="m/s^2", step_s=1e-3, start_s=0.5, channel=HEAD)
    write_test(
        tmp_path / "KM4",
        name="KM4",
        description={},
        signals=[changed],
        channel_headers=recording.channel_headers,
        channel_list=recording.channel_list,
    )
    back = read(tmp_path / "KM4")
    header = back.channel_headers[HEAD]
    assert header["Unit"] == "m/s^2"
    assert header["Sampling interval"] == "0.001"
    assert header["Time of first sample"] == "0.5"
    assert header["Number of samples"] == "2"
    assert header["Colour of the cable"] == "green"
    assert back.channel_list == {
        "Instrumentation standard": "SAE J211-1",
        "Number of channels": "1",
        "Name of channel 001": f"{HEAD} / head ax",
    }


@pytest.mark.parametrize(
    ("changes", "error", "sentence"),
    [
        ({"signals": []}, FormatError, "there is no channel to write"),
        ({"signals": [signal([0, 1], channel="force")]}, ChannelError, "'force' has 5 characters"),
        (
            {"signals": [signal([0, 1]), signal([0, 1])]},
            FormatError,
            f"two channels have the code '{SEAT}'; give every channel its own code",
        ),
        ({"name": "a/b"}, FormatError, "'a/b' cannot be the name of a test; use letters, digits"),
        ({"name": ".."}, FormatError, r"'\.\.' cannot be the name of a test"),
        ({"name": " "}, FormatError, "' ' cannot be the name of a test"),
        ({"description": {"a:b": "c"}}, FormatError, "'a:b' cannot be a key"),
    ],
)
def test_what_cannot_be_written_leaves_nothing(
    changes: dict[str, Any], error: type[Exception], sentence: str, tmp_path: Path
) -> None:
    """One sentence, and no folder."""
    given: dict[str, Any] = {"name": "KM1", "description": {}, "signals": [signal([0, 1])]}
    with pytest.raises(error, match=sentence):
        write_test(tmp_path / "KM1", **(given | changes))
    assert list(tmp_path.iterdir()) == []


def test_existing_test_is_not_replaced(tmp_path: Path) -> None:
    """A second test of the same name is refused and the first stays."""
    write_test(tmp_path / "KM1", name="KM1", description={}, signals=[signal([0, 1])])
    before = tree(tmp_path)
    with pytest.raises(FormatError, match="KM1: this already exists; choose another name"):
        write_test(tmp_path / "KM1", name="KM1", description={}, signals=[signal([5, 6])])
    assert tree(tmp_path) == before
