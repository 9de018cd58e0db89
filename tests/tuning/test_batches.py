"""Batches of proposals: kept with their predictions, and read again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError, SettingsError
from correlate.tuning.predicted import Predicted
from correlate.tuning.proposals import RunProposal, add_batch, batch_file, last_round, read_batch
from correlate.tuning.runs import read_state
from tests.tuning.project import tuning_project

if TYPE_CHECKING:
    from pathlib import Path


def proposal(gain: float) -> RunProposal:
    """Make a proposal."""
    return RunProposal(
        point=np.array([gain, 0.0]),
        predicted={"train": Predicted(mean=0.8, low=0.7, high=0.9)},
        best={"train": 0.75},
        chance_of_limits=0.6,
        chance_of_success=1.0,
        reason="'train' is expected 0.05 above the best run so far",
    )


def test_a_batch_becomes_a_round_of_the_design(tmp_path: Path) -> None:
    """Names go on, values are rounded, and the predictions stay with the rounded values."""
    tuning = tuning_project(tmp_path, [2.0, 3.0])
    added = add_batch(tuning, read_state(tuning), [proposal(4.12345678), proposal(5.0)])
    assert [(one.identity, one.round, one.values["gain"]) for one in added] == [
        ("p002", 1, 4.12346),
        ("p003", 1, 5.0),
    ]
    state = read_state(tuning)
    assert [one.identity for one in state.points] == ["p000", "p001", "p002", "p003"]
    assert last_round(state) == 1
    first, second = read_batch(tuning, 1)
    assert first.point.tolist() == [4.12346, 0.0]
    assert (first.predicted, first.best, first.reason) == (
        proposal(4.0).predicted,
        proposal(4.0).best,
        proposal(4.0).reason,
    )
    assert second.chance_of_limits == 0.6
    assert add_batch(tuning, state, [proposal(6.0)])[0].round == 2


def test_batches_that_are_not_there_or_none_are_refused(tmp_path: Path) -> None:
    """A round that a person added has no predictions; a file that was changed is named."""
    tuning = tuning_project(tmp_path, [2.0])
    with pytest.raises(SettingsError, match="round 1 was not proposed here"):
        read_batch(tuning, 1)
    add_batch(tuning, read_state(tuning), [proposal(4.0)])
    batch_file(tuning, 1).write_text('[{"values": {}}]', encoding="utf-8")
    with pytest.raises(SettingsError, match="'gain' has no value"):
        read_batch(tuning, 1)
    batch_file(tuning, 1).write_text("[", encoding="utf-8")
    with pytest.raises(FormatError, match=r"round-1\.json: is not a batch of proposals"):
        read_batch(tuning, 1)
