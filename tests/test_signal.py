"""A signal never changes and remembers how it came about."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import numpy as np
import pytest

from correlate.conditioning import remove_offset
from correlate.conditioning.align import SIGN_STEP
from correlate.conditioning.offset import OFFSET_STEP
from correlate.errors import SignalError, UnitError
from correlate.signal import NO_READINGS, Signal, Source, Step

READ = Step("read", {"file": "run.csv", "rows": 3})


def made(samples: Any = (1.0, 2.0, 4.0), **changes: Any) -> Signal:
    """Return a small signal."""
    fields: dict[str, Any] = {"start_s": -0.1, "step_s": 0.1, "unit": "g", "channel": "head ax"}
    return Signal(samples=samples, **{**fields, **changes})


def test_times_follow_from_start_and_step() -> None:
    """Three samples from −0.1 s in steps of 0.1 s, at 10 samples a second."""
    signal = made()
    np.testing.assert_allclose(signal.time_s, [-0.1, 0.0, 0.1], atol=1e-15)
    assert signal.end_s == pytest.approx(0.1)
    assert (len(signal), signal.sample_rate_hz) == (3, 10.0)


def test_source_and_place() -> None:
    """What has no file is computed; the place names file and channel."""
    assert made().source == Source("computed")
    assert made(source=Source("run.csv", "ab")).place == "run.csv, channel 'head ax'"


def test_nothing_can_be_written_to() -> None:
    """Neither the samples nor the fields nor the settings of a step."""
    signal = made(history=(READ,))
    with pytest.raises(ValueError, match="read-only"):
        signal.samples[0] = 9.0
    with pytest.raises(AttributeError, match="cannot assign to field 'unit'"):
        signal.unit = "m"  # type: ignore[misc]
    with pytest.raises(TypeError, match="does not support item assignment"):
        signal.history[0].settings["rows"] = 4  # type: ignore[index]


def test_unchanged_samples_are_shared() -> None:
    """Steps that leave the samples alone share them, and so does a part of them."""
    signal = made()
    assert signal.then(READ).samples is signal.samples
    assert np.shares_memory(made(signal.samples[1:]).samples, signal.samples)


def test_then_adds_one_step_and_keeps_the_rest() -> None:
    """What is not named stays; the older signal stays as it was."""
    old = made(history=(READ,), source=Source("run.csv"))
    new = old.then(Step("halve"), samples=old.samples / 2, unit="m")
    assert [step.name for step in new.history] == ["read", "halve"]
    assert (new.start_s, new.step_s, new.channel, new.source) == (-0.1, 0.1, "head ax", Source("run.csv"))
    assert (new.unit, old.unit, len(old.history)) == ("m", "g", 1)
    moved = old.then(Step("move"), start_s=1.0, step_s=0.5, channel="other")
    assert (moved.start_s, moved.step_s, moved.channel) == (1.0, 0.5, "other")


def test_unit_conversion_is_recorded() -> None:
    """1 g is 9.80665 m/s²; the factor is on record."""
    converted = made().in_unit("m/s^2")
    np.testing.assert_allclose(converted.samples, [9.80665, 19.6133, 39.2266], rtol=1e-15)
    assert str(converted.history[-1]) == "convert unit (from=g, to=m/s^2, factor=9.80665)"


def test_same_unit_is_no_conversion() -> None:
    """The signal itself comes back."""
    signal = made()
    assert signal.in_unit("g") is signal


def test_impossible_conversion_is_refused() -> None:
    """An acceleration is no force."""
    with pytest.raises(UnitError, match=r"'g' \(acceleration\) cannot be converted to 'N' \(force\)"):
        made().in_unit("N")


def through_pickle(signal: Signal) -> Any:
    """Return what another process would receive."""
    return pickle.loads(pickle.dumps(signal))  # noqa: S301


@pytest.mark.parametrize("duplicate", [copy.copy, copy.deepcopy, through_pickle])
def test_copies_are_whole_and_read_only(duplicate: Any) -> None:
    """Copies, also those sent to another process, hold the same data, as immutable as before."""
    signal = made(history=(READ,), source=Source("run.csv", "ab"))
    other = duplicate(signal)
    np.testing.assert_array_equal(other.samples, signal.samples)
    assert not other.samples.flags.writeable
    assert (other.start_s, other.step_s, other.unit, other.channel) == (-0.1, 0.1, "g", "head ax")
    assert (other.source, other.history) == (signal.source, signal.history)


def test_wrong_samples_are_refused() -> None:
    """With the channel named; the kinds of wrong samples are tested with the arrays."""
    with pytest.raises(SignalError, match="channel 'head ax': sample 2 is nan"):
        made([0.0, np.nan])


@pytest.mark.parametrize(
    "time", [{"step_s": 0.0}, {"step_s": -1e-4}, {"step_s": np.nan}, {"step_s": np.inf}, {"start_s": np.nan}]
)
def test_wrong_time_base_is_refused(time: dict[str, float]) -> None:
    """A step above zero and a finite start."""
    with pytest.raises(SignalError, match="give a finite start and a step above zero"):
        made(**time)


def test_unknown_unit_is_refused() -> None:
    """At once, not when it is first needed."""
    with pytest.raises(UnitError, match="the unit 'stone' is not known"):
        made(unit="stone")


def test_step_reads_as_one_line() -> None:
    """Name and settings, or the name alone."""
    assert str(READ) == "read (file=run.csv, rows=3)"
    assert str(Step("turn sign")) == "turn sign"
    assert Step("read", {"rows": 3}) != Step("read", {"rows": 4})


def test_scale_with_another_zero_is_converted_and_recorded() -> None:
    """68 and 77 °F are 20 and 25 °C; the step says what was multiplied and added."""
    room = made((68.0, 77.0), unit="°F").in_unit("°C")
    np.testing.assert_allclose(room.samples, [20.0, 25.0], atol=1e-10)
    assert room.history[-1].settings["factor"] == pytest.approx(5 / 9)
    assert room.history[-1].settings["added"] == pytest.approx(-160 / 9)
    assert set(made(unit="g").in_unit("m/s^2").history[-1].settings) == {"from", "to", "factor"}


def test_difference_is_no_reading_of_a_scale() -> None:
    """Without its offset a temperature says nothing about the zero of the scale, and is not moved by it."""
    assert {OFFSET_STEP, SIGN_STEP} == NO_READINGS
    rise = remove_offset(made((20.0, 20.0, 25.0), unit="°C"), start_s=-0.1, end_s=0.0)
    with pytest.raises(UnitError, match="'°C' and 'K' have different zero points, and offset or"):
        rise.in_unit("K")
