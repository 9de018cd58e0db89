"""Planted faults: each is in the file the manifest names, and nowhere else."""

import numpy as np
import pytest

from demo_pairs.laboratory import RecordedChannel
from demo_pairs.laboratory.faults import FAULTS, PlantedFault
from tests.demo_pairs.measuring import records, times

KINDS = {
    "saturation", "spike", "dropout", "swapped-sign", "wrong-unit", "offset-drift", "wrong-sample-rate",
}  # fmt: skip


def fault_of(kind: str) -> PlantedFault:
    """Find the fault of one kind."""
    (found,) = [fault for fault in FAULTS if fault.kind == kind]
    return found


def pair_of(kind: str) -> tuple[RecordedChannel, RecordedChannel]:
    """Healthy and spoilt channel."""
    fault = fault_of(kind)
    healthy = records(fault.load_case)[fault.repeat - 1]
    return healthy.channel(fault.code), fault.plant(healthy).channel(fault.code)


def test_one_of_every_kind() -> None:
    """Seven kinds, each once."""
    assert sorted(fault.kind for fault in FAULTS) == sorted(KINDS)


@pytest.mark.parametrize("kind", sorted(KINDS - {"wrong-sample-rate"}))
def test_other_channels_stay_healthy(kind: str) -> None:
    """Only the named channel differs; time base and conditions are those of the healthy test."""
    fault = fault_of(kind)
    healthy = records(fault.load_case)[fault.repeat - 1]
    planted = fault.plant(healthy)
    changed = [
        channel.code
        for channel, other in zip(planted.channels, healthy.channels, strict=True)
        if not np.array_equal(channel.samples, other.samples)
    ]
    assert changed == [fault.code]
    assert planted.sampling_step == healthy.sampling_step
    assert planted.conditions == healthy.conditions


def test_saturation_is_flat_at_the_range() -> None:
    """The peak is cut to a flat top of some samples at full scale; smaller values are kept to one count."""
    healthy, planted = pair_of("saturation")
    assert np.count_nonzero(planted.samples == planted.samples.min()) > 5
    assert planted.samples.min() == -1500.0
    assert healthy.samples.min() < -1900.0
    small = np.abs(healthy.samples) < 1400.0
    assert planted.samples[small] == pytest.approx(healthy.samples[small], abs=planted.resolution)


def test_spike_is_two_samples() -> None:
    """Exactly two neighbouring samples jump, at 35 ms, by more than the channel's own largest step."""
    healthy, planted = pair_of("spike")
    hit = np.flatnonzero(planted.samples != healthy.samples)
    assert hit.size == 2
    assert hit[1] == hit[0] + 1
    assert times(records("thorax-impact")[2])[hit[0]] == pytest.approx(0.035)
    own = np.abs(np.diff(healthy.samples)).max()
    assert np.abs(np.diff(planted.samples)).max() > 5 * own


def test_dropout_is_zero_between_its_times() -> None:
    """From 42 to 54 ms the rotation reads zero, although it was over 30 degrees there."""
    healthy, planted = pair_of("dropout")
    lost = planted.samples != healthy.samples
    clock = times(records("neck-flexion")[0])[lost]
    assert clock[0] == pytest.approx(0.042, abs=1e-9)
    assert clock[-1] == pytest.approx(0.054, abs=6e-5)
    assert not planted.samples[lost].any()
    assert healthy.samples[lost].min() > 30.0


def test_swapped_sign() -> None:
    """Every sample has changed sides."""
    healthy, planted = pair_of("swapped-sign")
    assert np.array_equal(planted.samples, -healthy.samples)


def test_wrong_unit_is_a_factor_of_gravity() -> None:
    """Values are those in g; the unit still says m/s^2."""
    healthy, planted = pair_of("wrong-unit")
    assert planted.unit == "m/s^2"
    assert planted.samples * 9.80665 == pytest.approx(healthy.samples)


def test_offset_drifts_evenly() -> None:
    """The difference from the healthy channel is a straight line from 0 to 900 N, to one count."""
    healthy, planted = pair_of("offset-drift")
    difference = planted.samples - healthy.samples
    assert difference == pytest.approx(np.linspace(0.0, 900.0, difference.size), abs=planted.resolution)


def test_wrong_sample_rate_is_in_the_header_only() -> None:
    """All samples are as they were; only the step is claimed to be twice as long."""
    fault = fault_of("wrong-sample-rate")
    healthy = records(fault.load_case)[fault.repeat - 1]
    planted = fault.plant(healthy)
    assert planted.sampling_step == 1e-4
    assert healthy.sampling_step == 5e-5
    for channel, other in zip(planted.channels, healthy.channels, strict=True):
        assert np.array_equal(channel.samples, other.samples)
