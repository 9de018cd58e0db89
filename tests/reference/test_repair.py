"""Repairs: nothing without a name, and every step in the history."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from correlate import Recording, Signal, read
from correlate.errors import ChannelError, SettingsError, SignalError
from correlate.formats import iso13499
from correlate.reference.finding import RepairProposal
from correlate.reference.repair import (
    REPAIRS,
    bridge,
    divide_by_factor,
    remove_drift,
    repair,
    repair_lines,
    repair_recording,
    set_sampling_interval,
)

AX, AY = "D0HEAD0000KMACXP", "D0HEAD0000KMACYP"


def channel(samples: list[float], *, code: str = AX) -> Signal:
    """Return samples at 10 kHz from −0.3 ms on."""
    return Signal(samples=samples, start_s=-3e-4, step_s=1e-4, unit="m/s^2", channel=code)


def test_a_bridge_is_a_straight_line_over_the_span() -> None:
    """Samples 3 and 4 of a line with a spike come back; the rest stays."""
    found = bridge(channel([0, 1, 50, -9, 4, 5]), [(-1e-4, 0.0)])
    assert found.samples == pytest.approx([0, 1, 2, 3, 4, 5])
    assert found.history[-1].settings["samples"] == 2


def test_removing_drift_leaves_the_event() -> None:
    """A line under a step goes, a slope that belongs to the physics stays."""
    line = 2.0 + 1000 * (np.arange(8) * 1e-4)
    event = np.array([0, 0, 0, 0, 0, 7, 7, 0])
    found = remove_drift(channel((line + event).tolist()), start_s=-3e-4, end_s=1e-4)
    assert found.samples == pytest.approx(event, abs=1e-9)
    kept = remove_drift(channel((line + event).tolist()), start_s=-3e-4, end_s=1e-4, slope_kept_per_s=400.0)
    assert kept.samples == pytest.approx(event + 400 * np.arange(8) * 1e-4, abs=1e-9)


def test_a_new_interval_keeps_samples_and_start() -> None:
    """Only the step changes."""
    raw = channel([0, 1, 2])
    found = set_sampling_interval(raw, step_s=5e-5)
    assert (found.step_s, found.start_s) == (5e-5, raw.start_s)
    assert found.samples == pytest.approx(raw.samples)


def test_dividing_by_a_factor_leaves_the_unit() -> None:
    """The unit was right and the numbers wrong."""
    found = divide_by_factor(channel([0, 98.0665]), factor=9.80665)
    assert found.samples == pytest.approx([0, 10])
    assert found.unit == "m/s^2"


def test_every_repair_is_recorded_with_who_accepted_it() -> None:
    """The history names the repair, the person and the step."""
    found = repair(channel([0, 1]), RepairProposal("turn sign"), accepted_by="lab")
    assert found.samples == pytest.approx([0, -1])
    assert [str(step) for step in found.history] == [
        "accept repair (repair=turn sign, accepted_by=lab)",
        "turn sign",
    ]
    assert repair_lines(found) == ["repair: turn sign; accepted by lab"]


def test_nothing_is_repaired_without_a_name() -> None:
    """An empty name is refused for one channel and for two."""
    with pytest.raises(SettingsError, match="nobody has accepted the repair"):
        repair(channel([0, 1]), RepairProposal("turn sign"), accepted_by=" ")
    test = Recording(signals=(channel([0, 1]), channel([0, 2], code=AY)), path=Path("t"), format="computed")
    with pytest.raises(SettingsError, match="nobody has accepted the repair"):
        repair_recording(test, {AX: [RepairProposal("exchange channels", {"with": AY})]}, accepted_by="")


def test_exchanged_channels_keep_their_names() -> None:
    """Samples change places, codes do not, both are recorded."""
    test = Recording(signals=(channel([0, 1]), channel([0, 2], code=AY)), path=Path("t"), format="computed")
    proposals = {AX: [RepairProposal("exchange channels", {"with": AY})]}
    found = repair_recording(test, proposals, accepted_by="lab")
    assert found.channel_names == (AX, AY)
    assert found.channel(AX).samples == pytest.approx([0, 2])
    assert found.channel(AY).samples == pytest.approx([0, 1])
    assert "accepted by lab" in found.channel_headers[AY]["Comment"]


def test_the_comment_stays_with_the_file(tmp_path: Path) -> None:
    """Written as a test folder and read again, the header says what was done and by whom."""
    headers = {AX: {"Comment": "old words"}}
    test = Recording(signals=(channel([0, 1]),), path=Path("t"), format="computed", channel_headers=headers)
    found = repair_recording(test, {AX: [RepairProposal("turn sign")]}, accepted_by="lab")
    iso13499.write(found, tmp_path / "T1")
    again = read(tmp_path / "T1").channel_headers[AX]["Comment"]
    assert again.splitlines() == ["old words", "repair: turn sign; accepted by lab"]


def test_refusals() -> None:
    """Unknown repairs and settings, spans at the ends, windows too short, factors and steps of zero."""
    with pytest.raises(SettingsError, match="no repair 'polish'"):
        repair(channel([0, 1]), RepairProposal("polish"), accepted_by="lab")
    with pytest.raises(SettingsError, match="do not suit the repair 'turn sign'"):
        repair(channel([0, 1]), RepairProposal("turn sign", {"often": 2}), accepted_by="lab")
    with pytest.raises(SignalError, match="no samples on both sides"):
        bridge(channel([0, 1, 2]), [(-3e-4, -2e-4)])
    with pytest.raises(SignalError, match="fewer than three samples"):
        remove_drift(channel([0, 1, 2]), start_s=-3e-4, end_s=-2e-4)
    with pytest.raises(SettingsError, match="factor is 0"):
        divide_by_factor(channel([0, 1]), factor=0)
    with pytest.raises(SettingsError, match="sampling interval is 0"):
        set_sampling_interval(channel([0, 1]), step_s=0)
    test = Recording(signals=(channel([0, 1]),), path=Path("t"), format="computed")
    with pytest.raises(ChannelError, match="no channel 'nose'"):
        repair_recording(test, {"nose": [RepairProposal("turn sign")]}, accepted_by="lab")


def test_proposals_name_repairs_that_exist() -> None:
    """Every name that findings propose is one that can be run."""
    source = Path(__file__).parents[2] / "correlate" / "reference" / "check"
    proposed = {
        part.split('"')[1]
        for file in source.glob("*.py")
        for part in file.read_text(encoding="utf-8").split("RepairProposal(")[1:]
        if part.startswith('"')
    }
    assert proposed
    assert proposed <= {*REPAIRS, "exchange channels"}
