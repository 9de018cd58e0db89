"""The interval of a set-up, in which the curves of a qualification test are looked at."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import Signal
from correlate.criteria.channels import Preparation
from correlate.criteria.qualification_curves import QualificationSignals
from correlate.criteria.windows import SetUp, SignalPlan


@pytest.mark.parametrize(
    ("set_up", "first_s", "last_s"),
    [({"interval_ms": [-5.0, 30.0]}, -0.005, 0.030), ({}, -0.020, 0.050)],
)
def test_curves_are_cut_to_the_interval_of_the_set_up(
    set_up: dict[str, object], first_s: float, last_s: float
) -> None:
    """From -5 to 30 ms; without one as given, from -20 to 50 ms."""
    time = np.arange(-1000, 1001) * 1e-4
    channel = Signal(samples=time, start_s=float(time[0]), step_s=1e-4, unit="N", channel="D0FEMRLE00KMFOZP")
    plan = SignalPlan.model_validate(
        {"name": "force", "unit": "N", "way": [{"make": "as recorded", "channels": ["??FEMR??????FOZ?"]}]}
    )
    signals = QualificationSignals(
        channels=[channel],
        plans={"force": plan},
        set_up=SetUp.model_validate(set_up),
        preparation=Preparation(remove_offset=False, start_s=-0.020, end_s=0.050),
    )
    found = signals.get("force")
    assert (found.start_s, found.end_s) == pytest.approx((first_s, last_s))
    np.testing.assert_allclose(found.samples[[0, -1]], [first_s, last_s], atol=1e-12)
