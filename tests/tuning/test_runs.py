"""The table of runs."""

from __future__ import annotations

from dataclasses import replace

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


def test_without_a_finished_run_the_runs_are_named_and_not_the_outcome() -> None:
    """Runs that failed have logs to look into; runs that wait are to be made."""
    with pytest.raises(SettingsError, match=r"no run is finished \(1 failed, 1 unstable\); see their run"):
        table(("failed", "unstable", "waiting")).outcome("test")
    with pytest.raises(SettingsError, match=r"no run is finished; run 'correlate tune run'$"):
        table(("waiting",) * 3).outcome("test")


def test_near_names_come_first_then_the_outer_ones() -> None:
    """A misspelt channel is followed by the channel that is meant, then by ratings before details."""
    values = np.array([0.5, np.nan, np.nan])
    names = ("feature/push/force/peak", "train", "held-out", "channel/push/force")
    some = replace(table(), outcomes={name: values.copy() for name in names})
    with pytest.raises(SettingsError, match=r"there are channel/push/force, feature/.*, train, held-out$"):
        some.outcome("channel/push/forse")
    with pytest.raises(SettingsError, match="there are train, held-out, channel/push/force, feature"):
        some.outcome("trains")


def test_names_of_outcomes_go_from_outer_to_inner() -> None:
    """Kind, load case, channel, and what of it."""
    assert outcome_name("feature", "push", "force", "peak") == "feature/push/force/peak"
