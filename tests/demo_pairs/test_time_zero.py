"""How time zero is set: threshold, contact switch, whole samples, and the words in the header."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from correlate.formats import read
from demo_pairs.laboratory import LOAD_CASES, recording
from demo_pairs.laboratory.measuring_chain import SAMPLES, SPARE, moved, recorder_times, trigger_jitter
from demo_pairs.laboratory.scatter import generator
from demo_pairs.laboratory.time_zero import (
    ContactSwitch,
    RawRecord,
    Threshold,
    TimeZero,
    class_filter,
    set_time_zero,
)
from demo_pairs.writing import write_record
from tests.demo_pairs.measuring import cfc, records

CODE = "00PEND000000ACXP"
TIMES = recorder_times()


def raw_with(samples: NDArray[np.float64], contact: float = 0.0) -> RawRecord:
    """Give a raw record of one channel."""
    return RawRecord(times=TIMES, samples={CODE: samples}, contact=contact)


def remaining(load_case: str) -> list[float]:
    """Give how late time zero of each repeat is against true contact [s]."""
    seed = recording._CASES[load_case].seed
    return [
        test.time_zero.shift + trigger_jitter(generator(seed, test.repeat, 1)) for test in records(load_case)
    ]


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_threshold_of_a_ramp(sign: float) -> None:
    """A ramp of 20 m/s² per ms that begins at 0.2 ms reaches 50 m/s² at 2.7 ms, whichever way it goes."""
    ramp = 7.0 + sign * np.clip(2e4 * (TIMES - 2e-4), 0.0, 2e3)
    method = Threshold(code=CODE, level=50.0, frequency_class=600)
    assert method.instant(raw_with(ramp), generator(1, 1, 3)) == pytest.approx(2.7e-3, abs=2e-6)


def test_threshold_that_is_never_reached_is_refused() -> None:
    """A channel that stays below the level names itself."""
    method = Threshold(code=CODE, level=50.0, frequency_class=600)
    with pytest.raises(ArithmeticError, match=f"{CODE} does not rise to 50 m/s"):
        method.instant(raw_with(np.zeros(TIMES.size)), generator(1, 1, 3))


def test_switch_closes_a_little_late() -> None:
    """Over 200 draws a switch closes 0 to 0.06 ms after contact, 0.03 ms in the mean."""
    method, random = ContactSwitch(parts="probe and chest"), generator(1, 1, 3)
    raw = raw_with(np.zeros(TIMES.size), contact=-3e-4)
    late = np.array([method.instant(raw, random) + 3e-4 for _ in range(200)])
    assert late.min() >= 0.0
    assert late.max() <= 6.001e-5
    assert late.mean() == pytest.approx(3e-5, abs=3e-6)


def test_time_zero_is_a_whole_number_of_samples() -> None:
    """The instant is rounded to samples, and the record begins so many samples later."""
    raw = raw_with(np.arange(TIMES.size, dtype=np.float64), contact=2.6e-4)
    found = set_time_zero(ContactSwitch(parts="a and b"), raw, generator(1, 1, 3))
    assert found.samples in {5, 6}
    assert found.shift == pytest.approx(found.samples * 5e-5)
    cut = moved(raw.samples[CODE], found)
    assert cut.size == SAMPLES
    assert cut[0] == SPARE + found.samples


def test_time_zero_beyond_the_record_is_refused() -> None:
    """More than the spare millisecond cannot be moved."""
    with pytest.raises(ArithmeticError, match=r"1\.05 ms from the trigger, beyond the record"):
        moved(np.zeros(TIMES.size), TimeZero(words="", samples=21, step=5e-5))


def test_class_filter_is_the_one_of_the_tests() -> None:
    """In the middle of a record it agrees with the digital form to 0.2 % of the peak."""
    pulse = np.exp(-(((TIMES - 0.05) / 1e-3) ** 2))
    assert class_filter(pulse, 600, 5e-5) == pytest.approx(cfc(pulse, 600, 5e-5), abs=2e-3)


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_time_zero_lies_within_a_tenth_of_a_millisecond_of_contact(load_case: str) -> None:
    """No repeat is 0.1 ms off, and repeats scatter by less than 0.1 ms from the first to the last."""
    late = remaining(load_case)
    assert np.abs(late).max() < 1e-4
    assert np.ptp(late) < 1e-4


def test_the_trigger_alone_would_scatter_more() -> None:
    """Over all tests the trigger scatters at least five times as much as time zero does."""
    late = np.concatenate([remaining(load_case) for load_case in LOAD_CASES])
    trigger = [test.time_zero.shift for load_case in LOAD_CASES for test in records(load_case)]
    assert np.std(trigger) > 5.0 * np.std(late)


@pytest.mark.parametrize(
    ("load_case", "words"),
    [
        ("head-drop", "time zero: D0HEAD0000KMACXP at CFC 1000 first reaches 49 m/s^2; "),
        ("thorax-impact", "time zero: contact switch between probe and chest; "),
    ],
)
def test_the_step_is_recorded_in_the_files(load_case: str, words: str, tmp_path: Path) -> None:
    """The description and every channel file say how time zero was set and how far it is from the trigger."""
    test = records(load_case)[0]
    write_record(test, tmp_path / test.name)
    found = read(tmp_path / test.name)
    shift = f"{1e3 * test.time_zero.shift:+.2f} ms ({test.time_zero.samples:+d} samples) from the trigger"
    comments = [found.details["Comment"].split("\n")[1]]
    comments += [found.channel_headers[signal.channel]["Comment"] for signal in found.signals]
    for comment in comments:
        assert comment.startswith(words)
        assert shift in comment


@pytest.mark.parametrize("load_case", ["head-drop", "knee-impact"])
def test_the_level_is_met_at_time_zero(load_case: str) -> None:
    """In the written record the filtered channel passes the level within a sample of time zero."""
    method = recording._CASES[load_case].time_zero
    assert isinstance(method, Threshold)
    for test in records(load_case):
        samples = test.channel(method.code).samples
        size = np.abs(cfc(samples - samples[:800].mean(), method.frequency_class, 5e-5))
        hit = int(np.argmax(size >= method.level))
        assert abs(test.first_time + hit * 5e-5) < 1.01e-4
