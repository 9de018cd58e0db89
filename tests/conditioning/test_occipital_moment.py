"""The neck moment moved from the load cell to the occipital condyle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.conditioning import occipital_moment
from correlate.conditioning.derived import LOAD_CELL_DISTANCE_M
from correlate.errors import SettingsError, SignalError, UnitError
from tests.conditioning.signals import names, signal_of

if TYPE_CHECKING:
    from correlate.signal import Signal


def moment(samples: list[float], unit: str = "N·m") -> Signal:
    """Return an upper-neck moment."""
    return signal_of(samples, unit=unit, channel="upper neck My")


def force(samples: list[float], unit: str = "N") -> Signal:
    """Return an upper-neck shear force."""
    return signal_of(samples, unit=unit, channel="upper neck Fx")


def test_distance_is_the_published_one() -> None:
    """0.01778 m, which is 0.7 inch (49 CFR 572.123(b)(1)(iii))."""
    assert pytest.approx(0.7 * 0.0254, abs=1e-15) == LOAD_CELL_DISTANCE_M


def test_formula_by_hand() -> None:
    """90 N·m with −1000 N: 90 + 17.78; 50 N·m with +500 N: 50 − 8.89."""
    result = occipital_moment(moment([90.0, 50.0]), force([-1000.0, 500.0]))
    np.testing.assert_allclose(result.samples, [107.78, 41.11], rtol=1e-12)


@pytest.mark.parametrize(
    ("moment_unit", "moment_size", "force_unit", "force_size"),
    [("N·m", 1.0, "kN", 1e-3), ("kN·mm", 1.0, "N", 1.0), ("N·mm", 1e3, "kN", 1e-3), ("J", 1.0, "N", 1.0)],
)
def test_units_do_not_matter(
    moment_unit: str, moment_size: float, force_unit: str, force_size: float
) -> None:
    """In whatever units the load cell is read, the moment is the same; it keeps the unit of the moment."""
    result = occipital_moment(
        moment([90.0 * moment_size, 0.0], moment_unit), force([-1000.0 * force_size, 0.0], force_unit)
    )
    assert result.unit == moment_unit
    np.testing.assert_allclose(result.samples, [107.78 * moment_size, 0.0], rtol=1e-12)


def test_records_distance_and_force() -> None:
    """The history names the distance, the force channel and what was done to it before."""
    result = occipital_moment(moment([1.0, 2.0]), force([1.0, 2.0]), distance_m=0.02)
    assert names(result) == ["read", "transfer moment"]
    assert dict(result.history[-1].settings) == {
        "distance_m": 0.02,
        "moment": "upper neck My",
        "force": "upper neck Fx",
        "force_steps": ("read (file=run.csv)",),
    }
    assert result.channel == "occipital condyle moment Y"


def test_force_must_be_a_force() -> None:
    """Swapped channels are found by their units, and named."""
    with pytest.raises(UnitError, match=r"channel 'upper neck My': 'N·m' .* cannot be converted to 'N'"):
        occipital_moment(force([1.0, 2.0]), moment([1.0, 2.0]))


def test_moment_must_be_a_moment() -> None:
    """A force in the place of the moment is named."""
    with pytest.raises(UnitError, match=r"channel 'upper neck Fx': 'N' .* cannot be converted to 'N·m'"):
        occipital_moment(force([1.0, 2.0]), force([1.0, 2.0]))


def test_grids_must_agree() -> None:
    """Samples of different times are not combined."""
    with pytest.raises(SignalError, match=r"upper neck Fx': its 3 samples .* do not match the 2"):
        occipital_moment(moment([1.0, 2.0]), force([1.0, 2.0, 3.0]))


def test_distance_must_be_a_number() -> None:
    """A distance that is not finite is a wrong setting."""
    with pytest.raises(SettingsError, match="the distance is nan m"):
        occipital_moment(moment([1.0, 2.0]), force([1.0, 2.0]), distance_m=float("nan"))
