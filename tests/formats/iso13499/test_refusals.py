"""Every fault in ISO/TS 13499 is answered in one sentence; one of a single channel sets it aside."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from correlate.errors import ChannelError, CorrelateError, FormatError, SignalError, UnitError
from correlate.formats.iso13499 import read, write
from tests.formats.examples import (
    CHN,
    HEAD,
    HEAD_FILE,
    SEAT,
    SEAT_FILE,
    TIME,
    TIME_CHN,
    TIME_FILE,
    TIMED_SEAT,
    bits,
    written_test,
)

if TYPE_CHECKING:
    from pathlib import Path


def changed(text: str, old: str, new: str) -> str:
    """Replace a part that must be there."""
    assert old in text
    return text.replace(old, new)


Case = tuple[str, dict[str, str], type[CorrelateError], str]
REFUSALS: list[Case] = [
    (
        "no mme",
        {"mme": ""},
        FormatError,
        r"KM3: there is no \.mme file in the test; copy the test folder again",
    ),
    (
        "no chn",
        {"chn": ""},
        FormatError,
        r"KM3: there is no \.chn file in the test; copy the test folder again",
    ),
    ("mme without colon", {"mme": "Title\n"}, FormatError, r"KM3\.mme: no line is of the form 'key : value'"),
    ("nothing listed", {"chn": "Number of channels : 0\n"}, FormatError, r"KM3\.chn: no channel is listed"),
]
SET_ASIDE: list[Case] = [
    (
        "listed but absent",
        {"_002": ""},
        FormatError,
        rf"KM3\.chn, line 4: channel 002 '{SEAT}' is listed but its file is missing; copy the file",
    ),
    (
        "code of 15 characters",
        {"chn": changed(CHN, HEAD, HEAD[:-1])},
        ChannelError,
        r"KM3\.chn, line 3: the channel code 'D0HEAD0000KMACX' has 15 characters",
    ),
    (
        "code with a blank",
        {"chn": changed(CHN, HEAD, HEAD.replace("00", " 0", 1))},
        ChannelError,
        r"KM3\.chn, line 3: the channel code .+ contains a character that is not a letter, digit or '\?'",
    ),
    (
        "one number twice",
        {"chn": changed(CHN, "channel 002", "channel 1")},
        ChannelError,
        r"KM3\.chn, line 4: 'Name of channel 001' and 'Name of channel 1' have the same number 1",
    ),
    (
        "one line twice",
        {"chn": changed(CHN, "channel 002", "channel 001")},
        ChannelError,
        r"KM3\.chn, line 3: 'Name of channel 001' is given twice",
    ),
    (
        "other code in the file",
        {"_001": changed(HEAD_FILE, HEAD, SEAT)},
        FormatError,
        rf"KM3\.001, line 3: the file calls itself '{SEAT}' and the list of channels calls it '{HEAD}'",
    ),
    (
        "fewer samples",
        {"_001": changed(HEAD_FILE, "\n3\n", "\n")},
        FormatError,
        r"KM3\.001, line 12: 4 samples are declared and 3 are there; copy or export the channel again",
    ),
    (
        "more samples",
        {"_001": HEAD_FILE + "7\n"},
        FormatError,
        r"KM3\.001, line 12: 4 samples are declared and 5 are there",
    ),
    (
        "sample that is a word",
        {"_001": changed(HEAD_FILE, "-1.5", "minus")},
        FormatError,
        r"KM3\.001, line 15: 'minus' is not a number",
    ),
    (
        "sample with a comma",
        {"_001": changed(HEAD_FILE, "-1.5", "-1,5")},
        FormatError,
        r"KM3\.001, line 15: '-1,5' is not a number with the decimal mark '\.'",
    ),
    (
        "sample NaN",
        {"_001": changed(HEAD_FILE, "-1.5", "nan")},
        FormatError,
        r"KM3\.001, line 15: 'nan' is not a finite number",
    ),
    (
        "first sample infinite",
        {"_001": changed(HEAD_FILE, "\n0.0\n", "\ninf\n")},
        FormatError,
        r"KM3\.001, line 14: 'inf' is not a finite number",
    ),
    (
        "two samples on a line",
        {"_001": changed(HEAD_FILE, "-1.5", "-1.5 2")},
        FormatError,
        r"KM3\.001, line 15: '-1\.5 2' is not a number",
    ),
    (
        "header line without colon",
        {"_001": changed(HEAD_FILE, "Unit                        :", "Unit ")},
        FormatError,
        r"KM3\.001, line 4: 'Unit m/\(s\*s\)' is neither 'key : value' nor a number",
    ),
    (
        "no samples",
        {"_001": HEAD_FILE[: HEAD_FILE.index("0.0\n")].replace(":4\n", ":0\n")},
        FormatError,
        r"KM3\.001: there is no sample; export the channel again",
    ),
    (
        "one sample",
        {"_002": changed(changed(SEAT_FILE, "1\n2\n4\n", "1\n"), ":3\n", ":1\n")},
        FormatError,
        r"KM3\.002: there is one sample only",
    ),
    (
        "count that is a word",
        {"_001": changed(HEAD_FILE, ":4\n", ":four\n")},
        FormatError,
        r"KM3\.001, line 12: 'Number of samples' is 'four', which is not a number",
    ),
    (
        "step of zero",
        {"_001": changed(HEAD_FILE, "5.0E-05", "0")},
        FormatError,
        r"KM3\.001, line 9: the sampling interval is 0 s; write a time above zero",
    ),
    (
        "step below zero",
        {"_001": changed(HEAD_FILE, "5.0E-05", "-1e-4")},
        FormatError,
        r"KM3\.001, line 9: the sampling interval is -1e-4 s",
    ),
    (
        "step NaN",
        {"_001": changed(HEAD_FILE, "5.0E-05", "nan")},
        FormatError,
        r"KM3\.001, line 9: the sampling interval is nan s",
    ),
    (
        "step not given",
        {"_001": changed(HEAD_FILE, "5.0E-05", "NOVALUE")},
        FormatError,
        r"KM3\.001, line 9: 'Sampling interval' is not given",
    ),
    (
        "start not given",
        {"_001": changed(HEAD_FILE, "Time of first sample        :-1.0E-04\n", "")},
        FormatError,
        r"KM3\.001: 'Time of first sample' is not given",
    ),
    (
        "start infinite",
        {"_001": changed(HEAD_FILE, "-1.0E-04", "inf")},
        FormatError,
        r"KM3\.001, line 11: the time of the first sample is inf s",
    ),
    (
        "unit not given",
        {"_001": changed(HEAD_FILE, "m/(s*s)", "NOVALUE")},
        FormatError,
        r"KM3\.001, line 4: 'Unit' is not given",
    ),
    (
        "unit unknown",
        {"_001": changed(HEAD_FILE, "m/(s*s)", "furlong")},
        UnitError,
        rf"KM3\.001, line 4, channel '{HEAD}': the unit 'furlong' is not known; write one such as",
    ),
    (
        "time channel absent",
        {"_001": changed(HEAD_FILE, "implicit", TIME)},
        FormatError,
        rf"KM3\.001, line 8: the times should be in channel '{TIME}', which is not in the test",
    ),
    (
        "time channel in metres",
        {"chn": TIME_CHN, "_002": TIMED_SEAT, "_003": changed(TIME_FILE, ":ms", ":mm")},
        UnitError,
        r"KM3\.003, line 3",
    ),
    (
        "time channel goes back",
        {"chn": TIME_CHN, "_002": TIMED_SEAT, "_003": changed(TIME_FILE, "\n0.2\n", "\n0.05\n")},
        SignalError,
        rf"KM3\.002, channel '{SEAT}': the time of sample 3, .+ is not above that of the sample before it",
    ),
    (
        "time channel shorter",
        {
            "chn": TIME_CHN,
            "_002": TIMED_SEAT,
            "_003": changed(changed(TIME_FILE, "0.2\n", ""), ":3\n", ":2\n"),
        },
        SignalError,
        r"KM3\.002, .+: there are 2 times and 3 samples",
    ),
]


@pytest.mark.parametrize(
    ("files", "error", "sentence"), [case[1:] for case in REFUSALS], ids=[case[0] for case in REFUSALS]
)
def test_bad_test_is_refused_in_one_sentence(
    files: dict[str, str], error: type[CorrelateError], sentence: str, tmp_path: Path
) -> None:
    """Each names the place, and says what to do."""
    with pytest.raises(error, match=sentence) as caught:
        read(written_test(tmp_path, **files))
    check_sentence(caught.value)


@pytest.mark.parametrize(
    ("files", "error", "sentence"), [case[1:] for case in SET_ASIDE], ids=[case[0] for case in SET_ASIDE]
)
def test_bad_channel_is_set_aside_in_one_sentence(
    files: dict[str, str], error: type[CorrelateError], sentence: str, tmp_path: Path
) -> None:
    """Each names file and line, and says what to do; the other channel is read as ever."""
    recording = read(written_test(tmp_path, **files))
    [bad] = recording.set_aside
    assert isinstance(bad.error, error)
    assert re.search(sentence, str(bad.error)), str(bad.error)
    check_sentence(bad.error)
    with pytest.raises(error, match=sentence):
        recording.channel(bad.name)
    [good] = recording.signals
    whole = read(written_test(tmp_path / "whole")).channel(good.channel)
    assert bits(good.samples).tolist() == bits(whole.samples).tolist()


def check_sentence(error: CorrelateError) -> None:
    """Demand a place and a remedy, on one line."""
    assert error.where
    assert error.remedy
    assert "\n" not in str(error)


def test_only_bad_channels_are_a_bad_test(tmp_path: Path) -> None:
    """The first is named, and how many there are."""
    bad = {"_001": changed(HEAD_FILE, "-1.5", "minus"), "_002": changed(SEAT_FILE, ":g\n", ":furlong\n")}
    sentence = (
        rf"KM3\.001, line 15: none of 2 channels can be used; the first, '{HEAD}': 'minus' is not a number"
    )
    with pytest.raises(FormatError, match=sentence):
        read(written_test(tmp_path, **bad))


def test_odd_lines_and_counts_are_accepted_with_a_warning(tmp_path: Path) -> None:
    """A line without a colon and a wrong number of channels cost nothing but a warning."""
    chn = changed(CHN, ":2\n", ":1\n") + "end of list\n"
    recording = read(written_test(tmp_path, mme="Title :a\nfree text\n", chn=chn))
    assert recording.channel_names == (HEAD, SEAT)
    assert recording.set_aside == ()
    first, second, third = recording.warnings[:3]
    assert "KM3.mme, line 2: 'free text' is not of the form 'key : value' and was ignored" in first
    assert "KM3.chn, line 5: 'end of list' is not of the form" in second
    assert "KM3.chn, line 2: 1 channels are declared and 2 are listed" in third


def test_codes_that_occur_twice_are_told_apart(tmp_path: Path) -> None:
    """The second channel of a code is named after its number, in reading and after writing."""
    chn, second = changed(CHN, SEAT, HEAD), changed(SEAT_FILE, SEAT, HEAD)
    recording = read(written_test(tmp_path, chn=chn, _002=second))
    assert recording.channel_names == (HEAD, f"{HEAD} #2")
    assert recording.channel(f"{HEAD} #2").samples.tolist() == [1.0, 2.0, 4.0]
    assert (
        f"KM3.chn, line 4: the code '{HEAD}' occurs again, and this channel is called '{HEAD} #2'"
        in (recording.warnings[0])
    )
    write(recording, tmp_path / "again" / "KM3")
    again = read(tmp_path / "again" / "KM3")
    assert again.channel_names == recording.channel_names
    assert again.channel_list == recording.channel_list


@pytest.mark.parametrize(
    "how",
    [
        {"_002": TIMED_SEAT},
        {"_002": TIMED_SEAT.replace(f":{TIME}", f":explicit\nReference channel name :{TIME}")},
        {"_002": TIMED_SEAT.replace(f":{TIME}", ":explicit")},
        {"_002": TIMED_SEAT.replace(f":{TIME}", ":NOVALUE")},
    ],
    ids=["named in the line", "named below it", "only one", "nothing said"],
)
def test_times_from_a_channel_of_times(how: dict[str, str], tmp_path: Path) -> None:
    """By its name, or because it is the only one; the history says which it was."""
    recording = read(written_test(tmp_path, chn=TIME_CHN, _003=TIME_FILE, **how))
    assert recording.set_aside == ()
    assert recording.channel_names == (HEAD, SEAT)
    assert recording.channel(SEAT).step_s == pytest.approx(1e-4)
    assert recording.channel(SEAT).history[0].settings["time"] == f"channel {TIME}"


def test_times_from_one_of_several_channels_are_not_guessed(tmp_path: Path) -> None:
    """Two channels of times, and none is named; or the named one cannot be used."""
    other = TIME.replace("00", "01", 1)
    chn = TIME_CHN.replace(":3\n", ":4\n") + f"Name of channel 004 :{other} / clock\n"
    explicit = TIMED_SEAT.replace(f":{TIME}", ":explicit")
    clocks = {"_003": TIME_FILE, "_004": TIME_FILE.replace(TIME, other)}
    recording = read(written_test(tmp_path, chn=chn, _002=explicit, **clocks))
    bad = {one.name: str(one.error) for one in recording.set_aside}
    assert "KM3.002, line 4: the time channel is not named; write" in bad[SEAT]
    lost = read(written_test(tmp_path / "lost", chn=TIME_CHN, _002=TIMED_SEAT, _003="no header\n"))
    bad = {one.name: str(one.error) for one in lost.set_aside}
    assert set(bad) == {SEAT, TIME}
    assert f"KM3.002, line 4: the times should be in channel '{TIME}', which cannot be used" in bad[SEAT]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("code", ["latin-1", "utf-8-sig"])
@pytest.mark.parametrize("place", ["Channel", "CHANNEL", "."])
def test_any_line_ends_encoding_and_place(end: str, code: str, place: str, tmp_path: Path) -> None:
    """Channel files in a folder of any capitals or beside the description read alike."""
    folder = tmp_path / "KM3"
    (folder / place).mkdir(parents=True)
    files = {"KM3.mme": "Title :Prüfung\n", f"{place}/KM3.chn": CHN}
    files |= {f"{place}/KM3.001": HEAD_FILE.replace("m/(s*s)", "m/s²"), f"{place}/KM3.002": SEAT_FILE}
    for name, text in files.items():
        (folder / name).write_bytes(text.replace("\n", end).encode(code))
    recording = read(folder)
    assert (recording.title, recording.set_aside, recording.warnings) == ("Prüfung", (), ())
    assert recording.channel(HEAD).unit == "m/s²"
    assert recording.channel(HEAD).samples.tolist() == [0.0, -1.5, 25.0, 3.0]
    assert len(recording) == 2
