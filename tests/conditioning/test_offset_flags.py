"""A warning where the offset was taken from a window in which the event has begun."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import Recipe, Signal, suspects
from correlate.conditioning import condition
from correlate.conditioning.offset import offset_flags, remove_offset

TIME = np.arange(-500, 1000) * 1e-4


def signal(start_s: float, offset: float = 2.0, noise: float = 0.2) -> Signal:
    """Return a noisy pulse of 40 on an offset, from -50 to 100 ms."""
    random = np.random.default_rng(3)
    pulse = 40 * np.sin(np.pi * np.clip((TIME - start_s) / 0.03, 0, 1))
    samples = pulse + offset + noise * random.standard_normal(TIME.size)
    return Signal(samples=samples, start_s=TIME[0], step_s=1e-4, unit="g", channel="ax")


def test_a_quiet_window_gives_no_warning() -> None:
    """Offset and noise are what the window is for."""
    assert offset_flags(remove_offset(signal(0.01), start_s=-0.04, end_s=-0.005)) == ()


def test_a_window_in_the_event_is_named_with_how_much_changes() -> None:
    """The pulse begins inside the window; its change there is known from the half-sine."""
    treated = remove_offset(signal(-0.015), start_s=-0.04, end_s=-0.005)
    (flag,) = offset_flags(treated)
    assert flag.name == "offset window overlaps the event"
    # The last tenth of the window, 3.5 ms, lies 6.5 to 10 ms behind the start of the pulse.
    share = np.mean(np.sin(np.pi * np.linspace(6.5, 10, 100) / 30))
    # The largest value is that of the pulse without what was taken for its offset.
    left = 1 - (treated.history[-1].settings["offset"] - 2.0) / 40
    assert flag.figures["change_over_peak"] == pytest.approx(share / left, rel=0.05)
    assert "between -40 and -5 ms" in flag.sentence


def test_the_search_for_mistakes_offers_a_quiet_window() -> None:
    """A part of the window before the event restores most of the rating."""
    test = signal(-0.015, offset=0.0)
    samples = 40 * np.sin(np.pi * np.clip((TIME + 0.015) / 0.03, 0, 1))
    model = Signal(samples=samples, start_s=TIME[0], step_s=1e-4, unit="g", channel="ax")
    recipe = Recipe(cfc=180, start_s=-0.02, end_s=0.03, reference_offset_window_s=(-0.04, 0.0))
    kind = "offset window overlaps the event"
    found = [one for one in suspects(test, model, recipe) if one.kind == kind]
    assert len(found) == 1
    assert found[0].rating_before is not None
    assert found[0].rating_after > found[0].rating_before + 0.1
    start_s, end_s = found[0].change["reference_offset_window_s"]
    assert start_s == -0.04
    assert end_s <= -0.015
    assert found[0].fix.startswith("write test_offset_ms = [-40, ")


def test_a_signal_without_a_step_has_no_warning() -> None:
    """Nothing was removed, so nothing can be wrong with it."""
    assert offset_flags(condition(signal(0.01), Recipe(cfc=180).for_reference("g"))) == ()
