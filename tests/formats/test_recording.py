"""Recordings: finding channels, and what is said when there is none of a name."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from correlate.errors import ChannelError
from correlate.formats import Recording
from correlate.formats.recording import SetAside
from correlate.signal import Signal
from tests.formats.examples import signal


def recording(*names: str) -> Recording:
    """Return a recording with channels of these names."""
    return Recording(
        signals=tuple(signal([0, 1], channel=name) for name in names),
        path=Path("run.csv"),
        format="delimited text",
        details={"Title": "run"},
        channel_headers={"force": {"Bit resolution": "16"}},
    )


def test_channel_is_found_by_its_exact_name_first() -> None:
    """Capitals decide where two names differ in nothing else."""
    both = recording("Force", "force")
    assert both.channel("force") is both.signals[1]
    assert both.channel("Force") is both.signals[0]


def test_channel_is_found_without_regard_to_capitals() -> None:
    """A name typed in other capitals still finds the one channel."""
    assert recording("Force", "moment").channel(" FORCE ").channel == "Force"


def test_name_that_fits_two_channels_is_refused() -> None:
    """Two channels that differ only in case are not guessed between."""
    with pytest.raises(
        ChannelError, match=r"run\.csv: the name 'FORCE' fits 'Force', 'force'; write capitals"
    ):
        recording("Force", "force").channel("FORCE")


def test_missing_channel_lists_what_there_is_and_the_closest() -> None:
    """The message names the file, all channels and the likely one."""
    expected = r"^run\.csv: there is no channel ' Sternum DEFL'; perhaps you mean 'sternum deflection'; "
    with pytest.raises(ChannelError, match=expected + "the file contains 'force', 'sternum deflection'$"):
        recording("force", "sternum deflection").channel(" Sternum DEFL")


def test_missing_channel_unlike_any_other_gets_no_suggestion() -> None:
    """Nothing is suggested when nothing is close."""
    with pytest.raises(ChannelError, match=r"there is no channel 'zzz'; the file contains 'force'$"):
        recording("force").channel("zzz")


def test_missing_channel_of_an_empty_recording() -> None:
    """A recording without channels says so."""
    with pytest.raises(ChannelError, match="there is no channel 'force'; the file contains no channel"):
        recording().channel("force")


def test_only_channel_returns_the_single_one() -> None:
    """One channel needs no name."""
    assert recording("force").only_channel().channel == "force"


def test_only_channel_of_several_lists_them() -> None:
    """Several channels are listed, with the option that chooses."""
    expected = r"run\.csv: the file contains 2 channels: 'force', 'moment'; name one with --channel"
    with pytest.raises(ChannelError, match=expected):
        recording("force", "moment").only_channel()


def test_only_channel_of_none() -> None:
    """No channel is a sentence too."""
    with pytest.raises(ChannelError, match="the file contains no channel"):
        recording().only_channel()


def test_two_channels_of_one_name_are_refused() -> None:
    """Channel names are unique within a recording."""
    with pytest.raises(ChannelError, match=r"run\.csv: two channels are called 'force'"):
        recording("force", "force")


def test_mappings_cannot_be_changed_and_survive_pickling() -> None:
    """What a file said stays as it was, also in another process."""
    copy = pickle.loads(pickle.dumps(recording("force")))  # noqa: S301 - our own bytes
    assert copy.channel_headers == {"force": {"Bit resolution": "16"}}
    assert copy.details == {"Title": "run"}
    with pytest.raises(TypeError, match="does not support item assignment"):
        copy.channel_headers["force"]["Bit resolution"] = "8"


def test_names_are_looked_up_exactly_also_of_channels_that_are_set_aside() -> None:
    """Names are case-sensitive, as in a pattern."""
    force = Signal(samples=[0.0, 1.0], start_s=0.0, step_s=1e-4, unit="kN", channel="force")
    aside = SetAside("spare", ChannelError("it has no unit"))
    recording = Recording(signals=(force,), path=Path("run.csv"), format="text", set_aside=(aside,))
    assert [recording.has_name(name) for name in ("force", "spare", "Force", "moment")] == [
        True,
        True,
        False,
        False,
    ]
