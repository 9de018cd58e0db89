"""Predictions of all batches against what came."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.tuning.calibration import kept_predictions, record_of
from correlate.tuning.definition import load_tuning
from correlate.tuning.predicted import Predicted
from correlate.tuning.proposals import RunProposal, add_batch, batch_file
from correlate.tuning.runs import RunRecord, read_state, run_table, write_record
from tests.dashboard.project import write_project
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.calibration import KeptPrediction


def proposal(*values: float, mean: float, half: float) -> RunProposal:
    """Return a proposal that predicts the training rating."""
    return RunProposal(
        point=np.array(values),
        predicted={"train": Predicted(mean=mean, low=mean - half, high=mean + half)},
        best={"train": 0.9},
        chance_of_limits=1.0,
        chance_of_success=1.0,
        reason="a reason",
    )


def propose_and_run(folder: Path, proposals: list[RunProposal], ratings: list[float]) -> None:
    """Add a batch and give its first runs their ratings; the others wait."""
    tuning = load_tuning(folder)
    added = add_batch(tuning, read_state(tuning), proposals)
    for point, rating in zip(added, ratings, strict=False):
        record = RunRecord(
            identity=point.identity,
            values=point.values,
            deck_sha256="0" * 64,
            status="done",
            exit_code=0,
            outcomes={"train": rating},
            rated_by="a rater",
        )
        tuning.run_folder(point.identity).mkdir(parents=True)
        write_record(tuning.run_folder(point.identity), record)


def kept(folder: Path) -> tuple[KeptPrediction, ...]:
    """Return the predictions of a project."""
    tuning = load_tuning(folder)
    state = read_state(tuning)
    return kept_predictions(tuning, state, run_table(tuning, state))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Write a project of one designed round."""
    return write_tuning(write_project(tmp_path / "tuned"))


def test_predictions_of_all_rounds_are_compared(folder: Path) -> None:
    """Two rounds, one run each still waiting: three comparisons, one of them outside by 0.1."""
    first = [proposal(20.0, 1.0, mean=0.8, half=0.05), proposal(30.0, 1.5, mean=0.8, half=0.05)]
    propose_and_run(folder, first, [0.82, 0.7])
    second = [proposal(40.0, 3.0, mean=0.85, half=0.02), proposal(50.0, 3.5, mean=0.9, half=0.02)]
    propose_and_run(folder, second, [0.86])
    found = kept(folder)
    assert [(one.round, one.identity, one.inside) for one in found] == [
        (1, "p013", True),
        (1, "p014", False),
        (2, "p015", True),
    ]
    assert [one.error for one in found] == pytest.approx([0.02, -0.1, 0.01])
    record = record_of(found)
    assert record
    assert (record.runs, record.inside) == (3, 2)
    assert record.mean_error == pytest.approx(-0.07 / 3)
    assert record.root_mean_square_error == pytest.approx(np.sqrt((0.02**2 + 0.1**2 + 0.01**2) / 3))


def test_nothing_proposed_compares_nothing(folder: Path) -> None:
    """A design alone predicted nothing, and a round without kept predictions is passed over."""
    assert kept(folder) == ()
    assert record_of(()) is None
    propose_and_run(folder, [proposal(20.0, 1.0, mean=0.8, half=0.05)], [0.8])
    batch_file(load_tuning(folder), 1).unlink()
    assert kept(folder) == ()


def test_a_torn_batch_is_named(folder: Path) -> None:
    """Half a file is not taken for a batch without predictions."""
    propose_and_run(folder, [proposal(20.0, 1.0, mean=0.8, half=0.05)], [0.8])
    batch_file(load_tuning(folder), 1).write_text("[{", encoding="utf-8")
    with pytest.raises(FormatError, match="is not a batch of proposals"):
        kept(folder)
