"""A shift that all channels share is found; late channels, slow models and jitter are no such shift."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recipe, Signal
from correlate.diagnosis.suspects.common_time import TimedChannel, common_delay, wrong_common_time_zero

if TYPE_CHECKING:
    from correlate.diagnosis.suspects import Suspect

RECIPE = Recipe(start_s=0.0, end_s=0.12)
PULSES = {"probe": (0.0, 15.0), "force": (4.0, 30.0), "rotation": (10.0, 80.0)}
"""Start and length of each channel, ms: the input first, the slow answer last."""


def signal(name: str, *, late_ms: float = 0.0, slow: float = 1.0, size: float = 1.0) -> Signal:
    """Return a pulse from -50 to 200 ms; `slow` leaves the input as it is."""
    start_ms, length_ms = PULSES[name]
    factor = 1.0 if name == "probe" else slow
    time_ms = np.arange(-500, 2001) / 10
    x = (time_ms - late_ms - factor * start_ms) / (factor * length_ms)
    return Signal(
        samples=size * np.sin(np.pi * np.clip(x, 0, 1)) ** 2,
        start_s=-0.05,
        step_s=1e-4,
        unit="kN",
        channel=name,
    )


def channels(
    *, late_ms: float = 0.0, slow: float = 1.0, size: float = 1.0, jitter_ms: float = 0.0
) -> list[TimedChannel]:
    """Return three channels with three repeats, and the model of all of them."""
    return [
        TimedChannel(
            name=name,
            tests=tuple(signal(name, late_ms=jitter_ms * step) for step in (-1, 0, 1)),
            model=signal(name, late_ms=late_ms, slow=slow, size=size),
            recipe=RECIPE,
        )
        for name in PULSES
    ]


def suspect_of(rows: list[TimedChannel]) -> Suspect | None:
    """Look for a common shift of time zero."""
    return wrong_common_time_zero(common_delay(rows), rows)


@pytest.mark.parametrize("late_ms", [-25.0, -8.0, -3.0, 3.0, 5.0, 12.0, 24.0])
def test_a_common_shift_is_found(late_ms: float) -> None:
    """Small and large, late and early, with a model that is 4 % too large: kind, size, what to write."""
    suspect = suspect_of(channels(late_ms=late_ms, size=1.04))
    assert suspect is not None
    assert (suspect.kind, suspect.channel) == ("time zero off", "")
    assert suspect.change["candidate_shifts_s"] == pytest.approx(dict.fromkeys(PULSES, -late_ms / 1e3))
    assert f"model_shift_ms = {-late_ms:g} in this load case" in suspect.fix
    assert suspect.rating_before is not None
    assert suspect.rating_after > max(0.97, suspect.rating_before)


def test_a_shift_that_is_there_already_is_added_to() -> None:
    """Channels with different shifts of their own get different ones, listed by name."""
    rows = channels(late_ms=5.0)
    first = replace(rows[0], recipe=replace(RECIPE, candidate_shift_s=0.001))
    suspect = suspect_of([first, *rows[1:]])
    assert suspect is not None
    assert "-4 for probe, -5 for force, -5 for rotation" in suspect.fix


@pytest.mark.parametrize("slow", [0.75, 1.15, 1.4])
def test_a_slow_model_is_no_shift(slow: float) -> None:
    """Its answer comes late and lasts longer, while the input is in place."""
    assert suspect_of(channels(slow=slow)) is None


def test_a_good_model_and_a_small_delay_are_no_shift() -> None:
    """In place, and 1.5 ms late, which a contact may make."""
    assert suspect_of(channels()) is None
    assert suspect_of(channels(late_ms=1.5)) is None


@pytest.mark.parametrize("late_ms", [-8.0, 6.0, 9.0])
def test_a_shift_of_a_slow_and_weak_model_shows_in_the_onsets(late_ms: float) -> None:
    """A little slow and 40 % low: much error is left, but everything sets out late alike."""
    rows = channels(late_ms=late_ms, slow=1.03, size=0.6)
    found = common_delay(rows)
    assert found is not None
    assert found.pooled > 0.1
    suspect = suspect_of(rows)
    assert suspect is not None
    assert suspect.change["candidate_shifts_s"]["probe"] == pytest.approx(-late_ms / 1e3, abs=0.0015)


def test_one_late_channel_is_not_the_time_zero_of_the_test() -> None:
    """8 ms late in the slow channel alone."""
    rows = channels()
    late = replace(rows[2], model=signal("rotation", late_ms=8.0))
    assert suspect_of([*rows[:2], late]) is None


def test_a_shift_within_the_jitter_of_the_repeats_is_not_suspected() -> None:
    """3 ms is beyond repeats that agree, and within repeats 2 ms apart."""
    assert suspect_of(channels(late_ms=3.0)) is not None
    assert suspect_of(channels(late_ms=3.0, jitter_ms=2.0)) is None


def test_a_turned_channel_is_no_witness() -> None:
    """With the force turned, the other two still tell the shift; two turned ones leave too few."""
    rows = channels(late_ms=6.0)
    turned = [replace(row, model=replace(row.model, samples=-row.model.samples)) for row in rows]
    found = common_delay([rows[0], turned[1], rows[2]])
    assert found is not None
    assert found.names == ("probe", "rotation")
    assert found.delay_s == pytest.approx(0.006, abs=2e-4)
    assert common_delay([rows[0], *turned[1:]]) is None


def test_one_channel_alone_cannot_tell() -> None:
    """A load case with a single channel has no common shift."""
    assert suspect_of(channels(late_ms=6.0)[:1]) is None


def recorded_from_zero(late_ms: float) -> list[TimedChannel]:
    """Return the channels with a model whose record begins at zero, whenever its event begins."""
    rows = []
    for row in channels(late_ms=late_ms):
        first = round(-row.model.start_s / row.model.step_s)
        cut = replace(row.model, samples=row.model.samples[first:], start_s=0.0)
        rows.append(replace(row, model=cut))
    return rows


def test_a_record_that_begins_within_the_event_is_said_to_be_too_short() -> None:
    """6 ms early: the rest of the event still tells, and the remedy says that the record must be longer."""
    suspect = suspect_of(recorded_from_zero(-6.0))
    assert suspect is not None
    assert "model_shift_ms = 6 in" in suspect.fix
    assert suspect.fix.endswith("must then be computed for a longer time to cover the interval")
    longer = suspect_of(channels(late_ms=-6.0))
    assert longer is not None
    assert "longer time" not in longer.fix


def test_what_was_not_recorded_is_not_guessed() -> None:
    """90 ms early in a record that begins at zero: the event is gone, so nothing is said."""
    assert suspect_of(recorded_from_zero(-90.0)) is None
