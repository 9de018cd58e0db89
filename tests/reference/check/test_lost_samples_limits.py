"""Each limit of lost samples: which records are too short, where the gap is, and what it must explain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.lost import examine_lost_samples, shorter_than_siblings
from correlate.reference.check.trials import Trial, Trials
from tests.reference.check.by_hand import Floats, facts

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.finding import Finding

NAMES = ("a", "b", "c", "d")
STEP_S = 1e-4


def wave(*, late_s: float = 0.0, count: int = 1000) -> Floats:
    """Return two bells of 100 that begin after 20 ms."""
    time = np.arange(count) * STEP_S - late_s
    return np.asarray(
        100 * np.exp(-(((time - 0.035) / 0.006) ** 2)) - 60 * np.exp(-(((time - 0.055) / 0.008) ** 2))
    )


def without(start: int, count: int, *, pad: bool = False) -> Floats:
    """Return the wave with a closed gap; padded, it has its length again."""
    whole = wave()
    left = np.delete(whole, slice(start, start + count))
    return np.concatenate((left, np.full(count, left[-1]))) if pad else left


def one(samples: Floats, name: str = "a", *, peak: float = 100.0) -> ChannelStatistics:
    """Return a channel."""
    return facts(samples, channel=name, peak=peak, noise=0.05)


def found(
    bad: Floats, *, repeats: int = 2, siblings: int = 3, damaged: bool = False, peak: float = 100.0
) -> list[Finding]:
    """Look at the first of some repeats, whose first channel is given."""
    own = Trial([one(bad, peak=peak), *(one(wave(), name) for name in NAMES[1 : siblings + 1])])
    others = [
        Trial([one(wave(late_s=2e-5 * number), name) for name in NAMES[: siblings + 1]])
        for number in range(1, repeats + 1)
    ]
    trials = Trials([own, *others])
    return list(examine_lost_samples(trials, 0, ["a"], {"a"} if damaged else set()))


def test_where_and_how_many_samples_are_lost() -> None:
    """An error that names both, whether or not the record is shorter."""
    for bad in (without(380, 25), without(380, 25, pad=True)):
        (finding,) = found(bad)
        assert (finding.kind, finding.severity, finding.channel) == ("lost samples", "error", "a")
        assert finding.evidence["samples"] == pytest.approx(25, abs=3)
        assert finding.start_s == pytest.approx(0.038, abs=3e-4)
        assert finding.repair is None
    assert "the record is 25 samples shorter" in found(without(380, 25))[0].what


def test_a_single_other_repeat_gives_a_warning() -> None:
    """It may be the one with other samples."""
    assert [one.severity for one in found(without(380, 25), repeats=1)] == ["warning"]


def test_a_sound_channel_has_no_finding() -> None:
    """Neither has one that is late as a whole."""
    assert found(wave()) == []
    assert found(wave(late_s=0.001)) == []


@pytest.mark.parametrize(("siblings", "count"), [(2, 0), (3, 1)])
def test_three_siblings_tell_a_short_record(siblings: int, count: int) -> None:
    """Of a record that lost its end, only its length tells."""
    findings = found(wave(count=990), siblings=siblings, repeats=0)
    assert len(findings) == count
    assert [one.severity for one in findings] == count * ["warning"]


def test_which_records_are_short() -> None:
    """One channel alone, shorter than all others of one start and one step."""
    usual = [one(wave(), name) for name in NAMES[1:]]
    assert shorter_than_siblings({"a": one(wave(count=990)), **dict(zip("bcd", usual, strict=True))}) == {
        "a": 10
    }
    longer = {"a": one(wave(count=1010)), **dict(zip("bcd", usual, strict=True))}
    assert shorter_than_siblings(longer) == {}
    two = {"a": one(wave(count=990)), "e": one(wave(count=980), "e"), **dict(zip("bcd", usual, strict=True))}
    assert shorter_than_siblings(two) == {}
    late = facts(wave(count=990), channel="a", start_s=0.01)
    assert shorter_than_siblings({"a": late, **dict(zip("bcd", usual, strict=True))}) == {}


def test_a_record_that_is_short_in_all_repeats_is_meant_so() -> None:
    """The laboratory recorded this channel for a shorter time."""
    tests = [Trial([one(wave(count=990)), *(one(wave(), name) for name in NAMES[1:])]) for _ in range(3)]
    assert list(examine_lost_samples(Trials(tests), 0, ["a"], set())) == []


def test_a_damaged_channel_is_looked_at_only_when_it_is_short() -> None:
    """A dropout has jumps too."""
    assert found(without(380, 25, pad=True), damaged=True) == []
    assert len(found(without(380, 25), damaged=True)) == 1


@pytest.mark.parametrize(("start", "count"), [(380, 1), (850, 0)])
def test_without_a_shorter_record_there_must_be_a_jump(start: int, count: int) -> None:
    """Where the curve is flat no jump remains."""
    assert len(found(without(start, 25, pad=True))) == count


@pytest.mark.parametrize(("share", "count"), [(0.0099, 0), (0.0101, 1), (-0.0099, 0), (-0.0101, 1)])
def test_the_jump_is_a_hundredth_of_the_peak(share: float, count: int) -> None:
    """It is the step across the gap less the mean of the steps two samples before and behind it."""
    whole = wave()
    across = whole[405] - whole[379]
    beside = (whole[378] - whole[377] + whole[407] - whole[406]) / 2
    peak = abs(across - beside) / share
    assert len(found(without(380, 25, pad=True), peak=peak)) == count


@pytest.mark.parametrize(("lost", "count"), [(2, 0), (4, 1)])
def test_three_samples_are_needed(lost: int, count: int) -> None:
    """Without a shorter record."""
    assert len(found(without(380, lost, pad=True))) == count
