"""All features together: hysteresis, reasons, copies."""

from __future__ import annotations

import pickle
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.features import features

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME: Floats = np.arange(801, dtype=np.float64) * 1e-4
TRAVEL = np.sin(np.pi * np.clip((TIME - 0.01) / 0.06, 0.0, 1.0))


@given(kept=st.floats(0.0, 0.95), turned=st.sampled_from([-1.0, 1.0]))
@settings(max_examples=20)
def test_hysteresis_of_a_linear_loop(kept: float, turned: float) -> None:
    """A spring that gives back the share 1 - h of its force on unloading keeps the share h of the work."""
    force = np.where(TIME <= 0.04, TRAVEL, (1.0 - kept) * TRAVEL)
    found = features(TIME, turned * 3.0 * force, against=-40.0 * TRAVEL)
    assert found.hysteresis == pytest.approx(kept, abs=0.01)


def test_without_a_deflection_there_is_no_hysteresis() -> None:
    """The reason says what is missing."""
    found = features(TIME, TRAVEL)
    assert found.hysteresis is None
    assert found.reasons["hysteresis"] == "no deflection is given with the curve"


def test_a_deflection_that_does_no_work_has_a_reason() -> None:
    """A force that is over before the deflection begins does no work."""
    early = np.where(TIME < 0.01, np.sin(np.pi * TIME / 0.01), 0.0)
    found = features(TIME, early, against=TRAVEL)
    assert found.hysteresis is None
    assert "no work is done" in found.reasons["hysteresis"]


def test_features_survive_pickling() -> None:
    """Worker processes send features back: nothing is lost, reasons stay read-only."""
    found = features(TIME, TRAVEL)
    copy = pickle.loads(pickle.dumps(found))  # noqa: S301 - our own bytes
    assert copy == found
    with pytest.raises(TypeError, match="does not support item assignment"):
        copy.reasons["peak"] = "changed"
