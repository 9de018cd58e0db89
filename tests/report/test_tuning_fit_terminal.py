"""Surrogates in the terminal, and which of them are shown unasked."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
from rich.console import Console

from correlate.cli.tune_results import chosen_outcomes
from correlate.report.tuning import print_fit
from correlate.tuning.definition import TuningGoal
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.sensitivity import sensitivities
from correlate.tuning.surrogate import fit_surrogates
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
    assert max(len(line) for line in lines) <= 80


def test_ten_channels_are_shown_unasked() -> None:
    """Training, load cases and the ten channels that differ most; the rest when asked for, spreads never."""
    goal = TuningGoal(train=("push",))
    few = chosen_outcomes(runs(12), goal, every=False)
    largest = [f"channel/push/{number:02d}" for number in range(12, 3, -1)]
    assert few == ["train", "load case/push", LONG, *largest]
    every = chosen_outcomes(runs(12), goal, every=True)
    assert set(every) == set(runs(12).outcomes) - {"spread/push"}
