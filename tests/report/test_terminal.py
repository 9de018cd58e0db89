"""Tables and sketches in the terminal."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from rich.console import Console

from correlate import Signal, score_pair
from correlate.report.pair import print_pair, sketch
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from correlate import PairScore

project = project_on_disk


@pytest.fixture
def score() -> PairScore:
    """Rate a pulse against a late, low copy."""
    time = np.arange(600) * 1e-4
    test = 50 * np.sin(np.pi * np.clip((time - 0.01) / 0.03, 0, 1))
    model = 40 * np.sin(np.pi * np.clip((time - 0.012) / 0.03, 0, 1))
    signals = [
        Signal(samples=values, start_s=0.0, step_s=1e-4, unit="g", channel=name)
        for name, values in (("head ax", test), ("head x", model))
    ]
    return score_pair(*signals)


@pytest.mark.parametrize("width", [40, 80, 200])
def test_nothing_is_wider_than_the_terminal(score: PairScore, width: int) -> None:
    """Table and sketch fit the columns there are."""
    text = io.StringIO()
    print_pair(Console(file=text, width=width, highlight=False), score)
    assert max(len(line.rstrip()) for line in text.getvalue().splitlines()) <= width
    assert "model 2 ms late" in text.getvalue()


def test_the_sketch_has_no_colour_and_names_both_curves(score: PairScore) -> None:
    """The sketch can be copied into a mail."""
    drawn = sketch(score, width=90)
    assert "\x1b" not in drawn
    assert "(g)" in drawn
    assert "(ms)" in drawn
    assert "line: test   x: model" in drawn
