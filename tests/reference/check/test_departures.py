"""What honest scatter explains of the difference of two repeats, and what it leaves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.departures import Allowance, coarser, departure
from correlate.reference.check.repeats import RepeatCurve

if TYPE_CHECKING:
    from tests.reference.check.by_hand import Floats

STEP_S = 1e-4
TIME = np.arange(1000) * STEP_S
ALLOWED = Allowance(start_s=0.01)


def bell(*, at_s: float = 0.05, width_s: float = 0.01) -> Floats:
    """Return a bell of size 1."""
    return np.asarray(np.exp(-(((TIME - at_s) / width_s) ** 2)))


def curve(values: Floats, *, start_s: float = 0.0) -> RepeatCurve:
    """Return a curve at 0.1 ms."""
    return RepeatCurve(start_s=start_s, step_s=STEP_S, values=values)


def share(values: Floats, *, allowed: Allowance = ALLOWED, shift_s: float = 0.0) -> float:
    """Return what is left of some values beside a bell."""
    found = departure(curve(values), curve(bell()), shift_s, allowed)
    assert found is not None
    return found.share


def test_equal_curves_leave_nothing() -> None:
    """Nor do those that differ by a shift that is known."""
    assert share(bell()) == pytest.approx(0.0, abs=1e-12)
    assert share(bell(at_s=0.052), shift_s=0.002) == pytest.approx(0.0, abs=1e-6)


def test_level_and_slope_cost_nothing() -> None:
    """Any offset and any drift."""
    assert share(bell() + 0.3 - 2.0 * TIME) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    "honest",
    [1.15 * bell(), bell(at_s=0.0501), bell(at_s=0.05 * 1.02)],
    ids=["size", "shift", "duration"],
)
def test_honest_scatter_costs_little(honest: Floats) -> None:
    """About one standard deviation of size, shift or duration costs a quarter of a per cent at most."""
    assert share(honest) < 0.05**2


def test_a_foreign_part_is_left() -> None:
    """Most of a bell elsewhere of a fifth of the size and two fifths of the width."""
    whole = 0.04 * 0.4 / (1 + 0.016)
    left = share(bell() + 0.2 * bell(at_s=0.085, width_s=0.004))
    # Level and slope take a part of it.
    assert 0.6 * whole < left < whole


def test_a_shift_of_a_channel_alone_is_left_unless_it_is_allowed() -> None:
    """A millisecond is ten standard deviations; its energy is about the square over that of the width."""
    late = bell(at_s=0.051)
    assert share(late) > 1e-3
    assert share(late, allowed=Allowance(start_s=0.01, shift_s=math.inf)) < 1e-6


def test_other_axes_and_foreign_channels_explain_their_part() -> None:
    """A twentieth of another axis is honest; any part of a foreign channel is taken out."""
    other = bell(at_s=0.085, width_s=0.006)
    axis = Allowance(start_s=0.01, axes=(curve(other),))
    foreign = Allowance(start_s=0.01, foreign=(curve(other),))
    assert share(bell() + 0.05 * other, allowed=axis) < 0.8 * share(bell() + 0.05 * other)
    assert share(bell() + 0.5 * other, allowed=axis) > 0.01
    assert share(bell() + 0.5 * other, allowed=foreign) == pytest.approx(0.0, abs=1e-9)


def test_curves_must_share_forty_points() -> None:
    """Otherwise nothing is said."""
    assert departure(curve(bell()), curve(bell(), start_s=0.0961), 0.0, ALLOWED) is None
    assert departure(curve(bell()), curve(bell(), start_s=0.096), 0.0, ALLOWED) is not None


def test_a_coarser_curve() -> None:
    """Means of blocks, at the middle of each."""
    found = coarser(RepeatCurve(start_s=0.0, step_s=1.0, values=np.arange(10.0)), 4)
    assert found.values.tolist() == [0.5, 2.5, 4.5, 6.5, 8.5]
    assert (found.start_s, found.step_s) == (0.5, 2.0)
