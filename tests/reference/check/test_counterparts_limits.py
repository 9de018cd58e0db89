"""Each limit of exchanged axes and of copies."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.exchanges import examine_exchanges
from correlate.reference.check.samples import examine_copies
from correlate.reference.check.trials import Trial, Trials
from tests.reference.check.by_hand import HEAD, Floats, facts, kinds

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.finding import Finding

X, Y, Z, R = (f"D0HEAD0000KMAC{axis}P" for axis in "XYZR")
ONE = np.zeros(64)
ONE[20] = 1.0
OTHER = np.zeros(64)
OTHER[20:22] = 0.6, -0.8


def trial(values: dict[str, Floats], *, unit: str = "m/s^2") -> Trial:
    """Return a test with channels at 1 ms."""
    return Trial([facts(samples, channel=name, unit=unit, step_s=1e-3) for name, samples in values.items()])


def exchanged(
    x: Floats,
    y: Floats,
    *,
    repeats: int = 2,
    codes: tuple[str, str] = (X, Y),
    others: tuple[Floats, Floats] = (ONE, OTHER),
) -> list[Finding]:
    """Look for exchanged channels; in the other repeats both are of size 1, one of one sample, one of two."""
    own, *rest = ({codes[0]: one, codes[1]: other} for one, other in [(x, y), *repeats * [others]])
    return list(examine_exchanges(Trials([trial(own), *map(trial, rest)]), 0))


def test_two_exchanged_axes_are_found_and_sound_ones_are_not() -> None:
    """An error that names the other channel: the squared errors are 1 + 1 - 2 · 0.6, and 0 when exchanged."""
    assert exchanged(ONE, OTHER) == []
    (finding,) = exchanged(OTHER, ONE)
    assert (finding.kind, finding.severity, finding.channel) == ("axes", "error", X)
    assert dict(finding.evidence) == {
        "squared_error": pytest.approx(1.6),
        "squared_error_exchanged": pytest.approx(0.0),
        "other": Y,
    }
    assert (finding.start_s, finding.end_s) == pytest.approx((0.0, 0.063))
    assert finding.repair is not None
    assert dict(finding.repair.settings) == {"with": Y}


def test_two_other_repeats_are_needed() -> None:
    """One does not tell which of the two is right."""
    assert exchanged(OTHER, ONE, repeats=1) == []
    own = trial({X: OTHER, Y: ONE})
    right, half = trial({X: ONE, Y: OTHER}), trial({X: ONE})
    assert list(examine_exchanges(Trials([own, right, half]), 0)) == []
    assert len(list(examine_exchanges(Trials([own, right, half, right]), 0))) == 1


@pytest.mark.parametrize(
    ("codes", "kind"),
    [
        ((X, Y), "axes"),
        ((X, Z), "axes"),
        ((Z, Y), "axes"),
        ((X, R), "exchanged channels"),
        ((X, "D0HEAD0000KMAVYP"), "exchanged channels"),
        ((X, "D0CHST0000KMACXP"), "exchanged channels"),
        ((X, X.replace("P", "A")), "exchanged channels"),
        (("head x", "chest z"), "exchanged channels"),
    ],
)
def test_axes_of_one_sensor_are_told_from_two_sensors(codes: tuple[str, str], kind: str) -> None:
    """X, Y and Z of one place and quantity; anything else is two channels."""
    assert [one.kind for one in exchanged(OTHER, ONE, codes=codes)] == [kind]


def test_channels_of_two_quantities_are_not_exchanged() -> None:
    """A force does not take the place of an acceleration."""
    tests = []
    for x, y in ((OTHER, ONE), (ONE, OTHER), (ONE, OTHER)):
        force = facts(y, channel="D0LUSP000000FOXP", unit="N", step_s=1e-3)
        tests.append(Trial([facts(x, channel=X, unit="m/s^2", step_s=1e-3), force]))
    assert list(examine_exchanges(Trials(tests), 0)) == []


def test_two_minor_axes_are_not_exchanged() -> None:
    """What they show differs from repeat to repeat; one minor axis can be exchanged with a main one."""
    for minor, count in (({X, Y}, 0), ({X}, 1), ({Y}, 1)):
        tests = [
            Trial(
                [
                    replace(facts(one, channel=X, step_s=1e-3), is_minor=X in minor),
                    replace(facts(other, channel=Y, step_s=1e-3), is_minor=Y in minor),
                ]
            )
            for one, other in ((OTHER, ONE), (ONE, OTHER), (ONE, OTHER))
        ]
        assert len(list(examine_exchanges(Trials(tests), 0))) == count


@pytest.mark.parametrize(("share", "count"), [(0.49, 1), (0.51, 0)])
@pytest.mark.parametrize("at", [0, 1])
def test_an_exchange_leaves_a_quarter_of_the_error(share: float, count: int, at: int) -> None:
    """In each of both channels: a curve of one sample, and one of two that are alike in size."""
    first, second = np.zeros(256), np.zeros(256)
    first[40], second[[120, 127]] = 1.0, 0.5**0.5
    # At the best shift their product is 0.7071: 1 + 1 - 2 · 0.7071.
    straight = 2 - 2**0.5
    rest = np.zeros(256)
    # A sample that is in neither adds its square to what the exchange leaves; half of the error is given.
    rest[230] = (share / 2 * straight) ** 0.5
    mine = [second.copy(), first.copy()]
    mine[at] = mine[at] + rest
    assert len(exchanged(mine[0], mine[1], others=(first, second))) == count


@pytest.mark.parametrize(("size", "count"), [(0.9, 0), (1.2, 1)])
def test_small_errors_need_no_explanation(size: float, count: int) -> None:
    """Two curves that are alike but for a tenth of their squares are not called exchanged."""
    first, second = np.zeros(64), np.zeros(64)
    first[20] = second[20] = 1.0
    # 1 + (1 + e²) - 2 and over 1, and e² / (1 + e²) the other way round.
    second[50] = (0.1 * size / (1 - 0.1 * size)) ** 0.5
    assert len(exchanged(second, first, others=(first, second))) == count


def recorded(
    samples: Floats, *, noise: float = 1.0, unit: str = "g", channel: str = HEAD, file: str = "t1"
) -> ChannelStatistics:
    """Return a channel with a given noise."""
    return facts(samples, noise=noise, unit=unit, channel=channel, file=file)


RANDOM = np.random.default_rng(3)
RECORD = RANDOM.normal(0, 1, 1000)
"""Its own jitter is that of its noise, about 1."""
PATTERN = np.tile([1.0, -1.0], 500)
"""Mean square 1, to be added with a size."""


@pytest.mark.parametrize(("size", "count"), [(0.048, 1), (0.052, 0)])
def test_a_copy_is_a_twentieth_of_the_noise_away(size: float, count: int) -> None:
    """With a noise of 0.5, less than the jitter, the limit is 0.025."""
    one = recorded(RECORD + 0.5 * size * PATTERN, noise=0.5)
    assert len(list(examine_copies([one], [recorded(RECORD)]))) == count


@pytest.mark.parametrize(("size", "count"), [(0.048, 1), (0.052, 0)])
def test_a_slow_curve_before_the_event_is_no_noise(size: float, count: int) -> None:
    """The jitter is 1 when the samples go up and down by √6 / (4 · 1.4826), however noisy they are called."""
    regular = 6**0.5 / (4 * 1.4826) * PATTERN
    slow = np.tile([1.0, 1.0, -1.0, -1.0], 250)
    # Only the later one gets a difference, so that the jitter of the first, which is judged, is known.
    one = recorded(regular, noise=50.0)
    other = recorded(regular + size * slow, noise=50.0)
    assert len(list(examine_copies([one], [other]))) == count


@pytest.mark.parametrize(("size", "count"), [(2.8e-5, 1), (3.2e-5, 0)])
def test_seven_printed_digits_are_equal(size: float, count: int) -> None:
    """Without noise the limit is 3e-7 of a peak of 100."""
    one = recorded(RECORD + size * PATTERN, noise=0.0)
    assert len(list(examine_copies([one], [recorded(RECORD, noise=0.0)]))) == count


def test_what_a_copy_may_differ_in() -> None:
    """An offset and a factor; the factor is named, and a factor of 1 is not."""
    (finding,) = examine_copies([recorded(2.5 * RECORD + 7)], [recorded(RECORD, file="t2")])
    assert (finding.kind, finding.severity) == ("copy", "error")
    assert finding.evidence["factor"] == pytest.approx(2.5)
    assert finding.evidence["rest"] == pytest.approx(0.0, abs=1e-12)
    assert finding.evidence["like"] == f"t2, {HEAD}"
    assert f"the channel is channel '{HEAD}' of t2 times 2.5, noise included" in finding.what
    (same,) = examine_copies([recorded(RECORD)], [recorded(RECORD)])
    assert f"the channel is channel '{HEAD}', noise included" in same.what
    (nearly,) = examine_copies([recorded(RECORD * (1 + 2e-6))], [recorded(RECORD)])
    assert "times 1, noise" in nearly.what


def test_which_channels_are_compared() -> None:
    """All of one test with those before them, and those of the same name in other tests."""
    one, other = recorded(RECORD), recorded(RECORD, channel="D0CHST0000KMACXP")
    assert [found.channel for found in examine_copies([one, other], [])] == ["D0CHST0000KMACXP"]
    assert list(examine_copies([one], [other])) == []
    assert len(list(examine_copies([one, other], [one]))) == 2


def test_a_copy_of_another_quantity_is_a_warning() -> None:
    """One may have been computed from the other; a unit of the same quantity stays an error."""
    assert kinds(examine_copies([recorded(RECORD, unit="N")], [recorded(RECORD)])) == [("copy", "warning")]
    assert kinds(examine_copies([recorded(RECORD, unit="m/s^2")], [recorded(RECORD)])) == [("copy", "error")]


def test_what_is_no_copy() -> None:
    """Other lengths, dead channels, constants, and a difference between every 15th sample."""
    assert list(examine_copies([recorded(RECORD[:-1])], [recorded(RECORD)])) == []
    dead = facts(RECORD, peak=0.0)
    assert list(examine_copies([dead], [recorded(RECORD)])) == []
    assert list(examine_copies([recorded(RECORD)], [dead])) == []
    assert list(examine_copies([recorded(RECORD)], [recorded(np.full(1000, 3.0))])) == []
    hidden = RECORD.copy()
    hidden[np.arange(1000) % 15 != 0] += 0.3
    assert list(examine_copies([recorded(hidden)], [recorded(RECORD)])) == []
