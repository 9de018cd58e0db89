"""Whether predictions came true."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.definition import TuningGoal
from correlate.tuning.predicted import Predicted
from correlate.tuning.proposals import RunProposal
from correlate.tuning.release import confirm
from tests.tuning.functions import box, run_table

SPACE = box((0, 1))
GOAL = TuningGoal(train=("a",))
BEFORE = run_table(SPACE, np.array([[0.5], [0.1]]), {"train": np.array([0.5, 0.6])})


def proposal(place: float, mean: float, half: float) -> RunProposal:
    """Return a proposal for one point."""
    return RunProposal(
        point=np.array([place]),
        predicted={"train": Predicted(mean=mean, low=mean - half, high=mean + half)},
        best={"train": 0.6},
        chance_of_limits=1.0,
        chance_of_success=1.0,
        reason="a reason",
    )


BATCH = [proposal(0.2, 0.7, 0.05), proposal(0.3, 0.8, 0.05), proposal(0.4, 0.7, 0.1), proposal(0.6, 0.7, 0.1)]
AFTER = run_table(
    SPACE,
    # The second was rounded on its way through a file.
    np.array([[0.5], [0.1], [0.2], [0.300001], [0.4]]),
    {"train": np.array([0.5, 0.6, 0.72, 0.7, np.nan])},
    status=["done", "done", "done", "done", "failed"],
)


def test_predictions_are_compared_run_by_run() -> None:
    """One inside its interval by 0.02, one outside by 0.1, one failed, one not run: the best rose by 0.12."""
    found = confirm(BEFORE, AFTER, BATCH, GOAL)
    assert [(one.row, one.held) for one in found.of("train")] == [(2, True), (3, False)]
    assert [one.error for one in found.outcomes] == pytest.approx([0.02, -0.1])
    assert found.share_inside("train") == 0.5
    assert found.root_mean_square_error("train") == pytest.approx(np.sqrt((0.02**2 + 0.1**2) / 2))
    assert found.not_done == ((4, "failed"),)
    assert found.waiting == 1
    assert found.gain == pytest.approx(0.12)


def test_the_verdict_is_in_words() -> None:
    """Half of the runs inside is a broken promise, all of them a kept one; nothing run, nothing confirmed."""
    assert "the predictions did not hold: 1 of 2 runs" in confirm(BEFORE, AFTER, BATCH, GOAL).words("train")
    assert "the predictions held: 1 of 1 runs" in confirm(BEFORE, AFTER, BATCH[:1], GOAL).words("train")
    none = confirm(BEFORE, AFTER, BATCH[2:], GOAL)
    assert "nothing is confirmed" in none.words("train")
    assert np.isnan(none.share_inside("train"))
    assert np.isnan(none.root_mean_square_error("train"))


def test_strange_proposals_are_refused() -> None:
    """A batch of which nothing is among the runs confirms nothing."""
    with pytest.raises(SettingsError, match="none of the proposed points is among the runs"):
        confirm(BEFORE, AFTER, BATCH[3:], GOAL)
