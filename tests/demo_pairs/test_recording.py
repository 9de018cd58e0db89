"""Records of all load cases: codes, time base, counts, polarity, determinism."""

import hashlib
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from correlate.channel import ChannelCode
from demo_pairs.laboratory import LOAD_CASES, record, recording, repeats
from demo_pairs.laboratory.measuring_chain import COUNTS
from demo_pairs.laboratory.scatter import draw
from tests.demo_pairs.measuring import filtered, records

ROOT = Path(__file__).parents[2]
REPEATS = {
    "head-drop": 5,
    "neck-flexion": 5,
    "neck-extension": 5,
    "thorax-impact": 5,
    "thorax-impact-low": 3,
    "knee-impact": 5,
    "seat-drop": 3,
    "seat-drop-high": 3,
}
"""The programme of the invented laboratory."""
MAIN_LOCATIONS = {
    "HEAD", "NECK", "CHST", "THSP", "LUSP", "PELV", "FEMR", "KNEE", "TIBI", "SEAT", "PEND",
}  # fmt: skip
"""Of the position table of ISO/TS 13499, from memory."""
SIGNS = {
    ("head-drop", "D0HEAD0000KMACXP"): -1,
    ("head-drop", "D0HEAD0000KMACZP"): 1,
    ("neck-flexion", "00PEND000000ACXP"): -1,
    ("neck-flexion", "D0HEAD0000KMANYP"): 1,
    ("neck-flexion", "D0NECKUP00KMFOXP"): -1,
    ("neck-flexion", "D0NECKUP00KMFOZP"): 1,
    ("neck-flexion", "D0NECKUP00KMMOYP"): 1,
    ("neck-extension", "D0HEAD0000KMANYP"): 1,
    ("neck-extension", "D0NECKUP00KMFOXP"): 1,
    ("neck-extension", "D0NECKUP00KMMOYP"): -1,
    ("thorax-impact", "00PEND000000ACXP"): -1,
    ("thorax-impact", "D0CHST0003KMDSXP"): -1,
    ("thorax-impact", "D0THSPUP00KMACXP"): -1,
    ("knee-impact", "D0FEMRLE00KMFOZP"): -1,
    ("seat-drop", "S0SEAT000000ACZP"): -1,
    ("seat-drop", "D0LUSP0000KMFOZP"): -1,
    ("seat-drop", "D0NECKUP00KMFOZP"): -1,
    ("seat-drop", "D0HEAD0000KMACZP"): -1,
}
"""Sign of the largest value by SAE J1733 (from memory); the rotation counts with the pendulum's travel."""


def test_programme_is_complete() -> None:
    """The laboratory has the eight load cases with their numbers of repeats."""
    assert {load_case: repeats(load_case) for load_case in LOAD_CASES} == REPEATS


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_codes_units_and_time_base(load_case: str) -> None:
    """Codes have known fields and dummy letters KM; 20 kHz, 50 ms before and 200 ms after the trigger."""
    for test in records(load_case):
        assert test.sampling_step == 5e-5
        assert test.first_time == -0.05
        assert len({channel.code for channel in test.channels}) == len(test.channels)
        for channel in test.channels:
            code = ChannelCode(channel.code)
            assert code.main_location in MAIN_LOCATIONS
            assert code.is_known
            assert code.filter_letter == "P"
            assert code.fine_locations[2] == ("KM" if code.test_object == "D" else "00")
            assert test.first_time + test.sampling_step * (channel.samples.size - 1) >= 0.2


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_samples_are_counts_with_room_to_spare(load_case: str) -> None:
    """Every sample is a whole count; no healthy channel comes near full scale or uses under 1 % of it."""
    for test in records(load_case):
        for channel in test.channels:
            counts = channel.samples / channel.resolution
            assert np.array_equal(counts, np.rint(counts))
            largest = np.abs(counts).max()
            assert 0.01 * COUNTS < largest < 0.9 * COUNTS, channel.code


@pytest.mark.parametrize(("load_case", "code"), SIGNS)
def test_polarity(load_case: str, code: str) -> None:
    """The largest value of each channel has the sign that the convention gives it, in every repeat."""
    for test in records(load_case):
        values = filtered(test, code, 60 if "AN" in code else 180)
        largest = values[np.argmax(np.abs(values))]
        assert np.sign(largest) == SIGNS[load_case, code], test.name


def test_held_out_cases_are_milder_and_harder() -> None:
    """The low thorax impact deflects less than the usual one; the high seat drop loads the spine more."""
    usual, low = (
        np.abs(filtered(records(case)[0], "D0CHST0003KMDSXP", 180)).max()
        for case in ("thorax-impact", "thorax-impact-low")
    )
    drop, high = (
        np.abs(filtered(records(case)[0], "D0LUSP0000KMFOZP", 600)).max()
        for case in ("seat-drop", "seat-drop-high")
    )
    assert low < 0.8 * usual
    assert high > 1.3 * drop


@pytest.mark.parametrize(("load_case", "peak"), [("seat-drop", 12.0), ("seat-drop-high", 18.0)])
def test_slam_pulse(load_case: str, peak: float) -> None:
    """The seat feels about 12 g (18 g) for about 100 ms."""
    for test in records(load_case):
        pulse = -filtered(test, "S0SEAT000000ACZP", 60) / 9.80665
        assert pulse.max() == pytest.approx(peak, rel=0.06)
        loaded = np.flatnonzero(pulse > 0.05 * peak)
        assert (loaded[-1] - loaded[0]) * test.sampling_step == pytest.approx(0.1, abs=0.015)


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_material_scatter(load_case: str) -> None:
    """Materials of a repeat stay within 10 % of nominal and no two repeats are alike."""
    draws = [draw(repeat_seed(load_case), repeat) for repeat in range(1, REPEATS[load_case] + 1)]
    factors = np.array([[d.rubber, d.vinyl, d.foam, d.metal] for d in draws])
    assert np.abs(factors - 1.0).max() < 0.1
    assert np.all(np.ptp(factors, axis=0) > 0.0)
    assert all(20.6 <= d.temperature <= 22.2 for d in draws)


def repeat_seed(load_case: str) -> int:
    """Look up the seed of a load case."""
    return recording._CASES[load_case].seed


def test_same_record_twice() -> None:
    """Recording again, also in a fresh process, gives the same bytes."""
    program = (
        "import hashlib; from demo_pairs.laboratory import record; "
        "data = b''.join(c.samples.tobytes() for c in record('knee-impact', 2).channels); "
        "print(hashlib.sha256(data).hexdigest())"
    )
    fresh = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()
    here = b"".join(channel.samples.tobytes() for channel in record("knee-impact", 2).channels)
    assert hashlib.sha256(here).hexdigest() == fresh


def test_unknown_load_case_is_refused() -> None:
    """A wrong name is answered with the list of load cases."""
    with pytest.raises(ValueError, match=r"no load case 'head-dorp'; it has head-drop, neck-flexion"):
        record("head-dorp", 1)


def test_unknown_repeat_is_refused() -> None:
    """A repeat that was never run is answered with those that were."""
    with pytest.raises(ValueError, match=r"head-drop has repeats 1 to 5, not 6"):
        record("head-drop", 6)


def test_unknown_channel_is_refused() -> None:
    """Asking a record for a channel it lacks names the code."""
    with pytest.raises(KeyError, match="D0TIBI0000KMFOZP"):
        records("knee-impact")[0].channel("D0TIBI0000KMFOZP")
