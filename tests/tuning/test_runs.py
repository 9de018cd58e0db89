"""The table of runs."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.runs import RunTable, outcome_name

SPACE = ParameterSpace((Parameter(name="a", unit="1", lower=0, upper=1, start=0),))


def table(status: tuple[str, ...] = ("done", "failed", "waiting")) -> RunTable:
    """Make a table of three runs."""
    return RunTable(
        space=SPACE,
        points=np.array([[0.1], [0.2], [0.3]]),
        status=status,
        outcomes={"train": np.array([0.5, np.nan, np.nan])},
        rounds=np.array([0, 0, 1]),
        identities=("x", "y", "z"),
    )


def test_masks_say_which_runs_ended() -> None:
    """A failed run has ended but is not done."""
    assert table().done.tolist() == [True, False, False]
    assert table().ended.tolist() == [True, True, False]


def test_rows_are_selected_by_mask_or_number() -> None:
    """Every column follows."""
    kept = table().select([2, 0])
    assert kept.identities == ("z", "x")
    assert kept.rounds.tolist() == [1, 0]
    assert kept.points.tolist() == [[0.3], [0.1]]
    assert table().select(table().done).identities == ("x",)


def test_the_table_cannot_be_written_to() -> None:
    """Numbers that were rated stay as they are."""
    with pytest.raises(ValueError, match="read-only"):
        table().outcomes["train"][0] = 1.0


def test_what_does_not_belong_together_is_refused() -> None:
    """An unknown status, an unknown outcome, and columns of different lengths."""
    with pytest.raises(SettingsError, match="a run cannot be 'odd'"):
        table(("done", "odd", "waiting"))
    with pytest.raises(SettingsError, match=r"points of shape \(3, 1\) do not fit 2 runs"):
        table(("done", "done"))
    with pytest.raises(SettingsError, match="no run has the outcome 'test'; there are train"):
        table().outcome("test")


def test_names_of_outcomes_go_from_outer_to_inner() -> None:
    """Kind, load case, channel, and what of it."""
    assert outcome_name("feature", "push", "force", "peak") == "feature/push/force/peak"
