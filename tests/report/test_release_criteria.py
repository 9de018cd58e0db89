"""Criteria and windows of a load case: the model is read with the signs of the campaign."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from correlate import (
    LoadCase,
    Qualification,
    QuantityVerdict,
    Recording,
    Signal,
    find_device,
    window_book,
)
from correlate.campaign import ChannelPlan
from correlate.evaluation.channels import coded_model
from correlate.report.release_parts import case_criteria, case_windows

STEP_S = 1e-4
TIME_S = STEP_S * np.arange(-600, 1500)
CHEST = "D0CHST0003KMDSXP"


def recording(channel: str, unit: str, height: float) -> Recording:
    """Return a half sine of 60 ms from time zero on."""
    samples = height * np.sin(np.pi * np.clip(TIME_S / 0.06, 0.0, 1.0))
    signal = Signal(samples=samples, start_s=TIME_S[0], step_s=STEP_S, unit=unit, channel=channel)
    return Recording(signals=(signal,), path=Path(f"{channel}.csv"), format="delimited")


@pytest.fixture
def load_case() -> LoadCase:
    """Return a thorax impact whose model counts compression as positive."""
    plan = ChannelPlan(test=CHEST, model="compression", model_sign=-1, region="thorax")
    return LoadCase(name="thorax", tests=["*"], interval_ms=(0, 100), channel=[plan])


def test_the_model_comes_under_the_code_with_its_sign(load_case: LoadCase) -> None:
    """Compression is positive in the model and backwards, which is negative, in the test."""
    (signal,) = coded_model(load_case, recording("compression", "mm", 40.0)).signals
    assert signal.channel == CHEST
    assert signal.samples.min() == pytest.approx(-40.0, rel=1e-6)
    assert [step.name for step in signal.history] == ["name channel", "turn sign"]


def test_a_channel_that_the_model_lacks_is_left_out(load_case: LoadCase) -> None:
    """The document lists it as not rated; the others are still evaluated."""
    assert coded_model(load_case, recording("something else", "mm", 40.0)).signals == ()


def test_the_deflection_of_test_and_model_is_compared(load_case: LoadCase) -> None:
    """A half sine of 40 mm against one of 44 mm: the model is 10 % over (closed form, filter of CFC 600)."""
    tests = [recording(CHEST, "mm", -height) for height in (43.0, 44.0, 45.0)]
    found = case_criteria(load_case, tests, recording("compression", "mm", 48.4), find_device("adult male"))
    (deflection,) = [one for one in found.compared if one.name == "chest deflection"]
    assert deflection.reference == pytest.approx(44.0, rel=1e-3)
    assert deflection.relative_error == pytest.approx(0.1, rel=1e-2)
    assert deflection.error_in_scatter == pytest.approx(4.4, rel=1e-2)


def test_windows_hold_for_tests_and_model(load_case: LoadCase) -> None:
    """49 CFR 572.34 wants 63.5 to 72.6 mm: the tests are inside, a model of 40 mm is outside by 23.5 mm."""
    book = window_book()
    window = book.find(device="adult male", test="thorax")
    tests = [recording(CHEST, "mm", -68.0)]
    found = case_windows(load_case, tests, recording("compression", "mm", 40.0), window, book)

    test, model = (_deflection(one) for one in (found.tests[0], found.model))
    assert test.verdict == "inside"
    assert model.outside_by == pytest.approx(-23.5, abs=0.1)


def _deflection(found: Qualification) -> QuantityVerdict:
    return next(one for one in found.verdicts if one.unit == "mm")
