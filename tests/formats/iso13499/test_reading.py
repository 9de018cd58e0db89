"""Tests in the layout of ISO/TS 13499, typed by hand: what is read of them."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.formats import registry
from correlate.formats.iso13499 import read
from tests.formats.examples import (
    CHN,
    HEAD,
    HEAD_FILE,
    MME,
    SEAT,
    SEAT_FILE,
    TIME,
    TIME_CHN,
    TIME_FILE,
    TIMED_SEAT,
    written_test,
)

if TYPE_CHECKING:
    from pathlib import Path


def test_everything_in_the_example_is_read(tmp_path: Path) -> None:
    """Samples, time base, unit, source, history and header lines, compared with what was typed."""
    folder = written_test(tmp_path)
    recording = read(folder)
    head, seat = recording.signals
    np.testing.assert_array_equal(head.samples, [0.0, -1.5, 25.0, 3.0])
    assert (head.start_s, head.step_s, head.unit, head.channel) == (-1e-4, 5e-5, "m/(s*s)", HEAD)
    np.testing.assert_array_equal(seat.samples, [1.0, 2.0, 4.0])
    assert (seat.start_s, seat.step_s, seat.unit, seat.channel) == (0.0, 1e-4, "g", SEAT)
    file = folder / "Channel" / "KM3.001"
    assert head.source.file == str(file)
    assert head.source.sha256 == hashlib.sha256(HEAD_FILE.encode()).hexdigest()
    assert [step.name for step in head.history] == ["read"]
    assert head.history[0].settings == {
        "format": "ISO/TS 13499",
        "file": str(file),
        "channel": HEAD,
        "unit": "m/(s*s)",
        "rows": 4,
        "time": "implicit",
    }
    assert recording.title == "head drop 3"
    assert recording.details["Comment"] == "first line\nsecond: with colon"
    assert recording.channel_headers[HEAD]["Colour of the cable"] == "green"
    assert recording.channel_list["Name of channel 002"] == f"{SEAT} / seat az"
    assert recording.warnings == ()


def test_folder_and_description_file_name_the_same_test(tmp_path: Path) -> None:
    """Either may be named, in any capitals."""
    folder = written_test(tmp_path)
    (folder / "KM3.mme").rename(folder / "KM3.MME")
    (folder / "Channel").rename(folder / "CHANNEL")
    for path in (folder, folder / "KM3.MME"):
        assert read(path).channel_names == (HEAD, SEAT)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-8", "utf-8-sig"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_encodings_and_line_ends(encoding: str, line_end: str, tmp_path: Path) -> None:
    """A unit with a degree sign and samples come out alike."""
    folder = written_test(tmp_path)
    text = SEAT_FILE.replace(":g\n", ":°/s\n").replace("\n", line_end)
    (folder / "Channel" / "KM3.002").write_bytes(text.encode(encoding))
    seat = read(folder).channel(SEAT)
    assert seat.unit == "°/s"
    np.testing.assert_array_equal(seat.samples, [1.0, 2.0, 4.0])


@pytest.mark.parametrize("reference", [TIME, "clock"], ids=["by code", "by name"])
def test_named_time_channel_gives_the_times(reference: str, tmp_path: Path) -> None:
    """Times in ms become a step in s; the time channel itself is no channel of the recording."""
    seat = TIMED_SEAT.replace(TIME, reference)
    recording = read(written_test(tmp_path, chn=TIME_CHN, _002=seat, _003=TIME_FILE))
    assert recording.channel_names == (HEAD, SEAT)
    signal = recording.channel(SEAT)
    np.testing.assert_allclose(signal.time_s, [0.0, 1e-4, 2e-4], rtol=0, atol=1e-15)
    assert signal.history[0].settings["time"] == f"channel {TIME}"


def test_channel_without_a_name_gives_no_times(tmp_path: Path) -> None:
    """Neither name nor reference channel: a constant step, not some channel that has no name either."""
    nameless = SEAT_FILE.replace("Name of the channel         :seat az\n", "")
    signal = read(written_test(tmp_path, _002=nameless)).channel(SEAT)
    assert signal.history[0].settings["time"] == "implicit"


def test_uneven_time_channel_is_resampled_as_a_recorded_step(tmp_path: Path) -> None:
    """Times 0, 0.1, 0.4 ms of the straight line 1, 2, 5 on the median step: worked out by hand."""
    clock = TIME_FILE.replace("0.2\n", "0.4\n")
    seat = TIMED_SEAT.replace("\n4\n", "\n5\n")
    signal = read(written_test(tmp_path, chn=TIME_CHN, _002=seat, _003=clock)).channel(SEAT)
    assert signal.history[1].name == "resample unevenly sampled"
    np.testing.assert_allclose(signal.samples, 1 + signal.time_s / 1e-4, rtol=1e-12)


def test_unlisted_file_unknown_dimension_and_missing_count_are_warned_about(tmp_path: Path) -> None:
    """What is odd but readable is kept and said."""
    odd = HEAD.replace("AC", "QQ")
    recording = read(
        written_test(
            tmp_path,
            mme=MME.replace("Title                       :head drop 3\n", ""),
            chn=CHN.replace(HEAD, odd),
            _001=HEAD_FILE.replace(HEAD, odd).replace("Number of samples           :4\n", ""),
            _009=SEAT_FILE,
        )
    )
    assert recording.channel(odd).unit == "m/(s*s)"
    assert recording.title == ""
    unlisted, uncounted, unknown = recording.warnings
    assert unlisted.endswith("KM3.009: the channel is not in the list and was not read")
    assert "KM3.001: 'Number of samples' is not given" in uncounted
    assert unknown.endswith(f"KM3.001: 'QQ' in the code '{odd}' is not a known physical dimension")


def test_empty_description_is_warned_about(tmp_path: Path) -> None:
    """The channels are readable without it."""
    folder = written_test(tmp_path)
    (folder / "KM3.mme").write_bytes(b"")
    assert read(folder).warnings == (f"{folder / 'KM3.mme'}: the test description is empty",)


def test_folder_without_channel_folder_is_refused(tmp_path: Path) -> None:
    """The missing folder is named."""
    (tmp_path / "KM3.mme").write_text(MME)
    with pytest.raises(FormatError, match="there is no folder 'Channel' in the test"):
        read(tmp_path)


def test_a_test_without_its_description_file_is_listed_and_refused_when_read(tmp_path: Path) -> None:
    """Among sound tests it would otherwise be missing without a word, and it does not stop the others."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        written_test(tmp_path / name)
    assert len(registry.tests_in([tmp_path])) == 2
    (lost,) = (tmp_path / "two").rglob("*.mme")
    lost.unlink()
    assert registry.tests_in([tmp_path]) == [tmp_path / "one" / lost.parent.name, lost.parent]
    with pytest.raises(FormatError, match=r"KM3: .*no \.mme file"):
        read(lost.parent)


def test_two_tests_in_one_folder_are_told_apart_by_the_description_file(tmp_path: Path) -> None:
    """The folder alone is refused; naming the .mme file chooses."""
    folder = written_test(tmp_path)
    for name in ("KM3.mme", "Channel/KM3.chn", "Channel/KM3.001", "Channel/KM3.002"):
        other = folder / name.replace("KM3", "KM4")
        other.write_bytes((folder / name).read_bytes().replace(b"\n4\n", b"\n8\n"))
    with pytest.raises(FormatError, match=r"there are 2 \.mme files in the test; keep one test in a folder"):
        read(folder)
    assert read(folder / "KM3.mme").channel(SEAT).samples[-1] == 4.0
    assert read(folder / "KM4.mme").channel(SEAT).samples[-1] == 8.0
