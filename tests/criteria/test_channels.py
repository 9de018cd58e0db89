"""From channels to curves: codes, patterns, preparation; every step recorded."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.channel import fits
from correlate.criteria import ChannelName, Preparation, with_codes
from correlate.criteria.channels import fitting_channel, prepared
from correlate.errors import ChannelError, UnitError
from tests.criteria.recordings import HEAD, PROBE, STEP_S, recording

CURVE = np.sin(np.linspace(0, 6, 2001)) + 2.0


def steps(names: list[ChannelName]) -> dict[str, list[str]]:
    """Return the steps of every channel of a recording that was given codes."""
    named = with_codes(recording({"ax": (CURVE, "g"), PROBE: (CURVE, "g")}), names)
    return {signal.channel: [step.name for step in signal.history] for signal in named.signals}


def test_a_name_becomes_a_code_in_recorded_steps() -> None:
    """Naming and turning are steps; a channel that already has its code is only turned."""
    assert steps([ChannelName(name="ax", code=f"{HEAD}XP")]) == {f"{HEAD}XP": ["name channel"], PROBE: []}
    turned = [
        ChannelName(name="ax", code=f"{HEAD}XP", turned=True),
        ChannelName(name=PROBE, code=PROBE, turned=True),
    ]
    assert steps(turned) == {f"{HEAD}XP": ["name channel", "turn sign"], PROBE: ["turn sign"]}


def test_wrong_names_are_refused() -> None:
    """A missing channel, a code that is none and two channels of one code are named."""
    with pytest.raises(ChannelError, match="no channel 'az'; the file contains 'ax'"):
        steps([ChannelName(name="az", code=f"{HEAD}ZP")])
    with pytest.raises(ChannelError, match="'ax': 'HEADX' is not a channel code; give 16 characters"):
        steps([ChannelName(name="ax", code="HEADX")])
    with pytest.raises(ChannelError, match=f"two channels are called '{PROBE}'"):
        steps([ChannelName(name="ax", code=PROBE)])


def test_patterns_mean_codes_alone() -> None:
    """A question mark is any character; a name that is no code fits nothing."""
    assert fits(PROBE, "??PEND??????AC??")
    assert fits(PROBE, "??PEND")
    assert not fits(PROBE, "??PEND??????ACZ?")
    assert not fits("probe acceleration", "?" * 16)


def test_two_fitting_channels_are_refused_by_name() -> None:
    """Nothing is chosen silently."""
    both = recording({PROBE: (CURVE, "g"), "10PEND000000ACXP": (CURVE, "g")}).signals
    with pytest.raises(
        ChannelError, match=r"2 channels fit .*'00PEND000000ACXP', '10PEND000000ACXP'; leave only one"
    ):
        fitting_channel(both, "??PEND??????ACX?")
    assert fitting_channel(both, "??PEND??????ACZ?") is None


def test_preparation_is_recorded_in_order() -> None:
    """Unit, time zero, offset, filter, interval: each a step, the offset measured before time zero."""
    signal = recording({PROBE: (CURVE, "g")}, start_s=-0.03).signals[0]
    found = prepared(
        signal, unit="m/s^2", cfc=180, preparation=Preparation(time_zero_s=0.002, start_s=-0.001, end_s=0.02)
    )
    assert [step.name for step in found.history] == [
        "convert unit",
        "shift time",
        "remove offset",
        "filter",
        "crop",
    ]
    assert (found.start_s, found.end_s) == pytest.approx((-0.001, 0.02))
    before = CURVE[: round(0.027 / STEP_S) + 1].mean()
    assert found.history[2].settings["offset"] == pytest.approx(9.80665 * before)


@pytest.mark.parametrize(("start_s", "kept"), [(-0.0149, True), (-0.0151, False)])
def test_offset_stays_where_too_little_lies_before_time_zero(start_s: float, *, kept: bool) -> None:
    """Less than 10 ms of quiet, as in a model's output, is no ground for an offset."""
    signal = recording({PROBE: (CURVE, "g")}, start_s=start_s).signals[0]
    found = prepared(signal, unit="g", cfc=None, preparation=Preparation())
    assert (found.history == ()) is kept


def test_an_offset_is_not_taken_off_twice_nor_when_it_is_to_be_kept() -> None:
    """A signal without its offset, or a wish to keep it, leaves the samples."""
    signal = recording({PROBE: (CURVE, "g")}, start_s=-0.05).signals[0]
    assert prepared(signal, unit="g", cfc=None, preparation=Preparation(remove_offset=False)) is signal
    once = prepared(signal, unit="g", cfc=None, preparation=Preparation())
    assert prepared(once, unit="g", cfc=None, preparation=Preparation()) is once


def test_a_unit_of_another_kind_is_refused_with_its_place() -> None:
    """Millimetres are no acceleration."""
    signal = recording({PROBE: (CURVE, "mm")}).signals[0]
    with pytest.raises(UnitError, match=f"{PROBE}.*cannot be converted"):
        prepared(signal, unit="g", cfc=None, preparation=Preparation())
