"""Surrogates and emulated curves in the terminal."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from rich.console import Console

from correlate.cli.tune_results import changed_values, every_outcome
from correlate.errors import SettingsError
from correlate.metrics.iso18571 import RatingSettings
from correlate.report.tuning import print_curves, print_fit, print_success
from correlate.tuning.emulator import CurveEmulator, fit_channel
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.points import DesignPoint
from correlate.tuning.runs import RunRecord, TuningState
from correlate.tuning.saved_emulator import SavedEmulator
from correlate.tuning.sensitivity import sensitivities
from correlate.tuning.surrogate import fit_surrogates
from correlate.tuning.traces import TraceChannel
from tests.tuning.conftest import one_thread as one_thread_for_all
from tests.tuning.functions import run_table

if TYPE_CHECKING:
    from correlate.tuning.runs import RunTable

one_thread = one_thread_for_all

LONG = "channel/neck-flexion/head resultant acceleration"
PARAMETER = "thorax_foam_densification_strain"
SPACE = ParameterSpace(
    tuple(
        Parameter(name=name, unit="1", lower=0, upper=1, start=0.5) for name in (PARAMETER, "rib_stiffness")
    )
)


def runs(channels: int = 1) -> RunTable:
    """Return eight runs; channel n moves n times as much as the first, one channel never moves."""
    points = np.random.default_rng(4).random((8, 2))
    moving = {f"channel/push/{number:02d}": number * points[:, 0] / 99 for number in range(1, channels + 1)}
    names = ("train", "overall", "load case/push", LONG, "component/push/force/phase", "spread/push")
    return run_table(
        SPACE,
        points,
        {**dict.fromkeys(names, points[:, 0]), "channel/push/still": np.full(8, 0.5), **moving},
    )


def test_no_word_is_broken_at_80_columns() -> None:
    """Long names of outcomes and parameters stay whole."""
    table = runs()
    surrogates = list(fit_surrogates(table, ["train", LONG, "channel/push/still"]).values())
    out = io.StringIO()
    moved = sensitivities([one for one in surrogates if not one.flat], seed=0)
    print_fit(Console(file=out, width=80, highlight=False), surrogates, moved, [])
    lines = out.getvalue().splitlines()
    assert LONG in lines
    assert any(line.startswith(f"  influenced by {PARAMETER} 1.0") for line in lines)
    assert "  the same in every run" in lines
    assert f"{PARAMETER} moves" in lines
    assert lines[lines.index("rib_stiffness moves") + 1] == "  no outcome of 2 by 0.05 or more"
    assert max(len(line) for line in lines) <= 80


def test_a_predicted_point_that_failed_is_said_to() -> None:
    """Of a point that was run its end is told; of another the chance that a run finishes."""
    values = {PARAMETER: 0.2, "rib_stiffness": 0.4}
    record = RunRecord(
        identity="p006",
        values=values,
        deck_sha256="",
        status="failed",
        message="the program ended with exit code 3",
    )
    state = TuningState(
        points=(DesignPoint(identity="p006", round=0, values=values),), records={"p006": record}
    )

    def said(values: dict[str, float], success: float) -> str:
        out = io.StringIO()
        print_success(Console(file=out, width=120, highlight=False), state, values, success)
        return out.getvalue()

    assert said(values, 0.7) == "p006 was run with these values; failed: the program ended with exit code 3\n"
    assert "finishes successfully: 73%" in said({**values, "rib_stiffness": 0.5}, 0.73)
    assert said({**values, "rib_stiffness": 0.5}, 1.0) == ""


def test_everything_but_spreads_can_be_asked_for() -> None:
    """Ratings, components and features; neither spreads nor windows, which nothing is to be predicted of."""
    assert set(every_outcome(runs(12))) == set(runs(12).outcomes) - {"spread/push"}


def test_emulated_curves_are_listed_with_their_trust() -> None:
    """Q² and coverage by channel; a channel that never moves is said to, recorded ones are passed over."""
    time = np.arange(60, dtype=np.float64) * 1e-3
    cube = np.random.default_rng(1).random((9, 2))
    moving = np.sin(60 * time) * (1 + cube[:, :1])
    channels = [
        TraceChannel(load_case="push", channel=name, unit="N", time=time, tests={}, recorded=name == "raw")
        for name in ("force", "still", "raw")
    ]
    curves = (moving, np.tile(np.sin(60 * time), (9, 1)), moving)
    emulator = CurveEmulator(
        channels=tuple(fit_channel(one, cube, known) for one, known in zip(channels, curves, strict=True)),
        rows=np.arange(9),
        cube=cube,
    )
    saved = SavedEmulator(
        emulator=emulator, identities=("p",) * 9, curves=curves, space=SPACE, settings=RatingSettings()
    )
    out = io.StringIO()
    print_curves(Console(file=out, width=80, highlight=False), saved)
    lines = out.getvalue().splitlines()
    assert any(line.startswith("push, force") and "1.00" in line for line in lines)
    assert any("push, still" in line and "the same in every run" in line for line in lines)
    assert "raw" not in out.getvalue()
    out = io.StringIO()
    print_curves(Console(file=out, width=80), replace(saved, refusal="run 'p1': nothing there"))
    assert out.getvalue() == "The curves were not emulated: run 'p1': nothing there\n"


def test_a_parameter_that_is_set_twice_is_refused() -> None:
    """Which of the two values counts is not guessed."""
    with pytest.raises(SettingsError, match="'rib_stiffness' is set twice"):
        changed_values(SPACE, ["rib_stiffness=0.2", "rib_stiffness=0.3"])
