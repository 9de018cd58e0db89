"""Every fault of a test in the layout of ISO/TS 13499 is answered in one sentence with file and line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import ChannelError, CorrelateError, FormatError, SignalError, UnitError
from correlate.formats.iso13499 import read
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
    written_test,
)

if TYPE_CHECKING:
    from pathlib import Path


def changed(text: str, old: str, new: str) -> str:
    """Replace a part that must be there."""
    assert old in text
    return text.replace(old, new)


REFUSALS: list[tuple[str, dict[str, str], type[CorrelateError], str]] = [
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
    ("mme without colon", {"mme": "Title\n"}, FormatError, r"KM3\.mme, line 1: 'Title' is not of the form"),
    (
        "listed but absent",
        {"_002": ""},
        FormatError,
        rf"KM3\.chn, line 4: channel 002 '{SEAT}' is listed but its file is missing; copy the file",
    ),
    (
        "more listed than announced",
        {"chn": changed(CHN, ":2\n", ":1\n")},
        FormatError,
        r"KM3\.chn, line 2: 1 channels are declared and 2 are listed",
    ),
    ("nothing listed", {"chn": "Number of channels : 0\n"}, FormatError, r"KM3\.chn: no channel is listed"),
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
        "one code twice",
        {"chn": changed(CHN, SEAT, HEAD)},
        ChannelError,
        rf"KM3\.chn, line 4: 'Name of channel 001' and 'Name of channel 002' have the same code '{HEAD}'",
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
        FormatError,
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
    """Each names file and line, and says what to do."""
    with pytest.raises(error, match=sentence) as caught:
        read(written_test(tmp_path, **files))
    assert caught.value.where
    assert caught.value.remedy
    assert "\n" not in str(caught.value)
