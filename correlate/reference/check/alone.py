"""A test without repeats: time zero, and what channels of common tests usually look like."""

from __future__ import annotations

from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Field

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import UnitError
from correlate.reference.expectations import Positive  # noqa: TC001 - pydantic reads it
from correlate.reference.finding import Finding, RepairProposal
from correlate.toml import Table, read_toml
from correlate.unit_factors import factor_into
from correlate.units import conversion

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from correlate.formats import Recording
    from correlate.reference.check.statistics import ChannelStatistics


EARLY_S: Final = 0.0015
"""No event begins so long before time zero: triggers are late by half a millisecond, filters spread it."""
LATE_S: Final = 0.004
"""The rig itself moves no later than this after time zero."""
LEAST_BEFORE_S: Final = 0.005
"""A record that starts so long before time zero was triggered; others may count from their first sample."""
RIGS: Final = frozenset({"PEND", "SLED", "SEAT"})
"""Main locations whose acceleration is that of the rig."""
FAR_OUT: Final = 2.0
"""A size that is outside its range by this factor is compared with the factors between units."""
USUAL_FILE: Final = Path(__file__).parents[1] / "usual_channels.toml"


class UsualChannel(Table):
    """What a channel of a common test usually looks like.

    Attributes
    ----------
    codes
        Pattern of the channel code; ``?`` stands for any character.
    tests
        Words of which one is in the name of the test; none for every test.
    without
        Words of which none is.
    main_peak
        Sign of the largest excursion; None where the convention is open.
    size
        Least and largest size of the sensor, in `unit`.
    unit
        Of the size.
    source
        Where sign and range come from.
    """

    codes: Annotated[str, Field(pattern=r"^.{16}$")]
    tests: tuple[str, ...] = ()
    without: Annotated[tuple[str, ...], Field(alias="not")] = ()
    main_peak: Literal["positive", "negative"] | None = None
    size: tuple[Positive, Positive]
    unit: str
    source: str

    def describes(self, channel: str, words: str) -> bool:
        """Say whether a channel of a test is meant; the words are those of the test, in small letters."""
        return (
            fnmatchcase(channel, self.codes)
            and (not self.tests or any(word in words for word in self.tests))
            and not any(word in words for word in self.without)
        )


class UsualBook(Table):
    """All of them.

    Attributes
    ----------
    channel
        One entry a kind of channel and test.
    """

    channel: tuple[UsualChannel, ...]


@cache
def usual_channels() -> tuple[UsualChannel, ...]:
    """Return the table that is shipped."""
    return read_toml(USUAL_FILE, UsualBook, kind="a table of usual channels").table.channel


def examine_alone(
    facts: Sequence[ChannelStatistics], recording: Recording, expected: Collection[str]
) -> Iterator[Finding]:
    """Compare a test without repeats with its own time zero and with the table of usual channels.

    Everything is a warning: a laboratory may have conventions of its own. Channels of which the user has
    stated what to expect are left out of the table.
    """
    words = _words(recording)
    for item in facts:
        if item.is_minor or not item.peak:
            continue
        yield from _time_zero(item)
        for usual in usual_channels():
            if item.signal.channel not in expected and usual.describes(item.signal.channel, words):
                yield from _polarity(item, usual)
                yield from _size(item, usual)


def _words(recording: Recording) -> str:
    """Return type, title and folder of a test, in small letters."""
    named = (recording.details.get("Type of the test", ""), recording.title, recording.path.parent.name)
    return " ".join(named).casefold()


def _time_zero(facts: ChannelStatistics) -> Iterator[Finding]:
    signal = facts.signal
    code = signal.channel
    is_rig = is_channel_code(code) and ChannelCode(code).main_location in RIGS and code[12:14] == "AC"
    early = facts.onset_s < -EARLY_S
    if signal.start_s > -LEAST_BEFORE_S or not (early or (is_rig and facts.onset_s > LATE_S)):
        return
    yield Finding(
        kind="time zero",
        severity="warning",
        file=facts.file,
        channel=code,
        what=f"the event begins {abs(facts.onset_s) * 1e3:.3g} ms {'before' if early else 'after'} time zero"
        + ("" if early else ", and this is the acceleration of the rig"),
        remedy="check the trigger; set time zero by a threshold",
        evidence={"onset_s": facts.onset_s},
        start_s=facts.onset_s,
        end_s=facts.onset_s,
    )


def _polarity(facts: ChannelStatistics, usual: UsualChannel) -> Iterator[Finding]:
    found = "positive" if facts.peak > 0 else "negative"
    if usual.main_peak is None or found == usual.main_peak:
        return
    yield Finding(
        kind="polarity",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the main peak, {facts.peak:.5g} {facts.signal.unit}, is usually {usual.main_peak} in such a "
        f"test ({usual.source})",
        remedy="check how the transducer was mounted; state the sign in the expectations if it is right",
        evidence={"peak": facts.peak, "usual": usual.main_peak},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("turn sign"),
    )


def _size(facts: ChannelStatistics, usual: UsualChannel) -> Iterator[Finding]:
    low, high = usual.size
    try:
        factor = conversion(facts.signal.unit, usual.unit)[0]
    except UnitError:
        # A channel may hold another quantity than its code says; nothing is known of it.
        return
    size = max(abs(facts.peak), facts.sensor_peak) * factor
    if low <= size <= high:
        return
    far = size < low / FAR_OUT or size > high * FAR_OUT
    known = factor_into(size, low, high) if far else None
    yield Finding(
        kind="unit" if known else "expected peak",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the sensor reaches {size:.5g} {usual.unit}, usual are {low:g} to {high:g} in such a test "
        f"({usual.source})" + (f"; it is wrong by about the factor between {known[0]}" if known else ""),
        remedy="check the unit in the header and the calibration factor; state the range in the expectations",
        evidence={"size": size, "low": low, "high": high},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
    )
